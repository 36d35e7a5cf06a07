"""The station's pages in a real browser: by keyboard, by axe, on a narrow screen, enlarged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from quietleaf.work.messages import tell_desk
from quietleaf.work.sit_down import Sitting
from tests.browser.serving import served
from tests.finished import (
    REPORT,
    SOUND_S,
    bring_reading,
    finish_reading,
    finished_station,
    other_reading,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PATHS = ["/", "/reading/k3f9", "/reading/c9", "/day/2026-11-23", "/nothing"]
_RARER: list[Any] = [
    {"color_scheme": "light", "contrast": "more"},
    {"color_scheme": "dark", "contrast": "more"},
    {"color_scheme": "light", "forced_colors": "active"},
    {"color_scheme": "dark", "forced_colors": "active"},
]
LOOKS: list[Any] = [
    {"color_scheme": "light"},
    {"color_scheme": "dark"},
    *(pytest.param(look, marks=pytest.mark.long) for look in _RARER),
]
"""Those with more contrast and the system's colours are left to the long tests: at each `make test`
the stand, the room check, handing in and the report have them."""
LOOKS_AT_MANY: list[Any] = [
    LOOKS[0],
    *(pytest.param(look, marks=pytest.mark.long) for look in [LOOKS[1], *_RARER]),
]
"""Where many pages are looked at."""


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder for a station."""
    return tmp_path_factory.mktemp("station")


@pytest.fixture(scope="module")
def station(data: Path) -> Iterator[str]:
    """Serve the example at 14:20 of its day, with readings that have got to different places."""
    tools = finished_station(data)
    with tools.database, served(tools) as address:
        ready = replace(REPORT, grounds=(), findings=())
        finish_reading(tools, bring_reading(tools, other_reading("long-shelf", "a7")), ready)
        long = bring_reading(tools, other_reading("letters-to-the-editor", "b8"))
        finish_reading(tools, long, ready, misfit_s=184.0)
        bring_reading(tools, other_reading("courier-hour", "c9"))
        yield address


def open_all(page: Page) -> None:
    """Open every disclosure."""
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")


def overflow_px(page: Page) -> int:
    """Give by how much the page is wider than its window."""
    width: int = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return width


def focused(page: Page) -> str:
    """Name what has the focus."""
    name: str = page.evaluate(
        """() => {
            const part = document.activeElement
            return part.getAttribute('aria-label')
                ?? part.textContent.replace(/\\s+/g, ' ').trim()
        }"""
    )
    return name


def until(page: Page, holds: str) -> None:
    """Wait until an expression holds; Playwright's own way needs what the pages' policy forbids."""
    looking = f"const holds = () => {holds}"
    page.evaluate(
        f"() => {{ {looking}"
        """
            return new Promise((done, late) => {
                const end = performance.now() + 30_000
                const look = () => {
                    if (holds()) done()
                    else if (performance.now() > end) late(new Error('it never held'))
                    else requestAnimationFrame(look)
                }
                look()
            })
        }"""
    )


