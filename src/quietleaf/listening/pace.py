"""Pace: syllables told by their nuclei, and what that comes to in words a minute."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import FRAMES_PER_S, ROOM_S
from quietleaf.listening.series import Series
from quietleaf.listening.sound_frames import SoundFrames
from quietleaf.listening.speech import pauses_between
from quietleaf.sound.compiled import kernel

SYLLABLES_A_WORD = 1.45
"""Ours: ten readers of English with known texts speak 1.2 to 1.6, so that words a minute may be a
tenth wrong where no words of the reading are known."""
WORD_SYLLABLES = (0.8, 4.0)
"""A language or a mistake outside of this is not believed. Ours."""
SYLLABLES_A_NUCLEUS = 1.047
"""Ours, from the same: nuclei found for syllables spoken, 0.955 on average."""
MINUTE_S = 60.0
_BANDS = slice(3, 7)
"""315 to 2500 Hz, where vowels are."""
_SMOOTH = np.array([0.0366, 0.125, 0.2134, 0.25, 0.2134, 0.125, 0.0366])
"""A Hann window of 90 ms."""
_DIP_DB = 1.5
_UNDER_TOP_DB = 25.0
_PERIODIC_MIN = 0.3
_TOP_SHARE = 0.95
_KEPT_A_CHUNK = 0.93
"""The top remembers about five minutes."""
_LOWEST_DB = -120.0
_STEPS = 256
_STEPS_A_DB = 2.0
_WHOLE_S_MIN = 5.0
"""The shortest that the figures of docs/hearing.md are for; in less a syllable says too much."""
_COUNTED_S_MIN = 10.0
_WORDS_MIN = 10
_ROOM_NUCLEI_A_S = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceStretch:
    """How fast somebody read for a minute; None where hardly anybody spoke."""

    start_s: float
    end_s: float
    syllables_per_minute: float | None
    words_per_minute: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How fast a recording was read, pauses between sentences counted in, dead air not.

    Attributes
    ----------
    syllables_per_minute, words_per_minute : float or None
        Of the whole; None of 5 s or less from first word to last.
    stretches : tuple of PaceStretch
        Minute by minute; a last one under 30 s is left out.
    """

    syllables_per_minute: float | None
    words_per_minute: float | None
    stretches: tuple[PaceStretch, ...]


@dataclass(slots=True, kw_only=True)
class PaceMemory:
    """What is kept from chunk to chunk.

    Attributes
    ----------
    nuclei : Series
        Frames of the nuclei found so far.
    powers, periodic : ndarray
        The last six frames, for what is smoothed over seven.
    walk : ndarray, shape (4,)
        Whether the level falls (1) or rises (0), its last extreme in dB, the frame of that, and
        how periodic the sound was there.
    """

    nuclei: Series = field(default_factory=lambda: Series(np.uint32, ROOM_S * _ROOM_NUCLEI_A_S))
    powers: NDArray[np.float64] = field(default_factory=lambda: np.zeros(6))
    periodic: NDArray[np.float32] = field(default_factory=lambda: np.zeros(6, dtype=np.float32))
    histogram: NDArray[np.float64] = field(default_factory=lambda: np.zeros(_STEPS))
    walk: NDArray[np.float64] = field(default_factory=lambda: np.array([0.0, _LOWEST_DB, 0.0, 0.0]))


def step_pace(memory: PaceMemory, chunk: SoundFrames, speech: NDArray[np.bool_]) -> None:
    """Find the nuclei of a chunk.

    Parameters
    ----------
    speech : ndarray, shape (k,)
        Which frames of the chunk are a voice; nuclei elsewhere do not count.

    Notes
    -----
    A nucleus is a peak of the power from 315 to 2500 Hz, smoothed over seven frames, at most
    25 dB under the 95th percentile of the last minutes, of a sound that repeats itself, with a dip
    of 1.5 dB before the next. After Mermelstein 1975 and de Jong and Wempe 2009, whose limits are
    others; the numbers are ours, from readers with known texts.
    """
    power = (10.0 ** (chunk.spectra.bands_dbov[:, _BANDS].astype(np.float64) / 10.0)).sum(axis=1)
    powers = np.concatenate([memory.powers, power])
    periodic = np.concatenate([memory.periodic, chunk.spectra.periodic])
    level = 10.0 * np.log10(np.convolve(powers, _SMOOTH, mode="valid") + 1e-12)
    memory.histogram *= _KEPT_A_CHUNK
    memory.histogram += np.bincount(_steps(level), minlength=_STEPS)
    sums = np.cumsum(memory.histogram)
    top = int(np.searchsorted(sums, _TOP_SHARE * sums[-1])) / _STEPS_A_DB + _LOWEST_DB
    found = np.empty(level.size, dtype=np.uint32)
    # The middle of the smoothing lies three frames back.
    first = chunk.first - 3
    count = _walk(level, periodic, first, top - _UNDER_TOP_DB, memory.walk, found)
    places = found[:count].astype(np.int64) - chunk.first
    memory.nuclei.extend(found[:count][speech[np.maximum(places, 0)]])
    memory.powers, memory.periodic = powers[-6:], periodic[-6:]


