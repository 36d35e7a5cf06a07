"""The report in a real browser: as axe, a narrow screen, the keyboard and a printer have it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from quietleaf.delivery.id3 import Tags
from quietleaf.delivery.report import report_html
from quietleaf.storage.mp3_encoder import Mp3Encoder
from quietleaf.storage.report_faces import report_faces
from tests.report_facts import report_facts

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A report beside the MP3 that it plays: 200 s of silence."""
    facts = report_facts()
    folder = tmp_path_factory.mktemp("report")
    with Mp3Encoder(folder / facts.player, 48_000, kbps=32, quality=9) as encoder:
        encoder.write(np.zeros(200 * 48_000))
        encoder.commit(Tags(title=facts.title))
    path = folder / "report.html"
    path.write_text(report_html(facts, report_faces()), encoding="utf-8")
    return path


LOOKS: list[dict[str, Any]] = [
    {"color_scheme": "light"},
    {"color_scheme": "dark"},
    {"color_scheme": "light", "contrast": "more"},
    {"color_scheme": "dark", "contrast": "more"},
    {"color_scheme": "dark", "forced_colors": "active"},
]


@pytest.fixture(params=LOOKS, ids=lambda look: " ".join(look.values()))
def look(browser: Browser, request: pytest.FixtureRequest, report: Path) -> Iterator[Page]:
    """The report as a person likes to see it."""
    context = browser.new_context(viewport={"width": 1280, "height": 800}, **request.param)
    page = context.new_page()
    page.goto(report.as_uri())
    yield page
    context.close()


def open_all(page: Page) -> None:
    """Open every disclosure."""
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")


def violations(page: Page) -> list[tuple[str, str]]:
    """What axe finds, at levels A and AA and of good practice."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [(rule["id"], node["html"][:90]) for rule in found for node in rule["nodes"]]


@pytest.mark.parametrize("width", [1280, 320])
def test_axe_finds_nothing(look: Page, width: int) -> None:
    look.set_viewport_size({"width": width, "height": 800})
    open_all(look)
    assert violations(look) == []


@pytest.mark.parametrize("width", [320, 400, 545, 768, 1280])
def test_nothing_scrolls_sideways(page: Page, report: Path, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(report.as_uri())
    open_all(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_wider_text_still_fits(page: Page, report: Path) -> None:
    """WCAG 2.2, 1.4.12, on the narrowest screen."""
    page.set_viewport_size({"width": 320, "height": 800})
    page.goto(report.as_uri())
    open_all(page)
    page.add_style_tag(
        content="*{line-height:1.5!important;letter-spacing:.12em!important;"
        "word-spacing:.16em!important}p{margin-bottom:2em!important}"
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


def test_no_text_is_smaller_than_16_px(page: Page, report: Path) -> None:
    page.goto(report.as_uri())
    open_all(page)
    smallest = page.evaluate(
        """() => Math.min(...[...document.body.querySelectorAll('*')]
            .filter(part => [...part.childNodes].some(
                node => node.nodeType === Node.TEXT_NODE && node.textContent.trim()))
            .map(part => parseFloat(getComputedStyle(part).fontSize)))"""
    )
    assert smallest >= 16.0


def test_its_own_type_is_used_and_nothing_is_asked_of_anybody(page: Page, report: Path) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url.split("#")[0]))
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    page.goto(report.as_uri())
    page.evaluate("document.fonts.ready")
    assert page.evaluate("document.fonts.check('18px \"EB Garamond\"')")
    assert page.evaluate("[...document.fonts].every(face => face.status === 'loaded')")
    beside = report.parent.as_uri()
    assert all(url.startswith((beside, "data:")) for url in asked)
    assert told == []


def test_everything_is_reached_by_keyboard_and_seen_when_reached(page: Page, report: Path) -> None:
    page.goto(report.as_uri())
    reached = []
    for _ in range(40):
        page.keyboard.press("Tab")
        place = page.evaluate(
            """() => {
                const part = document.activeElement
                const style = getComputedStyle(part)
                const name = part.textContent.replace(/\\s+/g, ' ').trim()
                return [part.localName, name, style.outlineStyle, parseFloat(style.outlineWidth)]
            }"""
        )
        if place[0] == "body":
            break
        reached.append(place)
    names = [place[1] for place in reached if place[0] != "audio"]
    assert names == [
        "The same in numbers, minute by minute",
        "The picture of what came in",
        "Hear it: Read twice at 3:12 to 3:14",
        "Hear it: Paper at 11:40 to 11:41",
        "Hear it: Too loud for the recording at 22:05",
        "One note for the record",
        "The repairs in pictures, before and after",
        "0:00",
        "0:21",
        "7:48",
        "15:02",
        "Master, Broadcast Wave, 24 bits",
        "Master, MP3, 64 kbit/s",
        "Finishing plan",
    ]
    assert all(place[2] == "solid" and place[3] >= 2 for place in reached if place[0] != "audio")


def test_a_thing_is_heard_from_a_little_before_it(page: Page, report: Path) -> None:
    page.goto(report.as_uri())
    page.get_by_text("Hear it: Read twice").focus()
    page.keyboard.press("Enter")
    player = page.get_by_label("Read twice at 3:12 to 3:14")
    player.wait_for(state="visible")
    # The place that the address names is taken when the sound is loaded.
    at_s, length_s = player.evaluate(
        """part => new Promise(resolve => {
            part.addEventListener('seeked', () => resolve([part.currentTime, part.duration]))
            part.preload = 'auto'
            part.load()
        })"""
    )
    assert at_s == pytest.approx(189.0, abs=0.05)
    assert length_s == pytest.approx(200.0, abs=0.05)


def test_picture_has_a_name_and_a_text_twin(page: Page, report: Path) -> None:
    page.goto(report.as_uri())
    picture = page.get_by_role("img", name="Loudness over time: the master")
    assert picture.count() == 1
    twin = page.get_by_text("The same in numbers, minute by minute")
    twin.click()
    rows = page.get_by_role("table", name="Loudness of each minute").get_by_role("row")
    # A head, and the 59 minutes of what came in.
    assert rows.count() == 60


def test_rows_stay_rows_on_a_narrow_screen(page: Page, report: Path) -> None:
    page.set_viewport_size({"width": 320, "height": 800})
    page.goto(report.as_uri())
    table = page.get_by_role("table", name="Numbers against their targets")
    assert table.get_by_role("row").count() == 6
    assert table.get_by_role("rowheader", name="True peak").count() == 1


def test_print_is_dark_on_light_and_shows_what_is_folded(browser: Browser, report: Path) -> None:
    context = browser.new_context(color_scheme="dark")
    page = context.new_page()
    page.goto(report.as_uri())
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(29, 27, 22)"
    assert page.locator(".twin").is_visible()
    assert not page.locator("audio").first.is_visible()
    context.close()
