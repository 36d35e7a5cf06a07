"""*Again* in a real browser: the worker finds the sentence, and its entries reach the ledger."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.booth.edits import Again, Undo
from quietleaf.work.tools import Tools
from tests.browser.microphone import RATE_HZ, SCALE, microphone_flags, write_microphone
from tests.browser.recording import (
    Booth,
    Reading,
    assert_exact,
    booth,
    leave,
    new_reading,
    read_on,
    wait_for_takes,
)
from tests.browser.tcp_line import tcp_line
from tests.stations_served import StationProcess, opened_station, station_process
from tests.voices import Made

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    Sentences = list[tuple[int, int]]

# The same presses at the page itself, with less sound, run each time: test_stand_again.
pytestmark = pytest.mark.long

SENTENCES = 12
# So long that each sentence start is a sure one: where it is not, a second press goes past it.
PAUSE_S = 1.0
INSIDE_S = 0.15


@pytest.fixture(scope="module")
def script() -> tuple[NDArray[np.int32], Sentences]:
    """Make what the microphone hears, and where in it each sentence begins and ends."""
    made = Made(seed=3)
    made.pause(1.0)
    places = []
    for _ in range(SENTENCES):
        start, _ = made.speech(1.0)
        made.pause(INSIDE_S)
        _, stop = made.speech(1.0)
        places.append((start, stop))
        made.pause(PAUSE_S)
    # The voice is made for another rate: here it is a little lower and slower.
    steps = np.rint(made.samples() * SCALE).astype(np.int32)
    return steps, [(round(start * 48_000), round(stop * 48_000)) for start, stop in places]


@pytest.fixture(scope="module")
def tools(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tools]:
    with opened_station(tmp_path_factory.mktemp("station")) as tools:
        yield tools


@pytest.fixture(scope="module")
def station(tools: Tools) -> Iterator[StationProcess]:
    with station_process(tools.data) as station:
        yield station


@pytest.fixture(scope="module")
def here(
    browser: Browser,
    script: tuple[NDArray[np.int32], Sentences],
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Booth]:
    path = tmp_path_factory.mktemp("microphone") / "left.wav"
    write_microphone(path, script[0])
    with booth(browser, tmp_path_factory.mktemp("booth"), microphone_flags(path)) as here:
        yield here


def press(page: Any, at: str = "null") -> dict[str, Any]:
    """Press, and give what came, but for the lead-in."""
    pressed: dict[str, Any] = page.evaluate(
        f"""stand.recorder.again({{ at: {at} }}).then(({{ leadIn, ...rest }}) => {{
            stand.leadIn = leadIn
            return rest
        }})"""
    )
    return pressed


def led_in_by(page: Any) -> NDArray[np.float64]:
    """Give the lead-in of the last press, in steps of 24 bits."""
    assert page.evaluate("stand.leadIn.rate") == RATE_HZ
    return np.array(page.evaluate("Array.from(stand.leadIn.samples)")) * SCALE


def read_more(page: Any, samples: int) -> None:
    """Wait until so much more is recorded than now, however long the asking took."""
    read_on(page, page.evaluate("stand.recorder.takeSamples") + samples)


def in_silence(place: int, sentences: Sentences) -> bool:
    """Say whether a sample of the script lies in no sentence."""
    return not any(start <= place < stop for start, stop in sentences)


def agains(reading: Reading) -> list[Again]:
    """Give what the stand asked for; where the station placed it since is its own affair."""
    edits = reading.folder.reload().ledger()
    asked = (edit.what for edit in edits if not edit.edit_id.startswith("place"))
    return [what for what in asked if isinstance(what, Again)]


def test_a_sentence_is_taken_again(
    here: Booth,
    station: StationProcess,
    tools: Tools,
    script: tuple[NDArray[np.int32], Sentences],
) -> None:
    fed, sentences = script
    reading = new_reading(tools, "again")
    page = here.stand(station.address, reading)
    page.evaluate("stand.recorder.roll()")
    read_on(page, sentences[2][0] + RATE_HZ)
    pressed = press(page)
    assert pressed["further"] is False
    assert pressed["known"] is True
    lead_in = led_in_by(page)
    read_more(page, RATE_HZ)
    page.evaluate("stand.recorder.againLed()")
    heard = page.evaluate("stand.until(() => !stand.heard.again.leading).then(() => stand.heard)")
    assert heard["again"]["canUndo"] is True
    assert len(heard["again"]["outside"]) == 1
    read_more(page, 4 * RATE_HZ)
    page.evaluate("stand.recorder.hold()")
    wait_for_takes(reading, 1)
    (take,) = reading.takes()
    begins = assert_exact(fed, take)
    at_press, led = agains(reading)[:2]
    assert at_press.mark == at_press.resume == led.mark
    assert led.back_sample == at_press.back_sample < led.mark < led.resume
    place = begins + led.back_sample
    assert in_silence(place, sentences)
    assert sentences[1][1] <= place <= sentences[2][0]
    # What was played is what comes before it, to the last sample.
    assert len(lead_in) == led.lead_in == 3 * RATE_HZ
    np.testing.assert_array_equal(lead_in, fed[place - len(lead_in) : place])
    assert [undo.of for undo in reading.happened(Undo)][:1] == [3]
    leave(page)


def test_further_back_a_picked_place_and_the_old_sentence_again(
    here: Booth,
    station: StationProcess,
    tools: Tools,
    script: tuple[NDArray[np.int32], Sentences],
) -> None:
    fed, sentences = script
    reading = new_reading(tools, "further")
    page = here.stand(station.address, reading)
    page.evaluate("stand.recorder.roll()")
    read_on(page, sentences[4][0] + RATE_HZ)
    backs = [press(page)["backS"]]
    further = press(page)
    assert further["further"] is True
    backs.append(further["backS"])
    wanted = sentences[1][0] + RATE_HZ // 2
    backs.append(press(page, f"{{ take: 1, sample: {wanted} }}")["backS"])
    assert page.evaluate("stand.recorder.againUndo()") == {"undone": True}
    assert page.evaluate("stand.recorder.againUndo()") == {"undone": False}
    read_more(page, 4 * RATE_HZ)
    page.evaluate("stand.recorder.hold()")
    wait_for_takes(reading, 1)
    (take,) = reading.takes()
    begins = assert_exact(fed, take)
    for back_s, sentence in zip(backs, (4, 3, 1), strict=True):
        place = begins + round(back_s * RATE_HZ)
        assert sentences[sentence - 1][1] <= place <= sentences[sentence][0]
    taken_back = agains(reading)[3]
    assert taken_back.back_sample == agains(reading)[0].mark
    assert taken_back.mark == taken_back.resume
    before, after = reading.folder.reload().timeline().spans
    # To the press, and from where the key was: the station moves both into the room's sound.
    assert abs(before.stop - taken_back.back_sample) < RATE_HZ
    assert abs(after.start - taken_back.resume) < 2 * RATE_HZ
    leave(page)


def test_over_a_hold_with_the_network_away_and_the_page_loaded_again(
    here: Booth,
    station: StationProcess,
    tools: Tools,
    script: tuple[NDArray[np.int32], Sentences],
) -> None:
    fed, sentences = script
    reading = new_reading(tools, "away")
    with tcp_line(station.port) as line:
        page = here.stand(line.address, reading)
        page.evaluate("stand.recorder.roll()")
        read_on(page, sentences[2][1] + RATE_HZ // 4)
        line.refuse()
        page.evaluate("stand.recorder.hold()")
        press(page)  # while held: it rolls
        lead_in = led_in_by(page)
        assert page.evaluate("stand.recorder.rolling") is True
        read_on(page, RATE_HZ * 2)
        page.evaluate("stand.recorder.againLed()")
        read_on(page, RATE_HZ * 4)
        page.close()
        line.let_pass()
        page = here.stand(line.address, reading)
        wait_for_takes(reading, 2)
        page.close()
    first, second = reading.takes()
    begins = [assert_exact(fed, take) for take in (first, second)]
    at_press, led = agains(reading)[:2]
    assert (led.take, led.back_take) == (2, 1)
    assert (at_press.resume, led.resume > at_press.resume) == (at_press.mark, True)
    place = begins[0] + led.back_sample
    assert sentences[1][1] <= place <= sentences[2][0]
    np.testing.assert_array_equal(lead_in, fed[place - len(lead_in) : place])


def test_held_while_the_lead_in_plays_and_twice_in_the_same_place(
    here: Booth,
    station: StationProcess,
    tools: Tools,
    script: tuple[NDArray[np.int32], Sentences],
) -> None:
    fed, sentences = script
    reading = new_reading(tools, "held")
    page = here.stand(station.address, reading)
    page.evaluate("stand.recorder.roll()")
    read_on(page, sentences[2][0] + RATE_HZ)
    press(page)
    page.evaluate("stand.firstLeadIn = stand.leadIn")
    page.evaluate("stand.recorder.hold()")
    page.evaluate("stand.recorder.roll()")
    read_on(page, 3 * RATE_HZ // 2)
    press(page)
    read_more(page, RATE_HZ // 2)
    page.evaluate("stand.recorder.againLed()")
    read_more(page, 4 * RATE_HZ)
    seen = page.evaluate("stand.heard.again")
    page.evaluate("stand.recorder.hold()")
    assert page.evaluate("""stand.firstLeadIn.samples.length === stand.leadIn.samples.length
        && stand.leadIn.samples.every((x, at) => x === stand.firstLeadIn.samples[at])""")
    wait_for_takes(reading, 2)
    first, second = reading.takes()
    begins = [assert_exact(fed, take) for take in (first, second)]
    at_press, held, same, led = agains(reading)
    assert (at_press.resume, held.resume) == (at_press.mark, len(first))
    places = {(one.back_take, one.back_sample) for one in (at_press, held, same, led)}
    assert places == {(1, at_press.back_sample)}
    assert [one.take for one in (at_press, held, same, led)] == [1, 1, 2, 2]
    assert sentences[1][1] <= begins[0] + at_press.back_sample <= sentences[2][0]
    # The programme: what lay before the sentence, and what was read after the second lead-in.
    assert seen["secondsRead"] * RATE_HZ == pytest.approx(
        at_press.back_sample + len(second) - led.resume, abs=RATE_HZ / 2
    )
    before, after = reading.folder.timeline().spans
    assert (before.take, after.take) == (1, 2)
    assert sentences[1][1] - RATE_HZ <= begins[0] + before.stop <= sentences[2][0]
    assert abs(after.start - led.resume) < 3 * RATE_HZ
    leave(page)
