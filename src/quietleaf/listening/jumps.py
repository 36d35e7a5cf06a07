"""Jumps: places where a reading goes on at another level, in another tone, or in another room."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.level_steps import dbov_of_steps, powers_of_steps, steps_of_power
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.percentiles import percentiles
from quietleaf.listening.sound_frames import SoundFrames
from quietleaf.listening.speech import pauses_between

_LOW_BANDS = slice(1, 4)
_HIGH_BANDS = slice(6, 10)
_FRAMES_A_ROW = 10
_PAUSE_FRAMES_MIN = 120
_BREAK_FRAMES = 180
_PHRASE_FRAMES_MIN = 40
_ROOM_FRAMES_MIN = 15
_EDGE_FRAMES = 8
_LOUD_PERCENT = 80.0
_LOUD_WITHIN_DB = 8.0
_PHRASES = 6
_PHRASES_MIN = 3
_ROOMS_MIN = 2
_REACH_FRAMES = 4500
_APART_FRAMES = 500
_TOGETHER_DB = 2.5
_APART_SHARE = 0.8
_ROOM_DB = 4.0
_ROOM_SHARE = 0.9
_TONE_DB = 3.5
_ROOM_TONE_DB = 4.0
_GAIN_TONE_DB = 6.0
_STRETCHES = ("hum", "noise", "echo")
_STRETCH_S_MIN = 3.0


@dataclass(slots=True, kw_only=True)
class ToneMemory:
    """How dark or bright the sound was, in a few bytes a second.

    Attributes
    ----------
    rows : list of ndarray, shape (k, 2), uint8
        Levels of each 100 ms from 80 to 630 Hz and from 2.5 to 11 kHz, in half decibels.
    """

    rows: list[NDArray[np.uint8]] = field(default_factory=list)


def step_tone(memory: ToneMemory, chunk: SoundFrames) -> None:
    """Take the next chunk in."""
    count = chunk.count // _FRAMES_A_ROW
    bands = chunk.spectra.bands_dbov[: count * _FRAMES_A_ROW].astype(np.float64)
    power = 10.0 ** (bands / 10.0)
    both = np.stack([power[:, _LOW_BANDS].sum(axis=1), power[:, _HIGH_BANDS].sum(axis=1)], axis=1)
    memory.rows.append(steps_of_power(both.reshape(count, _FRAMES_A_ROW, 2).mean(axis=1)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """What stretches are like, in order: start, stop (frames), level, tone (dB)."""

    start: NDArray[np.int64]
    stop: NDArray[np.int64]
    level: NDArray[np.float64]
    tone: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Jump:
    """How well a pause that is a jump parts what lies around, by how much it jumps, and what."""

    gain: float
    by_db: float
    what: str


_NONE = _Jump(gain=0.0, by_db=0.0, what="")


def jump_findings(
    tones: ToneMemory,
    steps: NDArray[np.uint8],
    speech: NDArray[np.int64],
    others: list[Finding],
    limits: HearingLimits,
) -> list[Finding]:
    """Find jumps at pauses.

    Parameters
    ----------
    steps : ndarray, shape (k,), uint8
        Level of each frame, half decibels: `level_steps`.
    speech : ndarray, shape (j, 2), frames
    others : list of Finding
        Rooms in a stretch of hum, noise or echo say nothing of the rest.

    Returns
    -------
    findings : list of Finding
        Kind ``level-step``: the pause; value and limit are decibels.

    Notes
    -----
    Medians of up to six phrases either side, within 45 s, and of the pauses between them. A
    reader's mood moves the voice alone, and little by little; a hand at the input, another
    place at the microphone, or another day, moves voice and room. So a jump is: the voice by the
    limit and the room with it by 2.5 dB or more, at a pause of 1.2 s or more; the voice alone by
    the limit, in a break of 1.8 s or more, where four of five pairs of phrases agree; the room
    alone by 4 dB, in such a break; or the tone, high bands against low ones, of the voice by
    3.5 dB and of the room by 4. Of several pauses near by the one is meant that parts best what
    lies around (least sum of distances to a median of each side); what lies beyond it is no longer
    compared. Ours.
    """
    pauses = pauses_between(speech)
    rows = np.concatenate(tones.rows) if tones.rows else np.empty((0, 2), dtype=np.uint8)
    voice = _voice(steps, rows, speech)
    room = _room(steps, rows, pauses, others)
    places = pauses[pauses[:, 1] - pauses[:, 0] >= _PAUSE_FRAMES_MIN]
    middles = (places.sum(axis=1) // 2).tolist()
    after = np.zeros(places.shape[0], dtype=np.int64)
    before = np.full(places.shape[0], steps.size, dtype=np.int64)
    jumps = [
        _jump(voice, room, place, int(low), int(high), limits)
        for place, low, high in zip(places, after, before, strict=True)
    ]
    found = []
    while jumps:
        best = max(range(len(jumps)), key=lambda index: jumps[index].gain)
        if jumps[best].gain == 0.0:
            break
        found.append(_finding(places[best], jumps[best], limits))
        middle = middles[best]
        for index, place in enumerate(places):
            away = abs(middles[index] - middle)
            if away > _REACH_FRAMES:
                continue
            if away < _APART_FRAMES:
                jumps[index] = _NONE
                continue
            if index < best:
                before[index] = min(before[index], middle)
            else:
                after[index] = max(after[index], middle)
            if jumps[index].gain > 0.0:
                jumps[index] = _jump(
                    voice, room, place, int(after[index]), int(before[index]), limits
                )
    return found


def _voice(steps: NDArray[np.uint8], rows: NDArray[np.uint8], speech: NDArray[np.int64]) -> _Side:
    kept, levels, tones = [], [], []
    powers = powers_of_steps()
    for start, stop in speech[speech[:, 1] - speech[:, 0] >= _PHRASE_FRAMES_MIN]:
        level = dbov_of_steps(steps[start:stop])
        mine = rows[start // _FRAMES_A_ROW : stop // _FRAMES_A_ROW]
        if mine.shape[0] == 0:
            continue
        loud = mine.max(axis=1) >= mine.max() - 2 * _LOUD_WITHIN_DB
        low, high = powers[mine[loud]].mean(axis=0)
        kept.append((start, stop))
        levels.append(float(percentiles(level, (_LOUD_PERCENT,))[0]))
        tones.append(_ratio_db(high, low))
    return _side(kept, levels, tones)


def _room(
    steps: NDArray[np.uint8],
    rows: NDArray[np.uint8],
    pauses: NDArray[np.int64],
    others: list[Finding],
) -> _Side:
    stretches = [
        (other.start_s * FRAMES_PER_S, other.end_s * FRAMES_PER_S)
        for other in others
        if other.kind in _STRETCHES and other.end_s - other.start_s >= _STRETCH_S_MIN
    ]
    kept, levels, tones = [], [], []
    for start, stop in pauses + np.array([_EDGE_FRAMES, -_EDGE_FRAMES]):
        mine = rows[-(-start // _FRAMES_A_ROW) : stop // _FRAMES_A_ROW]
        if stop - start < _ROOM_FRAMES_MIN or mine.shape[0] == 0:
            continue
        if any(first < stop and start < last for first, last in stretches):
            continue
        kept.append((start, stop))
        levels.append(float(np.median(dbov_of_steps(steps[start:stop]))))
        low, high = np.median(mine, axis=0)
        tones.append(0.5 * float(high - low))
    return _side(kept, levels, tones)


def _side(kept: list[tuple[int, int]], levels: list[float], tones: list[float]) -> _Side:
    at = np.array(kept, dtype=np.int64).reshape(-1, 2)
    return _Side(
        start=at[:, 0],
        stop=at[:, 1],
        level=np.maximum(np.array(levels), -120.0),
        tone=np.array(tones),
    )


def _jump(
    voice: _Side,
    room: _Side,
    place: NDArray[np.int64],
    after: int,
    before: int,
    limits: HearingLimits,
) -> _Jump:
    start, stop = int(place[0]), int(place[1])
    mine = _around(voice, start, stop, after, before)
    if min(len(mine[0]), len(mine[1])) < _PHRASES_MIN:
        return _NONE
    is_break = stop - start >= _BREAK_FRAMES
    by_db, share = _apart(voice.level[mine[0]], voice.level[mine[1]])
    gain = _gain(voice.level[mine[0]], voice.level[mine[1]]) / limits.level_step_db
    found = []
    if is_break and share >= _APART_SHARE:
        found.append((abs(by_db) / limits.level_step_db, by_db, "level"))
    near = _around(room, start, stop, after, before)
    if min(len(near[0]), len(near[1])) >= _ROOMS_MIN:
        room_db, room_share = _apart(room.level[near[0]], room.level[near[1]])
        tone_db, _ = _apart(voice.tone[mine[0]], voice.tone[mine[1]])
        room_tone_db, _ = _apart(room.tone[near[0]], room.tone[near[1]])
        gain += _gain(room.level[near[0]], room.level[near[1]]) / _ROOM_DB
        gain += _gain(room.tone[near[0]], room.tone[near[1]]) / _ROOM_TONE_DB
        gain += _gain(voice.tone[mine[0]], voice.tone[mine[1]]) / _GAIN_TONE_DB
        if by_db * room_db > 0.0:
            score = min(abs(by_db) / limits.level_step_db, abs(room_db) / _TOGETHER_DB)
            found.append((score, by_db, "level"))
        if is_break and room_share >= _ROOM_SHARE:
            found.append((abs(room_db) / _ROOM_DB, room_db, "room"))
        if tone_db * room_tone_db > 0.0:
            score = min(abs(tone_db) / _TONE_DB, abs(room_tone_db) / _ROOM_TONE_DB)
            found.append((score, tone_db, "tone"))
    score, by_db, what = max(found, default=(0.0, 0.0, ""))
    if score < 1.0:
        return _NONE
    gain *= min(1.0, (stop - start) / _BREAK_FRAMES)
    return _Jump(gain=gain, by_db=by_db, what=what)


def _gain(before: NDArray[np.float64], after: NDArray[np.float64]) -> float:
    """Give how much nearer all lie to a median of each side than to one of both, in decibels."""
    both = np.concatenate([before, after])
    apart = sum(float(np.abs(side - np.median(side)).sum()) for side in (before, after))
    return float(np.abs(both - np.median(both)).sum()) - apart


def _around(
    side: _Side, start: int, stop: int, after: int, before: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give the indices of what lies before and after a pause, the nearest few."""
    first = int(np.searchsorted(side.start, max(after, start - _REACH_FRAMES)))
    last = int(np.searchsorted(side.stop, min(before, stop + _REACH_FRAMES), side="right"))
    middle_before = int(np.searchsorted(side.stop, start, side="right"))
    middle_after = int(np.searchsorted(side.start, stop))
    return (
        np.arange(max(first, middle_before - _PHRASES), middle_before),
        np.arange(middle_after, min(last, middle_after + _PHRASES)),
    )


