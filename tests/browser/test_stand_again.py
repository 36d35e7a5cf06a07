"""*Again* at the stand: by keyboard alone, into a fed microphone; what is said, shown and kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pytest

from quietleaf.booth.edits import Again
from quietleaf.booth.replay import counting
from tests.browser.microphone import RATE_HZ, microphone_flags, place_in, write_microphone
from tests.browser.standing import at_the_stand
from tests.browser.test_stand_leading import tab_to_the_strip
from tests.browser.test_stand_reading import HEARD, ROLLING, Read, Script, hear_until
from tests.helpers import running_browser
from tests.voices import RATE_HZ as VOICE_RATE_HZ
from tests.waiting import wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser

LISTEN = "Listen, then read on from here."
FURTHER = "One sentence further back. Listen, then read on from here."
PICKED = "From the place you picked. Listen, then read on from here."
PICK = "the stretch before the last one"
LEAD_IN_S = 3.0
BETWEEN_S = 0.8
COMMA_S = 0.25
PLAYED = """
    window.played = []
    const start = AudioBufferSourceNode.prototype.start
    AudioBufferSourceNode.prototype.start = function () {
        played.push(['plays', this.buffer.duration])
        this.addEventListener('ended', () => played.push(['ended']))
        return start.call(this)
    }
    const post = Worker.prototype.postMessage
    Worker.prototype.postMessage = function (asked, ...more) {
        if (asked.kind.startsWith('again') || asked.kind === 'hold') played.push([asked.kind])
        return post.call(this, asked, ...more)
    }
"""
"""Notes what is played, and when the recorder is told of it."""


def say(script: Script, length_s: float) -> None:
    """Say a sentence of two parts, as people do who have commas."""
    start_s, _ = script.made.speech(0.55 * length_s)
    script.made.pause(COMMA_S)
    _, stop_s = script.made.speech(0.45 * length_s)
    script.said.append((round(start_s * VOICE_RATE_HZ), round(stop_s * VOICE_RATE_HZ)))


def stumbles() -> Script:
    script = Script()
    script.press("Space", ROLLING)
    say(script, 2.5)
    script.made.pause(BETWEEN_S)
    say(script, 2.5)
    script.made.pause(BETWEEN_S)
    say(script, 1.5)  # it stumbles
    script.made.pause(0.4)
    script.press("a", LISTEN)
    script.made.pause(LEAD_IN_S)
    say(script, 2.5)  # read again
    script.made.pause(BETWEEN_S)
    say(script, 1.5)  # another slip, heard late
    script.made.pause(0.4)
    script.press("a", LISTEN)
    script.keys.append((script.keys[-1][0] + 0.6, "a", FURTHER))
    script.made.pause(LEAD_IN_S + 1.0)
    say(script, 2.5)  # the sentence before is read again
    script.made.pause(BETWEEN_S)
    say(script, 2.5)
    script.press("a", LISTEN)  # a press by mistake
    script.keys.append((script.keys[-1][0] + 0.6, "u", ROLLING))
    script.made.pause(0.5)
    say(script, 2.0)  # the sentence goes on
    script.made.pause(BETWEEN_S)
    say(script, 2.0)
    script.press("Space", "Held. Turn your page.")
    script.made.pause(1.0)
    script.press("a", LISTEN)  # from held: it rolls
    script.made.pause(LEAD_IN_S)
    say(script, 2.0)
    script.made.pause(BETWEEN_S)
    say(script, 2.0)
    script.press(PICK, PICKED)  # both are read again
    script.made.pause(LEAD_IN_S)
    say(script, 2.0)
    script.press("Space", "Held. Turn your page.")
    return script


@pytest.fixture(scope="module")
def read(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Read]:
    """Read the script at the stand."""
    folder = tmp_path_factory.mktemp("again")
    script = stumbles()
    fed = script.sound()
    write_microphone(folder / "microphone.wav", fed)
    flags = microphone_flags(folder / "microphone.wav")
    with (
        at_the_stand(folder / "station") as at,
        running_browser(folder / "browser", flags=flags) as (_, address),
    ):
        own = browser.browser_type.connect_over_cdp(address)
        page = at.context(own, viewport={"width": 1280, "height": 860}).new_page()
        page.add_init_script(HEARD)
        page.add_init_script(PLAYED)
        page.goto(f"{at.address}/stand/reading")
        page.locator("[data-phase=held]").wait_for()
        for at_s, key, state in script.keys:
            hear_until(page, at_s)
            if key == PICK:
                tab_to_the_strip(page)
                page.keyboard.press("ArrowLeft")
                key = "Enter"
            page.keyboard.press(key)
            page.locator("#state", has_text=state).wait_for()
        yield Read(script=script, fed=fed, at=at, page=page)
        own.close()


def programme(read: Read) -> np.ndarray:
    """Say for each sample that was fed whether it is in the programme, as the station has it."""
    wait_for(lambda: [take.samples for take in read.folder.takes()].count(None) == 0 or None)
    inside = np.zeros(read.fed.size, dtype=bool)
    for span in read.folder.timeline().spans:
        starts = place_in(read.fed, read.take(span.take))
        inside[starts + span.start : starts + span.stop] = True
    return inside


def test_the_programme_has_the_wanted_sentences_and_no_other(read: Read) -> None:
    inside = programme(read)
    kept = [bool(inside[start:stop].mean() > 0.5) for start, stop in read.script.said]
    wanted = [True, True, False, False, False, True, True, True, False]
    wanted += [False, False, True]
    # A press by mistake was taken back: its sentence and what follows it stand; then the last
    # sentence before the hold was read again after it.
    assert kept == wanted
    for (start, stop), is_in in zip(read.script.said, wanted, strict=True):
        part = inside[start : stop - round(0.03 * RATE_HZ)]
        assert part.all() if is_in else not part.any()


def test_every_press_is_in_the_ledger_and_one_counts_a_place(read: Read) -> None:
    agains = [edit for edit in read.folder.ledger() if isinstance(edit.what, Again)]
    assert len([edit for edit in agains if edit.author != "Quietleaf"]) >= 9
    standing = [edit for edit in counting(read.folder.standing) if isinstance(edit.what, Again)]
    assert len(standing) == 5


def test_a_lead_in_is_over_before_the_programme_goes_on(read: Read) -> None:
    played = read.page.evaluate("played")
    names = [what for what, *_ in played]
    again, led = ["again", "plays"], ["again-led"]
    taken_back = [*again, "again-undo", "hold"]
    assert [name for name in names if name != "ended"] == [
        *(again + led),
        *(again + again + led),
        *taken_back,
        *(again + led),
        *(again + led),
        "hold",
    ]
    assert {names[at - 1] for at, name in enumerate(names) if name == "again-led"} == {"ended"}
    lengths = [length[0] for what, *length in played if what == "plays"]
    assert max(lengths) == pytest.approx(LEAD_IN_S, abs=0.01)
