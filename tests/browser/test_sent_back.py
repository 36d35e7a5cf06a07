"""A sentence that the desk sends back is read again in a booth: by keyboard, a file for a voice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pytest

from quietleaf.booth.corrections import corrections
from quietleaf.booth.edits import StateSet
from quietleaf.storage.index_rows import reading_row
from quietleaf.work.finish_programme import finish_programme
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.sit_down import new_sitting
from quietleaf.work.tools import Tools
from tests.browser.microphone import SCALE, microphone_flags, write_microphone
from tests.browser.serving import served
from tests.browser.test_pages import focused, tab_to, until
from tests.browser.test_stand_reading import HEARD, hear_until
from tests.coming import Clock, coming_station
from tests.helpers import running_browser
from tests.returned import READER, read_and_handed_in, returned
from tests.voices import Made

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

FED = 44_100 / 48_000
"""The voice was made for 48 kHz and is fed sample by sample at the microphone's rate."""
SPEAKS_S, STOPS_S = 4.8, 6.8


@dataclass(frozen=True, kw_only=True)
class Booth:
    """A booth with a page in it."""

    page: Page
    address: str
    tools: Tools


@pytest.fixture
def booth(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Booth]:
    """Sit a reader down in a booth."""
    folder = tmp_path_factory.mktemp("sent-back")
    voice = Made(seed=21)
    voice.pause(SPEAKS_S / FED)
    voice.speech((STOPS_S - SPEAKS_S) / FED)
    voice.pause(30.0)
    write_microphone(folder / "microphone.wav", np.round(voice.samples() * SCALE).astype(np.int32))
    clock = Clock()
    clock.move(hours=-5)
    with (
        coming_station(folder / "station", clock) as tools,
        served(tools) as address,
        running_browser(folder / "browser", flags=microphone_flags(folder / "microphone.wav")) as (
            _,
            control,
        ),
    ):
        own = browser.browser_type.connect_over_cdp(control)
        context = own.new_context(locale="en-GB", viewport={"width": 1280, "height": 860})
        page = context.new_page()
        page.add_init_script(HEARD)
        made = Booth(page=page, address=address, tools=tools)
        sit_down(made)
        yield made
        own.close()


def sit_down(booth: Booth) -> None:
    """Let the reader sit down in the booth."""
    secret = new_sitting(READER, booth.tools, booth="booth-1")
    booth.page.context.add_cookies(
        [{"name": "quietleaf_sitting", "value": secret, "url": booth.address}]
    )


def axe_finds_nothing(page: Page) -> None:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def read_it(page: Page) -> None:
    """Listen, read the sentence, and hold."""
    page.keyboard.press("Space")
    page.locator("#state", has_text="Listen").wait_for()
    page.locator("#state", has_text="You are being recorded.").wait_for()
    hear_until(page, STOPS_S + 0.9)
    page.keyboard.press("Space")
    page.locator("#state", has_text="Held. That one is read again.").wait_for()


def hand_it_in(page: Page) -> None:
    """Leave what is asked on handing in as it is."""
    page.wait_for_url("**/stand/hand-in")
    tab_to(page, "Hand it in")
    page.keyboard.press("Enter")
    page.wait_for_url("**/stand/receipt")


