"""The finishing plan by keyboard: an entry refused, finished again and stopped, versions kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from quietleaf.booth.edits import StateSet
from quietleaf.storage.index_rows import reading_row, version_in_use
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from tests.browser.serving import served
from tests.browser.test_pages import overflow_px, tab_to
from tests.browser.test_plan import axe_findings
from tests.repaired import AT, repaired_station

if TYPE_CHECKING:
    from playwright.sync_api import Page

LONGEST_MS = 180_000
"""What is finished is of low priority, and may have to wait for every other test."""


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, ReadingFolder]]:
    """Serve a station with a finished reading that is handed in."""
    with repaired_station(tmp_path_factory.mktemp("station")) as tools:
        folder = find_reading(tools.data, "r7")
        folder.append(StateSet(state="handed in", note=""), author="Desk", at=AT)
        tools.database.index_reading(reading_row(folder))
        with served(tools) as address:
            yield address, folder


def test_a_repair_is_refused_and_the_reading_finished_again(
    page: Page, reading: tuple[str, ReadingFolder]
) -> None:
    address, folder = reading
    page.set_default_timeout(LONGEST_MS)
    page.goto(f"{address}/reading/r7")
    tab_to(page, "What was done, and why")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What was done, and why").wait_for()
    for width in (320, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        for part in ("repairs", "evening", "fit"):
            page.goto(f"{address}/reading/r7/plan?part={part}")
            assert axe_findings(page) == []
            assert overflow_px(page) <= 0
    # Bad input is answered where it was typed; it is still there, and so is the focus.
    page.fill("#length", "abc")
    page.press("#length", "Enter")
    page.locator(".refusal", has_text="this says 'abc'").wait_for()
    assert page.evaluate("[document.activeElement.id, document.activeElement.value]") == [
        *("length", "abc")
    ]
    assert axe_findings(page) == []

    page.goto(f"{address}/reading/r7/plan?part=repairs")
    tab_to(page, "Refuse it Missing or played twice")
    page.keyboard.press("Enter")
    page.get_by_text("One decision waits to be carried out.").wait_for()
    tab_to(page, "Finish it again")
    page.keyboard.press("Enter")
    page.locator("#stop").wait_for()
    assert axe_findings(page) == []
    page.locator("#stop").focus()
    # It is told live; who had the focus on the button finds the way on.
    page.locator("#show-new").wait_for()
    assert page.evaluate("document.activeElement.id") == "show-new"
    assert page.locator("#news").inner_text().startswith("Finished on")
    page.keyboard.press("Enter")
    page.get_by_text("Version 2, made on").first.wait_for()
    assert version_in_use(folder.path) == 2
    page.goto(f"{address}/reading/r7/plan?part=repairs")
    page.get_by_text("Refused, as the desk decided.").wait_for()
    # The earlier version can be heard, and taken into use again.
    tab_to(page, "Use this version Version 1")
    page.keyboard.press("Enter")
    page.get_by_text("Version 3, version 1 again").first.wait_for()
    assert version_in_use(folder.path) == 3


def test_finishing_is_stopped_half_way(page: Page, reading: tuple[str, ReadingFolder]) -> None:
    address, folder = reading
    page.set_default_timeout(LONGEST_MS)
    before = version_in_use(folder.path)
    page.goto(f"{address}/reading/r7/plan")
    page.locator("#finish").press("Enter")
    page.locator("#step", has_text="% of this step").wait_for()
    # Another press meanwhile says that it is under way; so does the day.
    again = page.context.request.post(f"{address}/reading/r7/plan/finish")
    assert (again.status, "being finished already" in again.text()) == (409, True)
    assert "Being finished" in page.context.request.get(f"{address}/").text()
    # A session that ended meanwhile brings no form for signing in into the midst of the page.
    signing_in = {"location": "/sign-in"}
    with page.expect_navigation():
        page.route("**/under-way", lambda route: route.fulfill(status=303, headers=signing_in))
    page.unroute_all()
    page.locator("#stop").press("Enter")
    page.get_by_text("Nothing was changed.").wait_for()
    assert version_in_use(folder.path) == before
    assert not list((folder.path / "masters").glob(".finishing-*"))
