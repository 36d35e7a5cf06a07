"""Pairs of phrase starts that may begin alike, as they become known: a fold over chunks.

What follows a pause is held against what followed every pause of the half minute before; those
that begin alike are measured whole.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.restart_alignment import columns_for, looks_both_ways
from quietleaf.listening.restart_measures import LOOK_ROWS
from quietleaf.listening.restart_memory import (
    SpeechMemory,
    forget,
    remember,
    rest_of_speech,
    speech_rows,
)
from quietleaf.listening.restart_pairs import Pair, pair_numbers
from quietleaf.listening.restart_rows import SpeechRows
from quietleaf.listening.sound_frames import SoundFrames

APART_FRAMES_MOST = 3000
AHEAD_FRAMES = 1000
"""What was read again is known so far when it is judged."""
PAUSE_FRAMES_MIN = 20
_ROWS_MIN = 4
_LOOKS = ((25, 0.45), (40, 0.5))
"""Rows, and the mean gain over them that restarts have: all but one of a hundred."""
_REMEMBERED_BEFORE = 100


@dataclass(slots=True, kw_only=True)
class PairMemory:
    """Speech, and the curves of starts along one another."""

    speech: SpeechMemory = field(default_factory=SpeechMemory)
    judged: int = 0
    starts: list[int] = field(default_factory=list)
    curves: dict[tuple[int, int], NDArray[np.float32]] = field(default_factory=dict)


def step_pairs(memory: PairMemory, chunk: SoundFrames, speech: NDArray[np.bool_]) -> list[Pair]:
    """Take the next chunk in; give the pairs that can be judged now and begin alike."""
    remember(memory.speech, chunk, speech)
    return _judge(memory, is_last=False)


def end_pairs(memory: PairMemory) -> list[Pair]:
    """Give the pairs that are left, as if silence followed."""
    rest_of_speech(memory.speech)
    return _judge(memory, is_last=True)


def judged_up_to(memory: PairMemory) -> int:
    """Give the frame before which no phrase is that was not judged."""
    phrases = memory.speech.phrases
    if memory.judged < len(phrases):
        return phrases[memory.judged].first
    return memory.speech.searched


def _judge(memory: PairMemory, *, is_last: bool) -> list[Pair]:
    rows = speech_rows(memory.speech)
    phrases = memory.speech.phrases
    found: list[Pair] = []
    while memory.judged < len(phrases):
        again = memory.judged
        horizon = phrases[again].first + AHEAD_FRAMES
        if horizon > memory.speech.asked and not is_last:
            break
        if phrases[again].pause >= PAUSE_FRAMES_MIN:
            found += _pairs_of(memory, rows, again, min(horizon, memory.speech.asked))
        memory.judged += 1
    _forget(memory)
    return found


def _pairs_of(memory: PairMemory, rows: SpeechRows, again: int, horizon: int) -> list[Pair]:
    phrases = memory.speech.phrases
    since = phrases[again].first - APART_FRAMES_MOST
    memory.starts = [start for start in memory.starts if phrases[start].first >= since]
    starts = memory.starts
    places = rows.frame.searchsorted([phrases[start].first for start in starts]).tolist()
    here = rows.row_at(phrases[again].first)
    if starts:
        _look(memory, rows, starts, places, again, here)
    found = []
    for before, place in zip(starts, places, strict=True):
        if not _begins_alike(memory.curves[before, again], here - place):
            continue
        near = [memory.curves[before, start] for start in starts if start != before]
        rivals = [memory.curves[start, again] for start in starts if start != before]
        numbers = pair_numbers(
            rows,
            phrases,
            before,
            again,
            horizon,
            np.array(near, dtype=np.float32).reshape(-1, LOOK_ROWS),
            np.array(rivals, dtype=np.float32).reshape(-1, LOOK_ROWS),
        )
        if numbers is None:
            continue
        found.append(Pair(before=phrases[before], again=phrases[again], numbers=numbers))
    memory.starts.append(again)
    return found


def _begins_alike(curve: NDArray[np.float32], length: int) -> bool:
    return length >= _ROWS_MIN and all(
        curve[min(length, rows) - 1] >= least * min(length, rows) for rows, least in _LOOKS
    )


def _look(
    memory: PairMemory,
    rows: SpeechRows,
    starts: list[int],
    places: list[int],
    again: int,
    here: int,
) -> None:
    """Lay the beginnings of a new start and of those before along one another, both ways.

    ``places`` and ``here`` are the rows where the starts, and the new one, begin.
    """
    width = columns_for(LOOK_ROWS)
    # One product of all rows: as many small ones take three times as long.
    gains = rows.gains(slice(places[0], places[-1] + width), slice(here, here + width))
    curves = np.empty((len(starts), 2, LOOK_ROWS), dtype=np.float32)
    looks_both_ways(gains, np.array(places) - places[0], width, curves)
    for start, (theirs, mine) in zip(starts, curves, strict=True):
        memory.curves[start, again] = theirs
        memory.curves[again, start] = mine


def _forget(memory: PairMemory) -> None:
    kept = set(memory.starts)
    memory.curves = {
        pair: curve for pair, curve in memory.curves.items() if pair[0] in kept and pair[1] in kept
    }
    phrases = memory.speech.phrases
    oldest = min(memory.starts, default=memory.judged)
    if oldest < len(phrases):
        forget(memory.speech, phrases[oldest].first - _REMEMBERED_BEFORE)
    else:
        forget(memory.speech, memory.speech.asked)
