"""Handing in, the receipt and practice in a real browser: by keyboard, by axe, narrow, enlarged."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from quietleaf.booth.reading import HandIn
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.web import coming_pages
from quietleaf.work.hand_in import hand_in
from quietleaf.work.hear_reading import hear_reading
from quietleaf.work.practice import begin_practice
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.finished import example_station
from tests.handing_in import LEFT, add_take, booth_reading, flip_bit, request_of, sit
from tests.waiting import wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

LOOKS: list[dict[str, Any]] = [
    {"color_scheme": "light"},
    {"color_scheme": "dark"},
    {"color_scheme": "light", "contrast": "more"},
    {"color_scheme": "dark", "forced_colors": "active"},
]
WIDTHS = ((1280, 1), (640, 2), (320, 4))
"""WCAG 2.2: 640 is 1280 at 200 % (1.4.4), 320 is 1280 at 400 % (1.4.10)."""
LONG = "Wörterbuchseitenumbruch" * 12


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


@pytest.fixture
def station(tools: Tools) -> Iterator[str]:
    """Serve that station."""
    with served(tools) as address:
        yield address


def sit_down(page: Page, address: str, secret: str) -> None:
    """Give a browser its sitting."""
    page.context.add_cookies(
        [{"name": coming_pages.SITTING_COOKIE, "value": secret, "url": address}]
    )


def practising(tools: Tools, page: Page, address: str, takes: int = 2) -> ReadingFolder:
    """Let a browser sit before a practice reading."""
    folder = begin_practice("practice", tools)
    for number in range(takes):
        add_take(folder, 1.5, seed=number)
    sit_down(page, address, sit(tools, f"practice:{folder.facts.reading_id}", "A visitor"))
    return folder


def handed_in(tools: Tools, heard: bool = True, left: HandIn = LEFT) -> str:
    """Give the sitting that a reading was handed in from."""
    folder = booth_reading(tools, seconds=3.0)
    add_take(folder)
    secret = sit(tools, "readings:t5")
    hand_in(request_of(folder, secret, left), tools)
    if heard:
        hear_reading(folder.reload())
    return secret


def open_state(tools: Tools, page: Page, address: str, state: str) -> None:
    """Open a page in one of its states."""
    match state:
        case "hand-in":
            booth_reading(tools, "long-shelf", part=9)
            sit_down(page, address, sit(tools, "readings:t5"))
            page.goto(f"{address}/stand/hand-in")
        case "refused":
            folder = booth_reading(tools)
            add_take(folder, seal=False)
            sit_down(page, address, sit(tools, "readings:t5"))
            page.goto(f"{address}/stand/hand-in")
            page.get_by_role("button", name="Hand it in").click()
            page.get_by_role("alert").wait_for()
        case "receipt":
            left = HandIn(
                place_page=LONG[:40],
                place_headline=LONG,
                recap=f"{LONG}\n{LONG}",
                remark="مرحبا 👩‍🦯",
                tidied=("The paper is back in the tray",),
            )
            sit_down(page, address, handed_in(tools, left=left))
            page.goto(f"{address}/stand/receipt")
        case "practice":
            page.goto(f"{address}/practice")
        case "feedback":
            hear_reading(practising(tools, page, address))
            page.goto(f"{address}/practice/feedback")
        case "nothing":
            practising(tools, page, address, takes=0)
            page.goto(f"{address}/practice/feedback")
        case "gone":
            page.goto(f"{address}/practice/gone")


STATES = ["hand-in", "refused", "receipt", "practice", "feedback", "nothing", "gone"]


@pytest.mark.parametrize("state", STATES)
def test_axe_finds_nothing_in_any_look(
    browser: Browser, tools: Tools, station: str, state: str
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    # axe is a script of the tests; the pages' own policy would keep it out.
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    open_state(tools, page, station, state)
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
    for look in LOOKS:
        page.emulate_media(
            color_scheme=look["color_scheme"],
            contrast=look.get("contrast", "no-preference"),
            forced_colors=look.get("forced_colors", "none"),
        )
        for width in (1280, 320):
            page.set_viewport_size({"width": width, "height": 800})
            found = Axe().run(page, options={"resultTypes": ["violations"]}).response
            rules = [
                (rule["id"], node["html"]) for rule in found["violations"] for node in rule["nodes"]
            ]
            assert rules == [], look
    context.close()


@pytest.mark.parametrize("state", STATES)
def test_nothing_scrolls_sideways_nothing_is_small(
    browser: Browser, tools: Tools, station: str, state: str
) -> None:
    page = browser.new_context().new_page()
    open_state(tools, page, station, state)
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
    for width, _ in WIDTHS:
        page.set_viewport_size({"width": width, "height": 600})
        over_px = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert over_px == 0, width
        smallest_px = page.evaluate(
            """() => Math.min(...[...document.body.querySelectorAll('*')]
                .filter(part => [...part.childNodes].some(
                    node => node.nodeType === Node.TEXT_NODE && node.textContent.trim()))
                .map(part => parseFloat(getComputedStyle(part).fontSize)))"""
        )
        assert smallest_px >= 16
        low = page.evaluate(
            """() => [...document.querySelectorAll(
                'main button, main a.button, main input:not([type]), .choices label, summary')]
                .filter(part => part.checkVisibility() && part.getBoundingClientRect().height < 64)
                .map(part => part.outerHTML)"""
        )
        assert low == [], width
    page.context.close()


def test_a_reading_is_handed_in_by_keyboard_alone(page: Page, tools: Tools, station: str) -> None:
    folder = booth_reading(tools, "long-shelf", part=9)
    sit_down(page, station, sit(tools, "readings:t5"))
    page.goto(f"{station}/stand/hand-in")
    page.locator("main").focus()
    for typed in ("112", "She turned the key", "Nessa found the lantern.\nIt was lit.", "ok"):
        page.keyboard.press("Tab")
        page.keyboard.type(typed)
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    for _ in range(3):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/stand/receipt")
    assert page.locator("h1").inner_text() == "Thank you, Tomas Vale."
    row = tools.database.reading("t5")
    assert row.hand_in == HandIn(
        place_page="112",
        place_headline="She turned the key",
        recap="Nessa found the lantern.\nIt was lit.",
        remark="ok",
        tidied=("The paper is back in the tray",),
    )
    assert folder.reload().state == "handed in"
    page.locator("#verdict", has_text="It was heard").or_(
        page.locator("#verdict", has_text="It did not come across")
    ).wait_for(timeout=60_000)
    assert page.locator("#progress").count() == 0
    # Whoever goes back to the form is led to the receipt.
    page.goto(f"{station}/stand/hand-in")
    page.wait_for_url("**/stand/receipt*")


def test_what_was_typed_outlives_a_refusal_and_a_look_back(
    page: Page, tools: Tools, station: str
) -> None:
    folder = booth_reading(tools)
    add_take(folder, 2.0, seal=False)
    sit_down(page, station, sit(tools, "readings:t5"))
    page.goto(f"{station}/stand/hand-in")
    odd = "“Zoë” <b>& 👩‍🦯 مرحبا\nsecond line"
    page.get_by_label("Anything the desk should know?").fill(odd)
    page.get_by_label("The headphones hang on their hook").check()
    page.get_by_role("button", name="Hand it in").click()
    alert = page.get_by_role("alert")
    assert "Take 2 has not come to its end yet: the station has 2 seconds" in alert.inner_text()
    assert page.evaluate("document.activeElement.id") == "refusal"
    assert page.get_by_label("Anything the desk should know?").input_value() == odd
    assert page.get_by_label("The headphones hang on their hook").is_checked()
    # Back to reading, and forward again: a draft is kept in this tab.
    page.goto(f"{station}/practice")
    page.goto(f"{station}/stand/hand-in")
    assert page.get_by_label("Anything the desk should know?").input_value() == odd
    page.get_by_role("button", name="Hand it in").click()
    page.get_by_role("button", name="Hand in what the station has").click()
    page.wait_for_url("**/stand/receipt")
    assert tools.database.reading("t5").hand_in == HandIn(remark=odd)
    assert page.evaluate("sessionStorage.length") == 0


def test_a_field_that_is_too_long_is_refused_there(page: Page, tools: Tools, station: str) -> None:
    booth_reading(tools)
    sit_down(page, station, sit(tools, "readings:t5"))
    page.goto(f"{station}/stand/hand-in")
    page.evaluate("document.querySelectorAll('[maxlength]').forEach(f => { f.maxLength = 9999 })")
    page.get_by_label("Headline").fill("x" * 301)
    page.get_by_label("Page").fill("7")
    page.get_by_role("button", name="Hand it in").click()
    field = page.get_by_label("Headline")
    page.get_by_role("alert").wait_for()
    assert field.get_attribute("aria-invalid") == "true"
    assert page.evaluate("document.activeElement.id") == "place_headline"
    described = field.get_attribute("aria-describedby") or ""
    assert "at most 300 letters; 301 came" in page.locator(f"#{described}").inner_text()
    assert page.get_by_label("Page").input_value() == "7"


def test_the_page_says_when_the_copy_is_whole(page: Page, tools: Tools, station: str) -> None:
    folder = booth_reading(tools)
    writer = folder.roll(48_000, author="Tomas Vale", at=tools.clock())
    sit_down(page, station, sit(tools, "readings:t5"))
    page.goto(f"{station}/stand/hand-in")
    page.get_by_text("Take 2 has not come to its end there yet.").wait_for()
    writer.append(bytes(3 * 48_000))
    folder.seal(writer, origin="a test", author="Tomas Vale", at=tools.clock())
    page.get_by_text("The station has 2 seconds, in two takes, all complete.").wait_for()
    assert page.locator("#copy-said").inner_text() == "The station has all of your reading."


def test_without_a_script_everything_works(browser: Browser, tools: Tools, station: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    booth_reading(tools)
    sit_down(page, station, sit(tools, "readings:t5"))
    page.goto(f"{station}/stand/hand-in")
    page.get_by_role("button", name="Hand it in").click()
    page.wait_for_url("**/stand/receipt")
    look = page.get_by_role("link", name="See how far it is")
    wait_for(lambda: tools.database.reading("t5").state == "handed in")

    def heard() -> bool:
        if look.count():
            look.click()
        return "The station is listening" not in page.locator("#verdict").inner_text()

    wait_for(heard)
    context.close()


def test_damage_on_the_disk_is_said(page: Page, tools: Tools, station: str) -> None:
    folder = booth_reading(tools)
    add_take(folder)
    flip_bit(folder.take_path(2))
    tools.database.index_reading(reading_row(folder))
    sit_down(page, station, sit(tools, "readings:t5"))
    page.goto(f"{station}/stand/hand-in")
    page.get_by_role("button", name="Hand it in").click()
    assert "The desk has been told" in page.get_by_role("alert").inner_text()
    assert page.get_by_role("button", name="Hand in what the station has").count() == 0


def test_a_practice_is_heard_played_and_gone(page: Page, tools: Tools, station: str) -> None:
    folder = practising(tools, page, station)
    page.goto(f"{station}/stand/hand-in")
    page.wait_for_url("**/practice/feedback")
    assert page.get_by_text("You read for 3 seconds.").is_visible()
    page.get_by_text("You held once and went on.").wait_for()
    page.locator("#verdict", has_text="You were heard").wait_for(timeout=60_000)
    length_s = page.evaluate(
        """() => new Promise((done, fail) => {
            const player = document.querySelector('audio')
            player.onloadedmetadata = () => done(player.duration)
            player.onerror = () => fail(new Error('it does not play'))
            player.load()
            player.preload = 'metadata'
        })"""
    )
    assert length_s == pytest.approx(3.0, abs=0.01)
    page.get_by_role("button", name="Delete it and leave").press("Enter")
    page.wait_for_url("**/practice/gone")
    assert not folder.path.exists()
    assert tools.database.readings() == ()


def test_closing_the_page_deletes_it_and_going_on_does_not(
    browser: Browser, tools: Tools, station: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from quietleaf.web import practice_pages

    context = browser.new_context()
    page = context.new_page()
    folder = practising(tools, page, station)
    page.goto(f"{station}/practice/feedback")
    with page.expect_response("**/practice/here") as told:
        page.reload()
    assert told.value.status == 204
    assert folder.path.exists()
    monkeypatch.setattr(practice_pages, "GRACE_S", 0.0)
    page.close(run_before_unload=False)
    wait_for(lambda: not folder.path.exists())
    context.close()


def test_what_the_browser_kept_of_practice_goes_too(page: Page, station: str) -> None:
    page.goto(f"{station}/trust")
    page.evaluate(
        """async () => {
            const root = await navigator.storage.getDirectory()
            const journals = await root.getDirectoryHandle('journals', { create: true })
            for (const [name, place] of [['a', 'practice:x'], ['b', 'readings:x']]) {
                const folder = await journals.getDirectoryHandle(name, { create: true })
                const about = await folder.getFileHandle('about.json', { create: true })
                const file = await about.createWritable()
                await file.write(JSON.stringify({ place }))
                await file.close()
            }
        }"""
    )
    page.goto(f"{station}/practice")
    kept = """async () => {
        const root = await navigator.storage.getDirectory()
        const journals = await root.getDirectoryHandle('journals')
        const names = []
        for await (const name of journals.keys()) names.push(name)
        return names.join()
    }"""
    wait_for(lambda: page.evaluate(kept) == "b")


RECORDER = """
export class Recorder extends EventTarget {
  static async open(asked) {
    const recorder = new Recorder()
    window.theRecorder = recorder
    window.asked = asked
    return recorder
  }
  close() {}
}
"""
"""Stands in for the one that records: a test says how far behind it is."""


def test_what_is_still_on_its_way_is_said_and_waited_for(
    page: Page, tools: Tools, station: str
) -> None:
    booth_reading(tools)
    page.route(
        "**/audio/recorder.js",
        lambda route: route.fulfill(body=RECORDER, content_type="text/javascript"),
    )
    sit_down(page, station, sit(tools, "readings:t5"))
    page.goto(f"{station}/stand/hand-in")
    wait_for(lambda: page.evaluate("window.asked?.place === 'readings:t5'"))
    assert page.evaluate("window.asked.pass") is None
    behind = """behindS => window.theRecorder.dispatchEvent(
        new CustomEvent('standing', { detail: { behindS } }))"""
    page.evaluate(behind, 42.3)
    assert "About 42 seconds are still on their way" in page.locator("#copy").inner_text()
    assert page.locator("#unsent").input_value() == "42.3"
    page.get_by_role("button", name="Hand it in").click()
    page.get_by_text("Not yet: hand in when the station has all of it.").wait_for()
    assert tools.database.reading("t5").state == "in the booth"
    # The station holds to it by itself too.
    page.evaluate("document.querySelector('#form').submit()")
    page.get_by_text("about 42 seconds of it are on their way from this computer").wait_for()
    wait_for(lambda: page.evaluate("window.asked?.place === 'readings:t5'"))
    page.evaluate(behind, 0.02)
    assert page.locator("#unsent").input_value() == "0"
    page.get_by_role("button", name="Hand it in").click()
    page.wait_for_url("**/stand/receipt")
