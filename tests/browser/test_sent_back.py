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
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.sit_down import new_sitting
from quietleaf.work.tools import Tools
from tests.browser.microphone import SCALE, microphone_flags, write_microphone
from tests.browser.serving import served
from tests.browser.test_pages import tab_to
from tests.browser.test_stand_reading import HEARD, hear_until
from tests.coming import Clock, coming_station
from tests.helpers import running_browser
from tests.returned import READER, returned
from tests.voices import Made

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

FED = 44_100 / 48_000
"""The voice was made for 48 kHz and is fed sample by sample at the microphone's rate."""
SPEAKS_S, STOPS_S = 4.8, 6.8


@dataclass(frozen=True, kw_only=True)
class Booth:
    """A booth with a page in it, and the reading that came back."""

    page: Page
    address: str
    tools: Tools
    folder: ReadingFolder


@pytest.fixture(scope="module")
def booth(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Booth]:
    """Sit a reader down in a booth, to whom a reading came back."""
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
        reading = returned(tools, (3, "the price"), (6, "“Marrowby”, not “Marroby”"))
        own = browser.browser_type.connect_over_cdp(control)
        context = own.new_context(locale="en-GB", viewport={"width": 1280, "height": 860})
        page = context.new_page()
        page.add_init_script(HEARD)
        made = Booth(page=page, address=address, tools=tools, folder=reading)
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


def test_a_sentence_is_read_again_and_cleared_by_keyboard_alone(booth: Booth) -> None:
    page, folder, tools = booth.page, booth.folder, booth.tools
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

    page.keyboard.press("Space")
    page.locator("#state", has_text="Listen").wait_for()
    page.locator("#state", has_text="You are being recorded.").wait_for()
    hear_until(page, STOPS_S + 0.9)
    page.keyboard.press("Space")
    page.locator("#state", has_text="Held. That one is read again.").wait_for()
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
    page.wait_for_url("**/stand/hand-in")
    tab_to(page, "Hand it in")
    page.keyboard.press("Enter")
    page.wait_for_url("**/stand/receipt")
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
