"""Where a join is made, on sounds whose every part is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.finishing.join_place import BEFORE_FIRST_S, JoinPlace, choose_join
from quietleaf.listening.reader_pauses import UNKNOWN, ReaderPauses
from tests.voices import RATE_HZ, Made

EDGE_S = 0.045
"""Frames of 10 ms, and the made voice swells and fades for about 20 ms."""
FADE_S = 0.005


@dataclass(frozen=True, kw_only=True)
class Side:
    """A side of a join; places in seconds."""

    sound: NDArray[np.float64]
    word: float
    room: tuple[float, float]


def old_side(*, pause_s: float = 0.6, breath_at_s: float | None = None, seed: int = 1) -> Side:
    """Two sentences and a pause between them, which may have a breath or paper in it."""
    made = Made(seed=seed)
    made.pause(0.4)
    made.speech(2.0)
    made.pause(0.5)
    _, end = made.speech(2.0)
    stop = end + pause_s
    if breath_at_s is not None:
        made.pause(breath_at_s)
        stop, _ = made.noise(0.25, -56.0)
        made.pause(pause_s - breath_at_s - 0.25)
    else:
        made.pause(pause_s)
    made.speech(1.4)
    made.pause(0.6)
    return Side(sound=made.samples(), word=end, room=(end, stop))


def new_side(
    *, breath: bool = False, breath_dbov: float = -56.0, wait_s: float = 0.9, seed: int = 11
) -> Side:
    """The end of the stumble, the press at 1.5 s, the lead-in's end at 4.5 s, and the sentence."""
    made = Made(seed=seed)
    made.pause(0.2)
    made.speech(0.9)
    made.pause(3.4 + wait_s)
    start = made.length_s
    if breath:
        made.noise(0.3, breath_dbov)
        made.pause(0.08)
    word, _ = made.speech(2.4)
    made.pause(0.5)
    made.speech(1.5)
    return Side(sound=made.samples(), word=word, room=(4.5, start))


def chosen(old: Side, new: Side, *, pauses: ReaderPauses = UNKNOWN) -> JoinPlace:
    return choose_join(
        old.sound,
        new.sound,
        RATE_HZ,
        back=round((old.word + 0.12) * RATE_HZ),
        resume=round(4.5 * RATE_HZ),
        earliest=0,
        mark=round(1.5 * RATE_HZ),
        lead_in=None,
        pauses=pauses,
    )


def pause_s(place: JoinPlace, old: Side, new: Side) -> float:
    return place.back / RATE_HZ - old.word + new.word - place.resume / RATE_HZ


def holds(side: Side, sample: int) -> bool:
    """Say whether a fade at a place is all room tone."""
    return side.room[0] < sample / RATE_HZ - FADE_S and sample / RATE_HZ + FADE_S < side.room[1]


@pytest.mark.parametrize("seed", range(1, 6))
@pytest.mark.parametrize("real_s", [0.35, 0.6, 0.8])
def test_a_usual_pause_is_kept_as_it_was(real_s: float, seed: int) -> None:
    old, new = old_side(pause_s=real_s, seed=seed), new_side(seed=seed + 20)
    place = chosen(old, new)
    assert place.reason == "as it was paused there"
    assert pause_s(place, old, new) == pytest.approx(real_s, abs=EDGE_S)
    assert holds(old, place.back)
    assert holds(new, place.resume)


def test_an_unusual_pause_becomes_the_readers_median() -> None:
    old, new = old_side(pause_s=1.6), new_side()
    usual = ReaderPauses(count=40, median_s=0.7, sigma=0.25)
    place = chosen(old, new, pauses=usual)
    assert (place.reason, place.wanted_s) == ("as this reader pauses", 0.7)
    assert place.pause_s == pytest.approx(0.7)
    assert pause_s(place, old, new) == pytest.approx(0.7, abs=EDGE_S)


@pytest.mark.parametrize("at_s", [0.2, 0.3])
def test_a_breath_of_the_old_side_is_left_behind(at_s: float) -> None:
    old, new = old_side(pause_s=0.75, breath_at_s=at_s), new_side()
    place = chosen(old, new)
    assert holds(old, place.back)
    assert pause_s(place, old, new) == pytest.approx(0.75, abs=EDGE_S)


