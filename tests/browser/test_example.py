"""The example station's own reading, after the whole job, in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import ReadingRow
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.make_example import make_example
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.finished import EXAMPLE, NOW

if TYPE_CHECKING:
    from playwright.sync_api import Page


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """Where the example is served, and its reading."""

    address: str
    row: ReadingRow


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Example]:
    """Make the example and serve it at 14:20 of its day."""
    data = tmp_path_factory.mktemp("example")
    with Database(database_url(data)) as database:
        tools = Tools(data=data, database=database, clock=lambda: NOW)
        for _ in make_example(EXAMPLE, FinishProgramme(source=""), tools):
            pass
        (row,) = database.readings()
        with served(tools) as address:
            yield Example(address=address, row=row)


def length_s(example: Example) -> float:
    """Give the length of the master, as it was measured."""
    (report,) = (made for made in example.row.masters if made.kind == "report")
    return float(report.facts["duration_s"])


def test_the_day_leads_to_the_reading_and_its_player_knows_the_length(
    page: Page, example: Example
) -> None:
    page.goto(example.address)
    page.get_by_role("region", name="Today").get_by_role("link", name="Marrowby in Five").click()
    page.wait_for_url(f"**/reading/{example.row.reading_id}")
    page.locator("audio").evaluate(
        "player => new Promise(done => player.readyState >= 1 ? done() :"
        " player.addEventListener('loadedmetadata', () => done(), {once: true}))"
    )
    # The MP3 begins with its encoder's delay of some 1,100 samples, which a player may keep.
    assert page.locator("audio").evaluate("player => player.duration") == pytest.approx(
        length_s(example), abs=0.1
    )


def test_every_article_is_listed_and_plays_from_its_start(page: Page, example: Example) -> None:
    page.goto(f"{example.address}/reading/{example.row.reading_id}")
    links = page.locator(".article h3 a").all()
    assert len(links) == 1 + 5  # what comes before the first article has a heading too
    links[2].click()
    starts_s = float(links[2].get_attribute("data-play-s") or "nan")
    heard_s = page.locator("audio").evaluate(
        "player => new Promise(done => player.addEventListener('timeupdate',"
        " () => done(player.currentTime), {once: true}))"
    )
    assert starts_s <= heard_s < starts_s + 5.0


@pytest.mark.parametrize("width", [1280, 320])
def test_the_pages_of_the_real_reading_fit(page: Page, example: Example, width: int) -> None:
    at = f"{example.address}/reading/{example.row.reading_id}"
    page.set_viewport_size({"width": width, "height": 800})
    for address in (example.address, at, f"{at}/files/report.html"):
        page.goto(address)
        assert page.get_by_role("heading", name="Marrowby in Five").first.is_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_full_report_plays_its_sibling(page: Page, example: Example) -> None:
    page.goto(f"{example.address}/reading/{example.row.reading_id}")
    page.get_by_role("link", name="The full report").click()
    page.wait_for_url("**/files/report.html")
    told = page.locator("audio").last.evaluate(
        "player => new Promise(done => player.readyState >= 1 ? done(player.duration) :"
        " player.addEventListener('loadedmetadata', () => done(player.duration), {once: true}))"
    )
    assert told == pytest.approx(length_s(example), abs=0.1)