def test_a_sentence_is_read_again_by_keyboard_alone(booth: Booth) -> None:
    page, tools = booth.page, booth.tools
    folder = returned(tools, (3, "the price"), (6, "“Marrowby”, not “Marroby”"))
    page.goto(f"{booth.address}/stand")
    assert page.locator("h1").inner_text() == "Please read this again"
    assert page.locator("p.again").inner_text() == "Two sentences to read again:"
    axe_finds_nothing(page)
    tab_to(page, "Read it again")
    page.keyboard.press("Enter")
    page.wait_for_url("**/stand/room")

    page.goto(f"{booth.address}/stand/reading")
    page.locator("[data-phase=held]").wait_for()
    state = page.locator("#state")
    assert state.inner_text() == "Sentence 1 of 2 to read again."
    assert page.locator("[data-words=sent-back-0] .print").inner_text() == "the price"
    axe_finds_nothing(page)
    page.keyboard.press("n")
    page.locator("#state", has_text="Sentence 2 of 2").wait_for()
    page.keyboard.press("n")
    page.locator("#state", has_text="Sentence 1 of 2").wait_for()

    read_it(page)
    page.keyboard.press("l")
    page.locator("#advice", has_text="You hear it in its place.").wait_for()
    axe_finds_nothing(page)
    assert [span.take for span in folder.reload().timeline().spans] == [1, 2, 1]

    # A page that is loaded again costs nothing: what is left comes first.
    page.keyboard.press("Space")
    page.locator("#state", has_text="Sentence 2 of 2").wait_for()
    page.reload()
    page.locator("[data-phase=held]").wait_for()
    assert state.inner_text() == "Sentence 2 of 2 to read again."
    tab_to(page, "Hand in")
    page.keyboard.press("Enter")
    hand_it_in(page)
    assert "handed in again" in page.locator(".safe").inner_text()

    seen = [
        (one.entry.what.note, one.patch is not None)
        for one in corrections(folder.reload().standing)
    ]
    assert seen == [("the price", True), ("“Marrowby”, not “Marroby”", False)]
    folder.append(StateSet(state="cleared", note=""), author="Desk", at=tools.clock())
    tools.database.index_reading(reading_row(folder))
    sit_down(booth)
    page.goto(f"{booth.address}/stand")
    told = page.locator("section[aria-labelledby=became]").inner_text()
    assert "The Courier Hour" in told
    assert "It has been heard and is cleared." in told
    assert "19:00. Thank you." in told
    axe_finds_nothing(page)


@pytest.mark.long
def test_the_desk_returns_a_sentence_the_reader_reads_it_again_the_desk_clears_it(
    booth: Booth,
) -> None:
    page, tools = booth.page, booth.tools
    folder, _ = read_and_handed_in(tools)
    reading_id = folder.facts.reading_id
    finish_programme(FinishProgramme(source=reading_id), tools)

    page.goto(f"{booth.address}/reading/{reading_id}")
    page.locator("#transport").wait_for()
    page.keyboard.press("m")
    until(page, "document.activeElement.id === 'own-what'")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Control+A")
    page.keyboard.type("0:10")
    for _ in range(3):
        page.keyboard.press("Tab")
    page.keyboard.type("the price")
    tab_to(page, "Enter it")
    page.keyboard.press("Enter")
    page.locator("#to-hear", has_text="the price").wait_for()
    tab_to(page, "Return it to Tomas Vale")
    tab_to(page, "Return it")
    page.keyboard.press("Enter")
    page.locator("#verdict", has_text="Returned to Tomas Vale").wait_for()

    page.goto(f"{booth.address}/stand")
    assert "One sentence to read again, at 0:09: the price." in page.locator("p.again").inner_text()
    tab_to(page, "Read it again")
    page.keyboard.press("Enter")
    page.wait_for_url("**/stand/room")
    page.goto(f"{booth.address}/stand/reading")
    page.locator("[data-phase=held]").wait_for()
    read_it(page)
    assert page.locator("#main .word").inner_text() == "Hand in"
    page.keyboard.press("Space")
    hand_it_in(page)

    finish_programme(FinishProgramme(source=reading_id), tools)
    page.goto(f"{booth.address}/reading/{reading_id}")
    page.locator("#transport").wait_for()
    # What was read again is heard once more; a made voice may have something else to hear in it.
    page.keyboard.press("n")
    assert focused(page).startswith("Marked at the desk")
    for _ in range(page.locator("#to-hear > li").count()):
        page.keyboard.press("l")
        until(page, "/left|decided/.test(document.querySelector('#told').textContent)")
    until(page, "document.querySelector('#told').textContent.includes('Everything is decided')")
    # Nine sentences are no hour: what speaks against it is passed over by a tick.
    while page.evaluate("document.activeElement.name") != "despite":
        page.keyboard.press("Tab")
    page.keyboard.press("Space")
    tab_to(page, "Clear it")
    page.keyboard.press("Enter")
    page.locator("#verdict", has_text="Cleared").wait_for()
    assert folder.reload().state == "cleared"
    assert [span.take for span in folder.timeline().spans] == [1, 2, 1]

    sit_down(booth)
    page.goto(f"{booth.address}/stand")
    told = page.locator("section[aria-labelledby=became]").inner_text()
    assert "It has been heard and is cleared." in told