def _apart(before: NDArray[np.float64], after: NDArray[np.float64]) -> tuple[float, float]:
    """Give how far the medians lie apart, and in which share of pairs the one side is above."""
    higher = float(np.mean(after[:, np.newaxis] > before))
    return float(np.median(after) - np.median(before)), max(higher, 1.0 - higher)


def _ratio_db(high: float, low: float) -> float:
    return 10.0 * float(np.log10(max(high, 1e-13) / max(low, 1e-13)))


def _finding(place: NDArray[np.int64], jump: _Jump, limits: HearingLimits) -> Finding:
    limit_db, advice = {
        "level": (
            limits.level_step_db,
            "The reading goes on {more} after this pause. Level it, or read on as before.",
        ),
        "room": (
            _ROOM_DB,
            "The room is {more} after this pause: something was switched, or moved.",
        ),
        "tone": (_TONE_DB, "The voice sounds {more} after this pause, as from another place."),
    }[jump.what]
    words = ("brighter", "darker") if jump.what == "tone" else ("louder", "softer")
    return Finding(
        kind="level-step",
        start_s=int(place[0]) / FRAMES_PER_S,
        end_s=int(place[1]) / FRAMES_PER_S,
        severity="hear",
        value=abs(jump.by_db),
        limit=limit_db,
        unit="dB",
        advice=advice.format(more=words[jump.by_db < 0.0]),
    )
