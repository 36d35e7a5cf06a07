"""A reading at the stand from the first key to handing in: what the station keeps is what was said.

The whole shape of an hour in less than a minute, by keyboard alone, into a fed microphone: opening
words, three articles, page turns that rustle, closing words.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.booth.edits import ArticleStarted, HandedIn, WordsBegun
from quietleaf.storage.reading_folder import ReadingFolder
from tests.browser.microphone import RATE_HZ, SCALE, microphone_flags, place_in, write_microphone
from tests.browser.standing import AtTheStand, at_the_stand
from tests.helpers import running_browser
from tests.voices import RATE_HZ as VOICE_RATE_HZ
from tests.voices import Made
from tests.waiting import wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

RUSTLE_DBOV = -34.0
ROLLING = "You are being recorded."
QUIET_S = 2.0
"""So long nobody speaks where a key is pressed: the page hears a little later than is fed."""
PRESS_AFTER_S = 0.4
HEARD = """
    window.heard = 0
    const dispatch = EventTarget.prototype.dispatchEvent
    EventTarget.prototype.dispatchEvent = function (event) {
        if (event.type === 'heard') window.heard += 1
        return dispatch.call(this, event)
    }
"""
"""Counts what the recorder tells ten times a second, so that the reader keeps time by sound."""


@dataclass
class Script:
    """What is said and what rustles, and when which key is pressed."""

    made: Made = field(default_factory=lambda: Made(seed=11, room_dbov=-68.0))
    said: list[tuple[int, int]] = field(default_factory=list)
    rustled: list[tuple[int, int]] = field(default_factory=list)
    keys: list[tuple[float, str, str]] = field(default_factory=list)

    def say(self, length_s: float) -> None:
        self.said.append(_samples(*self.made.speech(length_s)))

    def rustle(self) -> None:
        self.made.pause(0.5)
        self.rustled.append(_samples(*self.made.noise(0.7, RUSTLE_DBOV, 1_500.0, 7_000.0)))
        self.made.pause(0.5)

    def press(self, key: str, state: str) -> None:
        """Press a key while nobody speaks; the page says how things stand then."""
        # The voice was made for 48 kHz and is fed sample by sample at the microphone's rate.
        at_s = (self.made.length_s + PRESS_AFTER_S) * VOICE_RATE_HZ / RATE_HZ
        self.keys.append((at_s, key, state))
        self.made.pause(QUIET_S)

    def turn_the_page(self, *, new_article: bool = False) -> None:
        self.rustle()
        self.press("Space", "Held. Turn your page.")
        if new_article:
            self.press("n", "Held. A new article comes next.")
        self.press("Space", ROLLING)
        self.rustle()

    def sound(self) -> NDArray[np.int32]:
        return np.round(self.made.samples() * SCALE).astype(np.int32)


def _samples(start_s: float, stop_s: float) -> tuple[int, int]:
    return round(start_s * VOICE_RATE_HZ), round(stop_s * VOICE_RATE_HZ)


def hour_in_brief() -> Script:
    script = Script()
    script.press("Space", ROLLING)
    script.say(3.0)  # the opening words
    script.press("n", ROLLING)
    script.say(3.0)
    script.turn_the_page(new_article=True)
    script.say(2.5)
    script.turn_the_page()
    script.say(2.5)
    script.press("n", ROLLING)
    script.say(2.5)
    script.press("c", ROLLING)
    script.say(2.0)  # the closing words
    script.rustle()
    script.press("Space", "Held. Your closing words are read.")
    return script


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A reading that was read by this script."""

    script: Script
    fed: NDArray[np.int32]
    at: AtTheStand
    page: Page

    @property
    def folder(self) -> ReadingFolder:
        return self.at.folder.reload()

    def take(self, number: int) -> NDArray[np.int32]:
        with self.folder.open_take(number) as sound:
            kept = sound.read(0, sound.info.frames)
        return np.round(kept.reshape(-1) * SCALE).astype(np.int32)


@pytest.fixture(scope="module")
def read(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Read]:
    """Read the script at the stand, by keyboard alone."""
    folder = tmp_path_factory.mktemp("reading")
    script = hour_in_brief()
    fed = script.sound()
    write_microphone(folder / "microphone.wav", fed)
    flags = microphone_flags(folder / "microphone.wav")
    # The connection of the browser fixture, in a browser of its own with another microphone.
    driver = browser.browser_type
    with (
        at_the_stand(folder / "station") as at,
        running_browser(folder / "browser", flags=flags) as (_, address),
    ):
        own = driver.connect_over_cdp(address)
        context = at.context(own, viewport={"width": 1280, "height": 860})
        page = context.new_page()
        page.add_init_script(HEARD)
        page.goto(f"{at.address}/stand/reading")
        page.locator("[data-phase=held]").wait_for()
        for at_s, key, state in script.keys:
            hear_until(page, at_s)
            page.keyboard.press(key)
            page.locator("#state", has_text=state).wait_for()
        yield Read(script=script, fed=fed, at=at, page=page)
        own.close()


