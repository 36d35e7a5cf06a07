"""The room on both sides of a join: where it is quieter on one, noise of its shape is added there.

The even voice has given each sentence its gain by then, and the rooms differ by what the gains
differ. A gate or an expander would move the room between words; adding does not.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.fills import BANDS_HZ
from quietleaf.finishing.plan import RATE_HZ, Fill, Sentence
from quietleaf.finishing.ranges import Sound, without_rumble
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.listening.join_room import ROOM_FRAMES_MIN, rooms_of
from quietleaf.listening.structure import FRAMES_PER_S, Structure

STEP_DB = 1.4
"""Between untouched pauses of one room 99 of 100 steps are smaller."""
_UNKNOWN_STEP_DB = 3.0
STEP_DB_MOST = 12.0
"""A greater step is another room: it is for an ear. Ours."""
_OWN_SHARE = 1.3
_OWN_PERCENTILE = 97.0
_OWN_MIN = 10
_OWN_MOST = 60
_OWN_PAUSE_FRAMES = 50
_REACH_FRAMES = 13 * FRAMES_PER_S
_HOLD_S, _FADE_S = 14.0, 10.0
"""Longer than a listener, or a check, remembers a room."""
_WINDOW = 960
_NOTHING = 1e-14


def plan_fills(
    structure: Structure,
    sentences: tuple[Sentence, ...],
    sound: Sound,
    joins: tuple[int, ...],
    join_samples: int,
) -> tuple[Fill, ...]:
    """Plan what is added.

    Parameters
    ----------
    sentences : tuple of Sentence
        With their gains.
    joins : tuple of int
        Samples of the sound where spans meet.
    join_samples : int
        Length of a cross-fade.

    Notes
    -----
    A step is told from what this room does by itself: it counts from 1.4 dB on, or from 1.3 times
    the 97th percentile of the steps at this reading's untouched pauses if that is more; from 3 dB
    on where there are under ten of them. Sentences that were evened by different gains make steps
    of their own, up to 2 dB; they count as the reading's. Over 12 dB nothing is added.
    """
    places = sorted({join for join in joins if 0 < join < sound.info.frames})
    if not places:
        return ()
    least_db = _least_step(structure, sentences, places)
    bounds = [0, *places, sound.info.frames]
    steps = [
        _step_at(structure, sentences, sound, tuple(bounds[index : index + 3]), least_db)
        for index in range(len(places))
    ]
    fills = []
    for index in range(len(bounds) - 1):
        # A span may be the quieter one at its beginning, at its end, or at both.
        begins = steps[index - 1] if index > 0 else None
        ends = steps[index] if index < len(steps) else None
        fills += _fills_of_span(
            (bounds[index], bounds[index + 1]),
            begins if begins is not None and begins.quieter == "after" else None,
            ends if ends is not None and ends.quieter == "before" else None,
            join_samples,
        )
    return tuple(fills)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """A step of the room at a join, and the power per band that the quieter side lacks."""

    join: int
    step_db: float
    least_db: float
    quieter: Literal["before", "after"]
    missing: NDArray[np.float64]


def _fills_of_span(
    span: tuple[int, int], begins: _Step | None, ends: _Step | None, join_samples: int
) -> list[Fill]:
    """Fill a span from the ends at which it is quieter than its neighbour."""
    start, stop = span
    half = join_samples // 2
    hold, fade = round(_HOLD_S * RATE_HZ), round(_FADE_S * RATE_HZ)
    if begins is not None and ends is not None and stop - start < 2 * (hold + fade):
        both = replace(begins, missing=(begins.missing + ends.missing) / 2.0)
        return [_fill(both, start - half, stop + half, join_samples, join_samples)]
    reach = min(hold + fade, stop - start)
    fade = min(fade, reach // 2)
    fills = []
    if begins is not None:
        fills.append(_fill(begins, start - half, start + reach, join_samples, fade))
    if ends is not None:
        fills.append(_fill(ends, stop - reach, stop + half, fade, join_samples))
    return fills


def _fill(step: _Step, start: int, stop: int, rise: int, fall: int) -> Fill:
    return Fill(
        start=start,
        stop=stop,
        rise=rise,
        fall=fall,
        bands_db=tuple(round(_db(float(power)), 2) for power in step.missing),
        seed=step.join,
        reason=f"the room is {abs(step.step_db):.1f} dB quieter {step.quieter} this join",
        measured={"step_db": round(step.step_db, 2), "own_step_db": round(step.least_db, 2)},
    )


def _step_at(
    structure: Structure,
    sentences: tuple[Sentence, ...],
    sound: Sound,
    around: tuple[int, ...],
    least_db: float,
) -> _Step | None:
    """Measure the rooms on both sides of a join; None where they agree."""
    before, join, after = around
    place = join // FRAME_SAMPLES
    first = max(before // FRAME_SAMPLES + 1, place - _REACH_FRAMES)
    stop = min(after // FRAME_SAMPLES, place + _REACH_FRAMES)
    rooms = rooms_of(structure, place, first, stop)
    if min(room.size for room in rooms) < ROOM_FRAMES_MIN:
        return None
    gains = _gains(sentences, join)
    step_db = _step_db(structure, rooms, gains)
    if not least_db < abs(step_db) <= STEP_DB_MOST:
        return None
    left, right = (
        _band_powers(sound, room) * 10.0 ** (gain_db / 10.0)
        for room, gain_db in zip(rooms, gains, strict=True)
    )
    return _Step(
        join=join,
        step_db=step_db,
        least_db=least_db,
        quieter="before" if step_db > 0 else "after",
        missing=np.maximum(right - left if step_db > 0 else left - right, _NOTHING),
    )


def _step_db(
    structure: Structure,
    rooms: tuple[NDArray[np.int64], NDArray[np.int64]],
    gains: tuple[float, float],
) -> float:
    levels = [
        _db(np.mean(10.0 ** (structure.level[room] / 10.0))) + gain_db
        for room, gain_db in zip(rooms, gains, strict=True)
    ]
    return levels[1] - levels[0]


def _least_step(structure: Structure, sentences: tuple[Sentence, ...], joins: list[int]) -> float:
    """Give the step that this reading does not make by itself, its even voice included."""
    runs = structure.runs
    pauses = [
        int(stop + start) // 2
        for stop, start in zip(runs[:-1, 1], runs[1:, 0], strict=True)
        if start - stop >= _OWN_PAUSE_FRAMES
    ]
    touched = [join // FRAME_SAMPLES for join in joins]
    free = [pause for pause in pauses if _is_free(pause, touched)]
    free = free[:: max(1, len(free) // _OWN_MOST)]
    steps = []
    for pause in free:
        rooms = rooms_of(structure, pause, pause - _REACH_FRAMES, pause + _REACH_FRAMES)
        if min(room.size for room in rooms) >= ROOM_FRAMES_MIN:
            gains = _gains(sentences, pause * FRAME_SAMPLES)
            steps.append(abs(_step_db(structure, rooms, gains)))
    if len(steps) < _OWN_MIN:
        return _UNKNOWN_STEP_DB
    return max(STEP_DB, _OWN_SHARE * float(np.percentile(steps, _OWN_PERCENTILE)))


def _is_free(pause: int, touched: list[int]) -> bool:
    """Say whether no join lies within what is listened to around a pause."""
    near = bisect_left(touched, pause - _REACH_FRAMES)
    return near == bisect_right(touched, pause + _REACH_FRAMES)


def _gains(sentences: tuple[Sentence, ...], join: int) -> tuple[float, float]:
    """Give the gains on both sides."""
    if not sentences:
        return 0.0, 0.0
    index = bisect_right(sentences, join, key=lambda sentence: sentence.start)
    before = sentences[max(index - 1, 0)]
    after = before if before.stop > join else sentences[min(index, len(sentences) - 1)]
    return before.gain_db, after.gain_db


def _band_powers(sound: Sound, frames: NDArray[np.int64]) -> NDArray[np.float64]:
    """Give the power of the room in each band, relative to RMS 1.0, shape (b,)."""
    # Windows of 20 ms that lie in room tone from end to end.
    whole = frames[np.isin(frames + 2, frames)]
    frames = whole if whole.size else frames
    first = int(frames[0]) * FRAME_SAMPLES
    heard = without_rumble(
        sound, first, min(int(frames[-1]) * FRAME_SAMPLES + _WINDOW, sound.info.frames)
    )
    starts = frames * FRAME_SAMPLES - first
    starts = starts[starts + _WINDOW <= heard.size]
    shape = np.hanning(_WINDOW)
    windows = heard[starts[:, np.newaxis] + np.arange(_WINDOW)] * shape
    power = (np.abs(np.fft.rfft(windows, axis=1)) ** 2).mean(axis=0)
    power *= 2.0 / (_WINDOW * float((shape**2).sum()))
    hz = np.fft.rfftfreq(_WINDOW, 1.0 / RATE_HZ)
    sums: NDArray[np.float64] = np.add.reduceat(power, np.searchsorted(hz, BANDS_HZ))[:-1]
    return sums


def _db(power: float | np.floating) -> float:
    return 10.0 * float(np.log10(max(float(power), _NOTHING)))