def syllables_a_word(
    nuclei: NDArray[np.generic], places_s: NDArray[np.float64], words: int
) -> float:
    """Say how many syllables this reader's words have, from places whose words were counted.

    Parameters
    ----------
    nuclei : ndarray, shape (n,), uint32
        Frames of nuclei, in order.
    places_s : ndarray, shape (k, 2), seconds
        Sorted, apart.
    words : int
        Counted in all of the places.

    Examples
    --------
    >>> nuclei = np.arange(0, 6_000, 25).astype(np.uint32)
    >>> round(syllables_a_word(nuclei, np.array([[0.0, 10.0], [20.0, 30.0]]), 50), 2)
    1.68
    """
    edges = np.searchsorted(nuclei, np.rint(places_s * FRAMES_PER_S))
    found = int((edges[:, 1] - edges[:, 0]).sum())
    told = SYLLABLES_A_NUCLEUS * found / max(1, words)
    least, most = WORD_SYLLABLES
    return told if words >= _WORDS_MIN and least <= told <= most else SYLLABLES_A_WORD


def pace_of(
    nuclei: NDArray[np.generic],
    speech_s: NDArray[np.float64],
    dead_air_s: float,
    syllables_of_word: float = SYLLABLES_A_WORD,
) -> Pace:
    """Say how fast it was read.

    Parameters
    ----------
    nuclei : ndarray, shape (n,), uint32
        Frames of nuclei, in order.
    speech_s : ndarray, shape (k, 2), seconds
        Stretches of speech.
    dead_air_s : float
        Pauses longer than this are no part of the time.

    Examples
    --------
    Four syllables a second for two minutes, with ten seconds of dead air between:

    >>> first = np.arange(0, 6_000, 25)
    >>> nuclei = np.concatenate([first, first + 7_000]).astype(np.uint32)
    >>> pace = pace_of(nuclei, np.array([[0.0, 60.0], [70.0, 130.0]]), 5.0)
    >>> round(pace.syllables_per_minute), round(pace.words_per_minute), len(pace.stretches)
    (251, 173, 2)
    """
    if not len(speech_s):
        return Pace(syllables_per_minute=None, words_per_minute=None, stretches=())
    times_s = nuclei.astype(np.float64) / FRAMES_PER_S
    first_s, last_s = float(speech_s[0, 0]), float(speech_s[-1, 1])
    pauses_s = pauses_between(speech_s)
    dead_s = pauses_s[pauses_s[:, 1] - pauses_s[:, 0] > dead_air_s]
    whole = _rate(times_s, dead_s, first_s, last_s, _WHOLE_S_MIN)
    stretches = []
    for start_s in np.arange(first_s, last_s - MINUTE_S / 2, MINUTE_S):
        end_s = min(float(start_s) + MINUTE_S, last_s)
        rate = _rate(times_s, dead_s, float(start_s), end_s, _COUNTED_S_MIN)
        stretches.append(
            PaceStretch(
                start_s=float(start_s),
                end_s=end_s,
                syllables_per_minute=rate,
                words_per_minute=rate / syllables_of_word if rate is not None else None,
            )
        )
    return Pace(
        syllables_per_minute=whole,
        words_per_minute=whole / syllables_of_word if whole is not None else None,
        stretches=tuple(stretches),
    )


def _rate(
    times_s: NDArray[np.float64],
    dead_s: NDArray[np.float64],
    start_s: float,
    end_s: float,
    counted_s_min: float,
) -> float | None:
    """Give syllables a minute between two moments, dead air left out."""
    inside_s = np.clip(dead_s, start_s, end_s)
    counted_s = end_s - start_s - float((inside_s[:, 1] - inside_s[:, 0]).sum())
    if counted_s <= counted_s_min:
        return None
    found = np.count_nonzero((times_s >= start_s) & (times_s < end_s))
    return SYLLABLES_A_NUCLEUS * found * MINUTE_S / counted_s


def _steps(level: NDArray[np.float64]) -> NDArray[np.int64]:
    steps = np.rint((level - _LOWEST_DB) * _STEPS_A_DB)
    return np.clip(steps, 0, _STEPS - 1).astype(np.int64)


@kernel
def _walk(
    level: NDArray[np.float64],
    periodic: NDArray[np.float32],
    first: int,
    least_db: float,
    walk: NDArray[np.float64],
    found: NDArray[np.uint32],
) -> int:
    """Go on from extreme to extreme; ``periodic`` has six frames more than ``level``, in front."""
    count = 0
    for index in range(level.size):
        now = level[index]
        if walk[0] == 0.0:
            if now > walk[1]:
                walk[1] = now
                walk[2] = first + index
                walk[3] = 0.0
                for near in range(index + 1, index + 6):
                    walk[3] = max(walk[3], periodic[near])
            elif now < walk[1] - _DIP_DB:
                if walk[1] > least_db and walk[3] > _PERIODIC_MIN and walk[2] >= 0.0:
                    found[count] = np.uint32(walk[2])
                    count += 1
                walk[0] = 1.0
                walk[1] = now
        else:
            if now < walk[1]:
                walk[1] = now
            elif now > walk[1] + _DIP_DB:
                walk[0] = 0.0
                walk[1] = now
                walk[2] = first + index
    return count