def hear_until(page: Page, time_s: float) -> None:
    """Wait until so much was heard."""
    page.evaluate(
        """tenths => new Promise((done, late) => {
            const end = performance.now() + 60_000
            const look = () => {
                if (window.heard >= tenths) done()
                else if (performance.now() > end) late(new Error('it was never heard'))
                else requestAnimationFrame(look)
            }
            look()
        })""",
        round(10 * time_s),
    )


def test_what_the_station_keeps_is_what_was_fed_sample_for_sample(read: Read) -> None:
    wait_for(lambda: [take.samples for take in read.folder.takes()].count(None) == 0 or None)
    takes = read.folder.takes()
    assert len(takes) == 3
    reached = 0
    for take in takes:
        kept = read.take(take.take)
        assert take.sample_rate_hz == RATE_HZ
        starts = place_in(read.fed, kept)
        assert starts >= reached
        np.testing.assert_array_equal(kept, read.fed[starts : starts + kept.size])
        reached = starts + kept.size
    # Held in between: what rustled and was said then is kept nowhere.
    assert sum(take.samples or 0 for take in takes) < read.fed.size


def test_every_word_is_in_the_programme_and_no_rustle_of_a_page_turn(read: Read) -> None:
    def cut() -> bool:
        edits = read.folder.ledger()
        return sum(edit.author == "Quietleaf" for edit in edits) >= 6

    wait_for(cut)
    programme = np.zeros(read.fed.size, dtype=bool)
    for span in read.folder.timeline().spans:
        starts = place_in(read.fed, read.take(span.take))
        programme[starts + span.start : starts + span.stop] = True
    fade = round(0.03 * RATE_HZ)
    for start, stop in read.script.said:
        assert programme[start : stop - fade].all()
    for start, stop in read.script.rustled:
        assert not programme[start:stop].any()


def test_marks_stand_where_the_keys_were_pressed(read: Read) -> None:
    edits = [edit.what for edit in read.folder.ledger()]
    words = [(what.which, what.take) for what in edits if isinstance(what, WordsBegun)]
    assert words == [("opening", 1), ("closing", 3)]
    articles = [what.take for what in edits if isinstance(what, ArticleStarted)]
    assert articles == [1, 2, 3]


def test_the_last_sentences_are_heard_and_nothing_changes(read: Read) -> None:
    page = read.page
    page.get_by_text("All of it is safe on the station’s disk.").wait_for()
    before = read.folder.revision
    page.keyboard.press("l")
    page.get_by_text("You hear what you read.").first.wait_for()
    page.keyboard.press("l")
    page.locator("#hear", has_text="Hear it").wait_for()
    assert read.folder.revision == before


def test_a_page_that_is_loaded_again_finds_its_reading(read: Read) -> None:
    page = read.page
    page.reload()
    page.locator("#state", has_text="Held. Read on from where you left off.").wait_for()
    # How much is read is said, and its end is heard from the station: nothing is in this page.
    assert (
        page.locator("#advice")
        .inner_text()
        .endswith("seconds are read already. Press “Hear it” to find the place.")
    )
    page.keyboard.press("l")
    page.get_by_text("You hear what you read.").first.wait_for()
    page.keyboard.press("l")
    page.locator("#hear", has_text="Hear it").wait_for()
    left = " ".join(page.locator("#time-left").inner_text().split())
    # Six sentences of 15.5 s as they were made, and a little of the room at each end of the takes.
    assert left.startswith(("57 minutes 3", "57 minutes 4"))


def test_a_second_tab_is_told_as_it_opens(read: Read) -> None:
    page = read.page.context.new_page()
    page.add_init_script(HEARD)
    page.goto(f"{read.at.address}/stand/reading")
    # Its microphone is ready by then, and takes nothing of it away.
    hear_until(page, 1.0)
    assert page.locator("#state").inner_text() == "Nothing is recorded here now."
    assert "is open in another tab or window" in page.locator("#advice").inner_text()
    assert page.get_by_role("button", name="Record here instead").is_visible()
    page.close()


def test_the_reader_hands_in_by_keyboard(read: Read) -> None:
    page = read.page
    tab_to_hand_in(page)
    page.keyboard.press("Enter")
    page.wait_for_url("**/stand/hand-in")
    tab_to_hand_in(page)
    page.keyboard.press("Enter")
    page.wait_for_url("**/stand/receipt**")
    assert any(isinstance(edit.what, HandedIn) for edit in read.folder.ledger())
    assert read.folder.state == "handed in"


def tab_to_hand_in(page: Page) -> None:
    """Press Tab until the control that hands in has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "hand-in":
            return
    raise AssertionError("no Tab reaches it")