def tab_to(page: Page, name: str) -> None:
    """Press Tab until something of that name has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if focused(page).startswith(name):
            return
    raise AssertionError(f"no Tab reaches {name!r}")


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("look", LOOKS, ids=lambda look: " ".join(look.values()))
def test_axe_finds_nothing(browser: Browser, station: str, path: str, look: dict[str, Any]) -> None:
    from axe_playwright_python.sync_playwright import Axe

    # axe is a script of the tests; the pages' own policy would keep it out.
    context = browser.new_context(bypass_csp=True, **look)
    page = context.new_page()
    for width in (1280, 320):
        page.set_viewport_size({"width": width, "height": 800})
        page.goto(station + path)
        open_all(page)
        found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
        assert [(rule["id"], node["html"]) for rule in found for node in rule["nodes"]] == []
    context.close()


@pytest.mark.parametrize("path", PATHS)
def test_nothing_scrolls_sideways(browser: Browser, station: str, path: str) -> None:
    # 640 is 1280 at 200 % (WCAG 2.2, 1.4.4); 320 is 1280 at 400 % (1.4.10).
    for width, scale in ((1280, 1), (640, 2), (320, 4), (433, 1), (900, 1)):
        context = browser.new_context(
            viewport={"width": width, "height": 600}, device_scale_factor=scale
        )
        page = context.new_page()
        page.goto(station + path)
        open_all(page)
        assert overflow_px(page) == 0, width
        context.close()


@pytest.mark.parametrize("path", PATHS)
def test_everything_grows_with_the_browsers_own_size_of_type(
    page: Page, station: str, path: str
) -> None:
    page.goto(station + path)
    before = page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)")
    page.context.new_cdp_session(page).send("Page.setFontSizes", {"fontSizes": {"standard": 32}})
    until(page, f"parseFloat(getComputedStyle(document.body).fontSize) === {2 * before}")
    assert before == 18
    open_all(page)
    assert overflow_px(page) == 0
    page.set_viewport_size({"width": 640, "height": 600})
    assert overflow_px(page) == 0


@pytest.mark.parametrize("path", PATHS)
def test_wider_set_text_still_fits(browser: Browser, station: str, path: str) -> None:
    # WCAG 2.2, 1.4.12: line height 1.5, paragraphs 2, letters 0.12, words 0.16 of the size.
    context = browser.new_context(bypass_csp=True, viewport={"width": 320, "height": 600})
    page = context.new_page()
    page.goto(station + path)
    page.add_style_tag(
        content="* { line-height: 1.5 !important; letter-spacing: 0.12em !important; "
        "word-spacing: 0.16em !important } p { margin-bottom: 2em !important }"
    )
    open_all(page)
    assert overflow_px(page) == 0
    context.close()


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("width", [1280, 320])
def test_no_text_is_small_and_no_target_is_low(
    page: Page, station: str, path: str, width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(station + path)
    open_all(page)
    smallest = page.evaluate(
        """() => Math.min(...[...document.body.querySelectorAll('*')]
            .filter(part => [...part.childNodes].some(
                node => node.nodeType === Node.TEXT_NODE && node.textContent.trim()))
            .map(part => parseFloat(getComputedStyle(part).fontSize)))"""
    )
    assert smallest >= 16
    low = page.evaluate(
        """() => [...document.querySelectorAll(
                'main a, header a, main button, summary, audio[controls]')]
            .filter(part => part.getBoundingClientRect().height < 32)
            .map(part => part.outerHTML)"""
    )
    assert low == []


def test_the_day_can_be_walked_and_a_reading_heard_by_keyboard_alone(
    page: Page, station: str
) -> None:
    page.goto(station)
    page.keyboard.press("Tab")
    assert focused(page) == "Skip to the page"
    assert page.locator(".skip").bounding_box()["y"] >= 0  # type: ignore[index]  # it is seen
    page.keyboard.press("Enter")
    until(page, "document.activeElement.id === 'page'")

    tab_to(page, "Hear them in Marrowby in Five")
    page.keyboard.press("Enter")
    page.wait_for_url("**/reading/k3f9")

    until(page, "document.querySelector('#player').readyState >= 1")
    tab_to(page, "Play")
    page.keyboard.press("Space")
    until(page, "!document.querySelector('#player').paused")
    assert focused(page).startswith("Pause")
    page.keyboard.press("Space")
    until(page, "document.querySelector('#player').paused")

    tab_to(page, "Hear it H Paper")
    page.keyboard.press("Enter")
    until(page, "!document.querySelector('#player').paused")
    until(page, "document.querySelector('#player').currentTime > 6.2")
    assert page.evaluate("document.querySelector('#player').currentTime") < SOUND_S
    assert page.url.endswith("/reading/k3f9")

    tab_to(page, "The full report")
    page.keyboard.press("Enter")
    page.wait_for_url("**/files/report.html")


def test_what_is_reached_by_keyboard_is_seen(page: Page, station: str) -> None:
    for path in ("/", "/reading/k3f9"):
        page.goto(station + path)
        reached = 0
        for _ in range(60):
            page.keyboard.press("Tab")
            tag, style, width_px = page.evaluate(
                """() => {
                    const style = getComputedStyle(document.activeElement)
                    return [document.activeElement.localName, style.outlineStyle,
                            parseFloat(style.outlineWidth)]
                }"""
            )
            if tag == "body":
                break
            assert (style, width_px) == ("solid", 3), focused(page)
            reached += 1
        assert reached >= 8


def test_the_player_knows_its_length_and_plays(page: Page, station: str) -> None:
    page.goto(station + "/reading/k3f9")
    until(page, "document.querySelector('#player').readyState >= 1")
    assert page.evaluate("document.querySelector('#player').duration") == pytest.approx(
        SOUND_S, abs=0.1
    )
    page.evaluate("document.querySelector('#player').play()")
    until(page, "document.querySelector('#player').currentTime > 0.3")
    assert page.evaluate("document.querySelector('#player').error") is None


@pytest.mark.parametrize("name", ["marrowby.wav", "marrowby.mp3", "plan.json"])
def test_a_download_is_byte_for_byte_what_was_made(
    page: Page, station: str, data: Path, tmp_path: Path, name: str
) -> None:
    page.goto(station + "/reading/k3f9")
    with page.expect_download() as started:
        page.locator(f"a[href$='{name}?keep']").click()
    download = started.value
    assert download.suggested_filename == name
    download.save_as(tmp_path / name)
    (made,) = data.glob(f"readings/marrowby-in-five/*/masters/{name}")
    assert (tmp_path / name).read_bytes() == made.read_bytes()


def test_the_report_plays_under_its_own_policy(page: Page, station: str) -> None:
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    page.goto(station + "/reading/k3f9/files/report.html")
    until(page, "document.querySelector('audio').readyState >= 1")
    assert page.evaluate("getComputedStyle(document.querySelector('p')).marginTop") == "0px"
    assert told == []


def test_pages_keep_to_their_policy_and_ask_nobody_else(page: Page, station: str) -> None:
    told: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    page.on("request", lambda request: asked.append(request.url))
    for path in ("/", "/reading/k3f9"):
        page.goto(station + path)
        page.evaluate("document.fonts.ready")
        assert page.evaluate("document.fonts.check('18px \"EB Garamond\"')")
        assert page.evaluate("document.fonts.check('bold 18px \"Atkinson Hyperlegible Next\"')")
    assert told == []
    assert all(url.startswith(station) for url in asked)


def test_without_script_a_thing_to_hear_opens_at_its_place(page: Page, station: str) -> None:
    page.route("**/*.js", lambda route: route.abort())
    page.goto(station + "/reading/k3f9")
    page.get_by_role("link", name="Hear it Read twice at 0:06 to 0:08").click()
    page.wait_for_url("**/reading/k3f9/files/marrowby.mp3#t=4.0,9.8")


def test_the_present_time_lies_between_what_has_begun_and_what_has_not(
    page: Page, station: str
) -> None:
    page.goto(station)
    heights = page.evaluate(
        """() => {
            const top = part => part.getBoundingClientRect().top
            const slots = [...document.querySelectorAll('.slot')]
            const name = slot => slot.querySelector('h3').textContent
            const of = title => top(slots.find(slot => name(slot) === title))
            return [of('The Long Shelf'), top(document.querySelector('.now')),
                    of('Letters to the Editor')]
        }"""
    )
    assert heights == sorted(heights)


def test_a_live_board_moves_nothing_under_the_hand_and_tells_what_is_new(
    page: Page, tmp_path: Path
) -> None:
    tools = finished_station(tmp_path)
    with tools.database, served(tools) as address:
        page.goto(address)
        link = page.get_by_role("link", name="Hear them in Marrowby in Five")
        link.focus()
        link.hover()
        page.evaluate("document.querySelector('#slot-field-and-lane-25-17-00').kept = true")
        before = link.evaluate("part => part.getBoundingClientRect().top")
        ada = Sitting(reader="Ada Fenwick", booth="booth-2", reading=None, practice=False, token="")
        tell_desk("help", ada, tools, assignment_key="courier-hour-2026-11-25")
        # It looks every few seconds, and at once when the page is seen again.
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        page.locator("#told").wait_for()
        status = page.get_by_role("status")
        assert status.text_content() == "Booth 2 asks for help. Ada Fenwick, The Courier Hour."
        after = link.evaluate("part => part.getBoundingClientRect().top")
        assert after == pytest.approx(before, abs=0.5)  # a browser scrolls by whole pixels
        assert focused(page).startswith("Hear them")
        # What did not change is the very same part of the page.
        assert page.evaluate("document.querySelector('#slot-field-and-lane-25-17-00').kept")
        asks = page.get_by_role("link", name="Asks for help : Ada Fenwick, The Courier Hour.")
        asks.press("Enter")
        assert page.evaluate("location.hash.startsWith('#message-')")


def test_motion_is_not_used(page: Page, station: str) -> None:
    page.goto(station)
    moving = page.evaluate(
        """() => [...document.querySelectorAll('*')].filter(part => {
            const style = getComputedStyle(part)
            return style.animationName !== 'none' || style.transitionDuration !== '0s'
        }).length"""
    )
    assert moving == 0


def test_a_screen_reader_hears_the_day_in_order(page: Page, station: str) -> None:
    page.goto(station)
    # A pin: heard and found good; it must not change by accident.
    pinned = Path(__file__).with_name("day-as-heard.txt").read_text(encoding="utf-8")
    assert page.locator("main").aria_snapshot() == pinned.rstrip("\n")
