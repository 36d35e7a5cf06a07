"""The two sides of a join: where a word has ended, where one begins, what room lies between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.join_early import voiced_runs
from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Event,
    Structure,
    events_between,
    floor_near,
    frame_starts,
    onset_frame,
    release_frame,
)

GUARD_S = 0.06
"""Before the level crosses the threshold: three quarters of all onsets begin later than that."""
SETTLED_S = 0.015
BREATH_GUARD_S = 0.04
"""Breaths begin softer than words: seen in spectrograms, not in the level."""
_BEFORE_EVENT_FRAMES = 4
_NEAR_S = 10.0
_EVENT_LOOK_S = 4.0
_BREATH_S = (0.08, 1.0)
_BREATH_GAP_S = 0.5
_BREATH_LOOK_S = 1.5
_BREATH_PARTS_GAP_S = 0.1
_BREATH_DB = 20.0
"""Breaths of readers reach 26.6 dB under the voice (95 %), no *s* is so long and so quiet."""
_TAIL_FRAMES = 4
_FIRST_GAP_S = 0.25
_FIRST_S = 0.3
"""What comes so near before a voice is its first consonant."""
_LAST_GAP_S = 0.15
_LAST_S = 0.35
_EXHALED_DB = 15.0
_LIPS_FRAMES = 36
_NOISE_S = 1.2
"""What sounds longer between a voice and the place is no paper: it is whispered."""
_LOW_S = 0.08
_LOW_HZ, _HIGH_HZ, _LOW_OVER = (80.0, 800.0), (2_500.0, 6_000.0), 4.0
_EVENT_DB = 6.0
_TOUCHING_GAP_S = 0.1
_TOUCHING_S = 0.6
_TOUCHING_DB = 18.0
"""Long, loud, and hardly apart from the word: a drawn *s*, a whispered syllable."""
_BURST_GAP_S = 0.25
_BURST_S = 0.15
_BURST_DB = 22.0
"""A last *t* comes late, is short, and louder than any breath."""


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
    spoken_from = {start for start, _ in voiced_runs(old, sample_rate_hz, structure)}
    voice = [run for run, start in enumerate(starts[runs[:, 0]].tolist()) if start in spoken_from]
    near = round(_NEAR_S * sample_rate_hz)
    spoken = [
        run
        for run in voice
        if starts[runs[run, 0]] < back and starts[runs[run, 1]] > max(earliest, back - near)
    ]
    if not spoken:
        return None
    last = spoken[-1]
    between = [run for run in range(last + 1, runs.shape[0]) if starts[runs[run, 0]] < back]
    if between and runs[between[-1], 1] - runs[between[0], 0] > _NOISE_S * FRAMES_PER_S:
        last = between[-1]
    for run in between:
        if run == last + 1 and (
            _ends(structure, last) or _is_low(old, sample_rate_hz, starts[runs[run]].tolist())
        ):
            last = run
    run_stop = int(runs[last, 1])
    latest = int(runs[last + 1, 0]) if last + 1 < runs.shape[0] else structure.level.size
    stop, released = _room_after(structure, run_stop, release_frame(structure, run_stop, latest))
    following = [
        int(starts[runs[run, 0] + 1])
        for run in voice
        if run > last and starts[runs[run, 0]] < until
    ]
    room_start, room_stop = int(starts[released]), int(starts[min(stop, starts.size - 1)])
    return OldSide(
        word_stop=int(starts[run_stop]),
        room_start=room_start,
        room_stop=max(room_start, room_stop),
        next_word=following[0] if following else None,
        floor_dbov=floor_near(structure, released, max(stop, released + 10)),
        level=structure.level,
    )


def new_side(
    structure: Structure,
    sample_rate_hz: int,
    *,
    voice: int,
    look_from: int,
    clean_from: int,
) -> NewSide:
    """Look at the beginning of a word, and at what comes before it.

    Parameters
    ----------
    voice : int
        Where its voice begins.
    look_from : int
        Nothing that is before this belongs to it.
    clean_from : int
        What is before this is no room tone.
    """
    starts = frame_starts(structure.level.size, sample_rate_hz)
    at, lowest = _frame_at(starts, voice), _frame_at(starts, look_from)
    runs = structure.runs
    run = int(np.searchsorted(runs[:, 1], at, side="right"))
    crossing = onset = at
    if run < runs.shape[0] and runs[run, 0] <= at + 2:
        while run > 0 and runs[run - 1, 0] >= lowest and _leads_in(structure, run - 1):
            run -= 1
        crossing = max(int(runs[run, 0]), lowest)
        before = int(runs[run - 1, 1]) if run else 0
        onset = onset_frame(structure, crossing, max(before, lowest))
        onset = _lips_frame(structure, onset, max(before, lowest))
    # What the lead-in leaves where it still leaks is no breath.
    breath_from = onset if clean_from >= starts[onset] else lowest
    begins, breath = _with_breath(structure, breath_from, onset)
    latest = min(
        int(starts[begins]) - round((BREATH_GUARD_S if breath else SETTLED_S) * sample_rate_hz),
        int(starts[crossing]) - round(GUARD_S * sample_rate_hz),
    )
    latest = max(latest, look_from)
    room_start = max(clean_from, int(starts[_room_before(structure, lowest, begins)]))
    return NewSide(
        word_start=int(starts[crossing + 1]),
        latest=latest,
        room_start=min(room_start, latest),
        breath=breath,
        floor_dbov=floor_near(structure, min(lowest, begins - 10), begins),
        level=structure.level,
    )


def _lips_frame(structure: Structure, onset: int, lowest: int) -> int:
    """Go back over a small sound of lips or throat right before a word: it begins so."""
    first = max(lowest, onset - _LIPS_FRAMES)
    settled = floor_near(structure, max(lowest, onset - 300), onset) + _EVENT_DB
    heard = np.flatnonzero(structure.level[first:onset] >= settled)
    # What goes on beyond is a breath, and looked at as one.
    if heard.size < 3 or heard[0] < 3:
        return onset
    return first + int(heard[0]) - 3


def _leads_in(structure: Structure, run: int) -> bool:
    """Say whether a run without a voice belongs to the word after it: rather too much than lost."""
    start, stop = structure.runs[run]
    gap_s = (structure.runs[run + 1, 0] - stop) / FRAMES_PER_S
    return bool(gap_s <= _FIRST_GAP_S and (stop - start) / FRAMES_PER_S <= _FIRST_S)


def _ends(structure: Structure, run: int) -> bool:
    """Say whether the run after this one is its last consonant, and no breath or rustle."""
    start, stop = structure.runs[run + 1]
    gap_s = (start - structure.runs[run, 1]) / FRAMES_PER_S
    length_s = (stop - start) / FRAMES_PER_S
    if gap_s <= _LAST_GAP_S and length_s <= _LAST_S:
        return True
    under = structure.speech_dbov - structure.level[start:stop].max()
    if gap_s <= _TOUCHING_GAP_S and length_s <= _TOUCHING_S:
        return bool(under <= _TOUCHING_DB)
    return bool(gap_s <= _BURST_GAP_S and length_s <= _BURST_S and under <= _BURST_DB)


def _is_low(samples: NDArray[np.float64], sample_rate_hz: int, place: list[int]) -> bool:
    """Say whether a sound lies low, as a word in a creaking voice does, and paper does not."""
    start, stop = place
    power = np.abs(np.fft.rfft(samples[start:stop])) ** 2
    hz = np.fft.rfftfreq(stop - start, 1.0 / sample_rate_hz)
    low = float(power[(hz >= _LOW_HZ[0]) & (hz < _LOW_HZ[1])].sum())
    high = float(power[(hz >= _HIGH_HZ[0]) & (hz < _HIGH_HZ[1])].sum())
    return stop - start >= _LOW_S * sample_rate_hz and low > _LOW_OVER * high


def _frame_at(starts: NDArray[np.int64], sample: int) -> int:
    return int(np.clip(np.searchsorted(starts, sample, side="right") - 1, 0, starts.size - 2))


def _room_after(structure: Structure, word_stop: int, released: int) -> tuple[int, int]:
    """Give where the room tone after a word ends, and where it begins."""
    look = min(structure.level.size, released + round(_EVENT_LOOK_S * FRAMES_PER_S))
    for event in events_between(structure, released, look):
        touches = event.start <= released + _TAIL_FRAMES
        quiet = event.peak_dbov <= structure.speech_dbov - _EXHALED_DB
        if touches and quiet and event.stop - event.start <= _LAST_S * FRAMES_PER_S:
            # The room answers the word, or the reader breathes out: there is nothing to part them.
            released = release_frame(structure, event.stop, look)
            continue
        if _is_burst(structure, event, (event.start - word_stop) / FRAMES_PER_S, _BURST_GAP_S):
            released = release_frame(structure, event.stop, look)
            continue
        begins = onset_frame(structure, event.start, released)
        return max(released, begins - _BEFORE_EVENT_FRAMES), released
    return look, released


def _with_breath(structure: Structure, lowest: int, onset: int) -> tuple[int, bool]:
    """Go back over the breath that a word is spoken on; give where all of it begins."""
    begins = onset
    lowest = max(lowest, onset - round(_BREATH_LOOK_S * FRAMES_PER_S))
    breath = False
    for event in reversed(events_between(structure, lowest, onset)):
        gap_s = (begins - event.stop) / FRAMES_PER_S
        if breath and gap_s > _BREATH_PARTS_GAP_S:
            break
        if _is_breath(structure, event, gap_s):
            breath = True
        elif breath or not _is_burst(structure, event, gap_s, _FIRST_GAP_S):
            break
        begins = onset_frame(structure, event.start, lowest)
    return begins, breath


def _is_burst(structure: Structure, event: Event, gap_s: float, most_s: float) -> bool:
    """Say whether a sound too short for a run is a consonant of the word that is near it."""
    return (
        event.loud
        and gap_s <= most_s
        and event.stop - event.start <= _BURST_S * FRAMES_PER_S
        and event.peak_dbov >= structure.speech_dbov - _BURST_DB
    )


def _is_breath(structure: Structure, event: Event, gap_s: float) -> bool:
    length_s = (event.stop - event.start) / FRAMES_PER_S
    return (
        _BREATH_S[0] <= length_s <= _BREATH_S[1]
        and gap_s <= _BREATH_GAP_S
        and event.peak_dbov <= structure.speech_dbov - _BREATH_DB
    )


def _room_before(structure: Structure, lowest: int, begins: int) -> int:
    """Give where the room tone before a word, or before its breath, begins."""
    events = events_between(structure, lowest, begins)
    if not events:
        return lowest
    return min(begins, release_frame(structure, events[-1].stop, begins))
