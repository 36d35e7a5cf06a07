"""The head and the tail: where the first syllable begins, where the last word ends.

A breath, a page or a chair before the first word, or after the last, is told from speech by its
distance, its level, and by whether it is voiced.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.ranges import Sound, without_rumble
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.finishing.voicing import HOP_S, voiced
from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Structure,
    onset_frame,
    release_frame,
    smooth_level,
)

VOICED_S = 0.05
"""A run with less of a voice in it is not taken for a word."""
_WORD_DB = 15.0
_CONSONANT_GAP_S = 0.12
_CONSONANT_S = 0.2
_CONSONANT_DB = 18.0
_FINAL_GAP_S = 0.15
_FINAL_S = 0.35
_LOUD_GAP_S = 0.3
_LOUD_S = 0.4
_FINAL_LOUD_GAP_S = 0.8
_LOUD_DB = 12.0
_FINAL_LOUD_DB = 15.0
_LEAD_IN_S = 0.2
_BREATH_DB = 20.0
_DIP_DB = 5.0
_EVENT_DB = 6.0
_EVENT_FRAMES = 16
_SMOOTH_FRAMES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """The first or the last word of a reading.

    Attributes
    ----------
    run : int
        The run of sound that it begins in (the first), or ends in (the last).
    frame : int
        Where its onset begins, or its release ends.
    voiced_s : float
        How much voice the run has that was taken for a word.
    """

    run: int
    frame: int
    voiced_s: float


def first_word(structure: Structure, sound: Sound) -> Word | None:
    """Find the first syllable; None where nothing is voiced."""
    runs = structure.runs
    for run in range(runs.shape[0]):
        mask = _voice_of(structure, sound, run)
        if mask is not None:
            break
    else:
        return None
    begins = run
    while begins > 0 and _leads_in(structure, begins - 1):
        begins -= 1
    earliest = int(runs[begins - 1, 1]) if begins else 0
    frame = onset_frame(structure, int(runs[begins, 0]), earliest)
    if begins == run:
        frame = max(frame, _after_loud_breath(structure, run, mask))
    return Word(run=begins, frame=frame, voiced_s=float(mask.sum()) * HOP_S)


def last_word(structure: Structure, sound: Sound) -> Word | None:
    """Find the end of the last word; None where nothing is voiced."""
    runs = structure.runs
    for run in range(runs.shape[0] - 1, -1, -1):
        mask = _voice_of(structure, sound, run)
        if mask is not None:
            break
    else:
        return None
    ends = run
    while ends + 1 < runs.shape[0] and _follows(structure, ends + 1):
        ends += 1
    latest = int(runs[ends + 1, 0]) if ends + 1 < runs.shape[0] else structure.level.size
    frame = release_frame(structure, int(runs[ends, 1]), latest)
    return Word(run=ends, frame=frame, voiced_s=float(mask.sum()) * HOP_S)


def is_voiced(sound: Sound, start_frame: int, stop_frame: int) -> bool:
    """Say whether there is a voice in a range of frames."""
    heard = without_rumble(sound, start_frame * FRAME_SAMPLES, (stop_frame + 1) * FRAME_SAMPLES)
    return float(voiced(heard).sum()) * HOP_S >= VOICED_S


def _voice_of(structure: Structure, sound: Sound, run: int) -> NDArray[np.bool_] | None:
    """Give where a run is voiced, if that is enough for a word."""
    start, stop = structure.runs[run]
    if structure.level[start:stop].max() < structure.speech_dbov - _WORD_DB:
        return None
    heard = without_rumble(sound, int(start) * FRAME_SAMPLES, int(stop + 1) * FRAME_SAMPLES)
    mask = voiced(heard)
    return mask if float(mask.sum()) * HOP_S >= VOICED_S else None


def _leads_in(structure: Structure, run: int) -> bool:
    """Say whether a run without a voice belongs to the word after it: a consonant, not a breath."""
    start, stop = structure.runs[run]
    gap_s = (structure.runs[run + 1, 0] - stop) / FRAMES_PER_S
    under = structure.speech_dbov - structure.level[start:stop].max()
    length_s = (stop - start) / FRAMES_PER_S
    if gap_s <= _CONSONANT_GAP_S and length_s <= _CONSONANT_S and under <= _CONSONANT_DB:
        return True
    return bool(gap_s <= _LOUD_GAP_S and length_s <= _LOUD_S and under <= _LOUD_DB)


def _follows(structure: Structure, run: int) -> bool:
    """Say whether a run without a voice belongs to the word before it."""
    start, stop = structure.runs[run]
    gap_s = (start - structure.runs[run - 1, 1]) / FRAMES_PER_S
    under = structure.speech_dbov - structure.level[start:stop].max()
    if gap_s <= _FINAL_GAP_S and (stop - start) / FRAMES_PER_S <= _FINAL_S:
        return True
    return bool(gap_s <= _FINAL_LOUD_GAP_S and under <= _FINAL_LOUD_DB)


def _after_loud_breath(structure: Structure, run: int, mask: NDArray[np.bool_]) -> int:
    """Leave out a breath that reaches the threshold and has only a dip between it and the word.

    It must be quieter than any *s*: a first consonant clipped is worse than a breath left in.
    """
    start = int(structure.runs[run, 0])
    voice = start + int(np.argmax(mask) * HOP_S * FRAMES_PER_S)
    if voice - start < _LEAD_IN_S * FRAMES_PER_S:
        return 0
    smooth = smooth_level(structure, start, voice)
    guard = int(0.06 * FRAMES_PER_S)
    hump = int(np.argmax(smooth[:-guard]))
    if smooth[hump] > structure.speech_dbov - _BREATH_DB:
        return 0
    dip = hump + int(np.argmin(smooth[hump:]))
    return start + dip if smooth[hump] - smooth[dip] >= _DIP_DB else 0
