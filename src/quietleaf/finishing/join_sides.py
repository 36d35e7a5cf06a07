"""The two sides of a join: where a word has ended, where one begins, what room lies between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Event,
    Structure,
    events_between,
    floor_near,
    frame_starts,
    onset_frame,
    release_frame,
    smooth_level,
)
from quietleaf.listening.take_edges import word_edges

GUARD_S = 0.06
"""Before the level crosses the threshold: three quarters of all onsets begin later than that."""
SETTLED_S = 0.015
_BEFORE_EVENT_FRAMES = 4
_NEAR_S = 10.0
_EVENT_LOOK_S = 4.0
_BREATH_S = (0.08, 1.0)
_BREATH_GAP_S = 0.5
_BREATH_DB = 20.0
"""Breaths of readers reach 26.6 dB under the voice (95 %), no *s* is so long and so quiet."""
_TAIL_FRAMES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class OldSide:
    """What the programme leaves off after; in samples of the old sound.

    Attributes
    ----------
    word_stop : int
        Where the last word falls under the speech threshold.
    room_start, room_stop : int
        From the end of its release to before whatever is heard next; empty where that touches it.
    next_word : int or None
        Where the next word crosses the threshold, if there is one.
    floor_dbov : float
    level : ndarray
        The structure's, for the quietest place.
    """

    word_stop: int
    room_start: int
    room_stop: int
    next_word: int | None
    floor_dbov: float
    level: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSide:
    """What the programme goes on with; in samples of the new sound.

    Attributes
    ----------
    word_start : int
        Where the first word crosses the speech threshold.
    latest : int
        The last place at which nothing of the word, or of the breath before it, is lost.
    room_start : int
        From here to ``latest`` there is room tone; ``latest`` where there is none.
    breath : bool
        A breath belongs to the word.
    """

    word_start: int
    latest: int
    room_start: int
    breath: bool
    floor_dbov: float
    level: NDArray[np.float64]


def old_side(
    old: NDArray[np.float64],
    sample_rate_hz: int,
    structure: Structure,
    *,
    back: int,
    earliest: int,
    until: int,
) -> OldSide | None:
    """Look at the end of the last word before a place, and at what follows.

    Parameters
    ----------
    back : int
        In the pause after the word. Inside a word, that word is let end.
    earliest : int
        What is before this does not count.
    until : int
        What comes from here on is not the old sentence any more.

    Returns
    -------
    side : OldSide or None
        None where there is no word before the place.
    """
    starts = frame_starts(structure.level.size, sample_rate_hz)
    runs = structure.runs
    begin = max(earliest, back - round(_NEAR_S * sample_rate_hz))
    reach = back
    for first, stop in runs.tolist():
        if starts[first] < back <= starts[stop]:
            reach = int(
                starts[min(release_frame(structure, stop, starts.size - 1), starts.size - 1)]
            )
    edges = word_edges(old[begin:reach], sample_rate_hz)
    if edges is None:
        return None
    word_end = begin + edges.last_word_end
    last = np.flatnonzero(starts[runs[:, 0]] < word_end)
    if last.size == 0:
        return None
    run_stop = int(runs[last[-1], 1])
    released = max(_frame_at(starts, word_end), run_stop)
    if word_end >= reach - round(SETTLED_S * sample_rate_hz):
        following = runs[runs[:, 0] >= run_stop, 0]
        latest = int(following[0]) if following.size else structure.level.size
        released = max(released, release_frame(structure, run_stop, latest))
    stop, released = _room_after(structure, released)
    next_word = _next_word(old, sample_rate_hz, structure, starts, int(starts[released]), until)
    room_stop = int(starts[min(stop, starts.size - 1)])
    room_start = int(starts[min(released, starts.size - 1)])
    return OldSide(
        word_stop=int(starts[run_stop]),
        room_start=room_start,
        room_stop=max(room_start, room_stop),
        next_word=next_word,
        floor_dbov=floor_near(structure, released, max(stop, released + 10)),
        level=structure.level,
    )


def new_side(
    heard: NDArray[np.float64],
    sample_rate_hz: int,
    structure: Structure,
    *,
    look_from: int,
    clean_from: int,
) -> NewSide | None:
    """Look at the beginning of the first word after a place, and at what comes before it.

    Parameters
    ----------
    look_from : int
        The first voice from here on is the word's.
    clean_from : int
        What is before this is no room tone.

    Returns
    -------
    side : NewSide or None
        None where there is no voice.
    """
    edges = word_edges(
        heard[look_from : look_from + round(_NEAR_S * sample_rate_hz)], sample_rate_hz
    )
    if edges is None:
        return None
    starts = frame_starts(structure.level.size, sample_rate_hz)
    word = _frame_at(starts, look_from + edges.first_word)
    lowest = _frame_at(starts, look_from)
    runs = structure.runs
    at = np.flatnonzero(runs[:, 1] > word)
    crossing = onset = word
    if at.size and runs[at[0], 0] >= word:
        crossing = int(runs[at[0], 0])
        before = int(runs[at[0] - 1, 1]) if at[0] else 0
        onset = min(word, onset_frame(structure, crossing, max(before, lowest)))
    begins, breath = _with_breath(structure, lowest, onset)
    latest = min(
        int(starts[begins]) - round(SETTLED_S * sample_rate_hz),
        int(starts[crossing]) - round(GUARD_S * sample_rate_hz),
    )
    latest = max(latest, look_from)
    room_start = max(clean_from, int(starts[_room_before(structure, lowest, begins)]))
    return NewSide(
        word_start=int(starts[min(crossing + 1, starts.size - 1)]),
        latest=latest,
        room_start=min(room_start, latest),
        breath=breath,
        floor_dbov=floor_near(structure, min(lowest, begins - 10), begins),
        level=structure.level,
    )


def _frame_at(starts: NDArray[np.int64], sample: int) -> int:
    return int(np.clip(np.searchsorted(starts, sample, side="right") - 1, 0, starts.size - 2))


def _room_after(structure: Structure, released: int) -> tuple[int, int]:
    """Give where the room tone after a word ends, and where it begins."""
    look = min(structure.level.size, released + round(_EVENT_LOOK_S * FRAMES_PER_S))
    for event in events_between(structure, released, look):
        if event.start <= released + _TAIL_FRAMES and not event.loud:
            smooth = smooth_level(structure, event.start, event.stop)
            if int(np.argmax(smooth)) <= _TAIL_FRAMES:
                # It only falls: the room answers the word.
                released = event.stop
                continue
        begins = onset_frame(structure, event.start, released)
        return max(released, begins - _BEFORE_EVENT_FRAMES), released
    return look, released


def _next_word(
    old: NDArray[np.float64],
    sample_rate_hz: int,
    structure: Structure,
    starts: NDArray[np.int64],
    start: int,
    until: int,
) -> int | None:
    stop = min(until, start + round(_NEAR_S * sample_rate_hz))
    edges = word_edges(old[start:stop], sample_rate_hz) if start < stop else None
    if edges is None:
        return None
    word = _frame_at(starts, start + edges.first_word)
    runs = structure.runs
    at = np.flatnonzero(runs[:, 1] > word)
    crossing = max(word, int(runs[at[0], 0])) if at.size else word
    return int(starts[min(crossing + 1, starts.size - 1)])


def _with_breath(structure: Structure, lowest: int, onset: int) -> tuple[int, bool]:
    """Go back over the breath that a word is spoken on; give where all of it begins."""
    begins = onset
    for event in reversed(events_between(structure, lowest, onset)):
        if not _is_breath(structure, event, begins):
            break
        begins = onset_frame(structure, event.start, lowest)
    return begins, begins < onset


def _is_breath(structure: Structure, event: Event, before: int) -> bool:
    length_s = (event.stop - event.start) / FRAMES_PER_S
    return (
        _BREATH_S[0] <= length_s <= _BREATH_S[1]
        and (before - event.stop) / FRAMES_PER_S <= _BREATH_GAP_S
        and event.peak_dbov <= structure.speech_dbov - _BREATH_DB
    )


def _room_before(structure: Structure, lowest: int, begins: int) -> int:
    """Give where the room tone before a word, or before its breath, begins."""
    events = events_between(structure, lowest, begins)
    if not events:
        return lowest
    return min(begins, release_frame(structure, events[-1].stop, begins))