def test_a_breath_of_the_new_side_belongs_to_its_sentence() -> None:
    old, new = old_side(), new_side(breath=True)
    place = chosen(old, new)
    assert place.measured["breath"] == 1.0
    assert holds(old, place.back)
    assert place.resume / RATE_HZ < new.room[1] - FADE_S
    assert pause_s(place, old, new) == pytest.approx(0.6, abs=EDGE_S)


@pytest.mark.parametrize("breath_dbov", [-60.0, -54.0, -50.0, -46.0])
def test_no_breath_before_the_word_is_cut(breath_dbov: float) -> None:
    new = new_side(breath=True, breath_dbov=breath_dbov)
    place = chosen(old_side(), new)
    assert 4.5 < place.resume / RATE_HZ < new.room[1] - FADE_S


def test_a_breath_longer_than_the_pause_stays_whole() -> None:
    old, new = old_side(pause_s=0.3), new_side(breath=True)
    place = chosen(old, new)
    assert place.reason == "as short as the sound allows"
    assert place.wanted_s < place.pause_s < 0.65
    assert place.resume / RATE_HZ < new.room[1] - FADE_S


def test_who_starts_at_once_gets_as_long_a_pause_as_there_is() -> None:
    old, new = old_side(pause_s=0.3), new_side(wait_s=0.02)
    place = chosen(old, new, pauses=ReaderPauses(count=40, median_s=0.9, sigma=0.2))
    assert place.wanted_s == 0.9
    assert place.reason == "as long as the sound allows"
    assert place.resume / RATE_HZ < new.word - 0.04


def test_a_place_inside_a_word_lets_the_word_end() -> None:
    """As where an *again* was taken back: it leaves off where the key was pressed."""
    old, new = old_side(), new_side()
    place = choose_join(
        old.sound,
        new.sound,
        RATE_HZ,
        back=round((old.word - 0.3) * RATE_HZ),
        resume=round(4.5 * RATE_HZ),
        earliest=0,
        mark=None,
        lead_in=None,
        pauses=ReaderPauses(count=40, median_s=0.25, sigma=0.2),
    )
    assert holds(old, place.back)
    assert pause_s(place, old, new) == pytest.approx(0.25, abs=EDGE_S)


def test_with_no_word_before_it_a_little_room_is_left() -> None:
    made = Made(seed=3)
    made.pause(0.9)
    new = new_side()
    place = choose_join(
        made.samples(),
        new.sound,
        RATE_HZ,
        back=round(0.5 * RATE_HZ),
        resume=round(4.5 * RATE_HZ),
        earliest=700,
        mark=round(1.5 * RATE_HZ),
        lead_in=None,
        pauses=UNKNOWN,
    )
    assert (place.back, place.reason) == (700, "nothing before it")
    assert new.word - place.resume / RATE_HZ == pytest.approx(BEFORE_FIRST_S, abs=0.02)


@pytest.mark.parametrize("level_dbov", [-np.inf, -66.0])
def test_with_nobody_speaking_the_places_stay(level_dbov: float) -> None:
    draw = np.random.default_rng(5)
    new = draw.normal(size=6 * RATE_HZ) * 10 ** (level_dbov / 20)
    old = old_side()
    back = round((old.word + 0.1) * RATE_HZ)
    place = choose_join(
        old.sound,
        new,
        RATE_HZ,
        back=back,
        resume=1_000,
        earliest=0,
        mark=0,
        lead_in=None,
        pauses=UNKNOWN,
    )
    assert (place.back, place.resume, place.reason) == (back, 1_000, "no voice")
    assert place.measured == {}


def test_the_same_sound_gives_the_same_place() -> None:
    old, new = old_side(), new_side()
    assert chosen(old, new) == chosen(old, new)


@pytest.mark.parametrize("rate_hz", [16_000, 22_050, 44_100])
def test_other_rates_give_the_same_place(rate_hz: int) -> None:
    import soxr

    old, new = old_side(), new_side()
    at = chosen(old, new)
    place = choose_join(
        soxr.resample(old.sound, RATE_HZ, rate_hz),
        soxr.resample(new.sound, RATE_HZ, rate_hz),
        rate_hz,
        back=round((old.word + 0.12) * rate_hz),
        resume=round(4.5 * rate_hz),
        earliest=0,
        mark=round(1.5 * rate_hz),
        lead_in=None,
        pauses=UNKNOWN,
    )
    assert place.pause_s == pytest.approx(at.pause_s, abs=0.011)
    assert holds(old, place.back * RATE_HZ // rate_hz)
    assert holds(new, place.resume * RATE_HZ // rate_hz)
