"""Popped consonants in a recording: breath that strikes the microphone, far below the voice."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.hearing import Level
from quietleaf.listening.limits import HearingLimits
from quietleaf.sound.band_pass import band_pass_sections, run_sections

_BAND_HZ = (18.0, 65.0)
_ORDER = 4
_DELAY_FRAMES = 2
_LOWEST_DB = -100.0
_NEAR_FRAMES = 300
_LOOK_FRAMES = 50
_NEAR_SHARE = 0.98
_OVER_NEAR_DB = (2.0, 20.0)
_BEFORE_FRAMES = slice(-15, -6)
_OVER_BEFORE_DB = (8.0, 40.0)
_NEAR_WEIGHT, _BEFORE_WEIGHT = 4.0 / 3.0, 1.0 / 3.0
_STANDS_OUT_DB = 29.0
_ALONE_FRAMES = 15
_UNDER_PEAK_DB = 10.0
_LONGEST_FRAMES = 12
_BURST_FRAMES = 8
_BEFORE_VOICE_FRAMES = 20
_VOICE_UNDER_DB = 15.0
_SHORT = ("noise", "click")
_SHORT_S = 0.25
_NOT_INSIDE = ("clip", "cough", "rustle", "noise", "breath", "click")


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """Something short and low.

    Attributes
    ----------
    first, stop : int
        Frames.
    peak_db : float
    clear_db : float
        What is asked for less of a peak: how far this one stands out from what is around.
    voice_dbov : float
        The loudest frame after it.
    """

    first: int
    stop: int
    peak_db: float
    clear_db: float
    voice_dbov: float


@dataclass(slots=True, kw_only=True)
class PopMemory:
    """What was heard of pops so far.

    Attributes
    ----------
    rate_hz : float
        Of the low sound.
    state : ndarray, shape (4, c, 2) or None
        Of the filter.
    peaks, levels : ndarray, shape (k,), dB
        Greatest magnitude of the band in each frame, and the level of the voice, as far back as
        they are still needed; the first is frame ``first``.
    looked : int
        Frames before this one are done with.
    """

    rate_hz: float
    state: NDArray[np.float64] | None = None
    peaks: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    levels: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    first: int = 0
    looked: int = 0
    found: list[Burst] = field(default_factory=list)


def step_pops(memory: PopMemory, low: NDArray[np.float64], level_dbov: NDArray[np.float32]) -> None:
    """Take in the low sound of the next chunk, shape (c, n), and the levels of its frames."""
    sections = _sections(memory.rate_hz)
    if memory.state is None:
        memory.state = np.zeros((sections.shape[0], low.shape[0], 2))
    filtered = run_sections(low, sections, memory.state)
    starts = np.arange(level_dbov.size) * memory.rate_hz / FRAMES_PER_S
    starts = np.floor(starts + 0.5).astype(np.int64)
    starts = starts[starts < low.shape[1]]
    if starts.size == 0:
        return
    most = np.maximum.reduceat(np.abs(filtered).max(axis=0), starts)
    peaks = 20.0 * np.log10(np.maximum(most, 1e-6))
    levels = level_dbov[: peaks.size].astype(np.float64)
    memory.peaks = np.concatenate([memory.peaks, peaks])
    memory.levels = np.concatenate([memory.levels, levels])
    known = memory.first + memory.peaks.size - _NEAR_FRAMES
    _look(memory, known // _LOOK_FRAMES * _LOOK_FRAMES)


def pop_findings(
    memory: PopMemory, level: Level, others: list[Finding], limits: HearingLimits
) -> list[Finding]:
    """Turn what was heard into findings.

    Parameters
    ----------
    others : list of Finding
        A burst inside clipping, a cough or another noise is none: it is theirs.

    Returns
    -------
    findings : list of Finding
        Kind ``pop``; value and limit are the peak between 18 and 65 Hz over the level of speech.

    Notes
    -----
    Peaks of 10 ms after a band-pass (Butterworth, 4th order), the greatest of 0.3 s, over within
    0.12 s, with speech after it within 0.28 s. The more a burst stands out, the less it must peak:
    the limit is 29 dB, less 4/3 of how far it lies over the 98th percentile of 3 s either side (up
    to 20 dB) and 1/3 of how far over what was 60 to 150 ms before (up to 40 dB). So a low voice
    and steady rumble hide what is no louder, and a reader who pops all the time is heard to.
    Weights and limit are a logistic regression on made pops in eleven voices, rounded. Ours.
    """
    last = replace(memory, found=list(memory.found))
    _look(last, last.first + last.peaks.size)
    speech_dbov = level.active_speech_dbov
    if speech_dbov is None:
        return []
    found = []
    for burst in last.found:
        over_db = burst.peak_db - speech_dbov
        limit_db = _STANDS_OUT_DB - burst.clear_db
        if over_db < limit_db or burst.voice_dbov < speech_dbov - _VOICE_UNDER_DB:
            continue
        start_s = max(0, burst.first - _DELAY_FRAMES) / FRAMES_PER_S
        end_s = burst.stop / FRAMES_PER_S
        if any(
            other.kind in _NOT_INSIDE and not _is_the_pop(other) and _overlap(other, start_s, end_s)
            for other in others
        ):
            continue
        found.append(
            Finding(
                kind="pop",
                start_s=start_s,
                end_s=end_s,
                severity="hear" if over_db >= limits.pop_over_speech_db else "note",
                value=over_db,
                limit=limit_db,
                unit="dB over the voice",
                advice="A consonant popped: breath struck the microphone. "
                "If it thumps, place the microphone a little to the side of the mouth.",
            )
        )
    return found


def with_pops(findings: list[Finding], pops: list[Finding]) -> list[Finding]:
    """Put pops among findings, in place of what was told of the same burst without a name."""
    others = [
        other
        for other in findings
        if not (_is_the_pop(other) and any(_overlap(other, pop.start_s, pop.end_s) for pop in pops))
    ]
    return [*others, *pops]


def _is_the_pop(other: Finding) -> bool:
    """Tell whether a finding may be a pop that was taken for a short noise."""
    return other.kind in _SHORT and other.end_s - other.start_s < _SHORT_S


def _overlap(other: Finding, start_s: float, end_s: float) -> bool:
    return other.start_s < end_s and other.end_s > start_s


def _look(memory: PopMemory, until: int) -> None:
    """Look for bursts in frames before ``until`` and let go of what is no longer needed."""
    peaks, first = memory.peaks, memory.first
    while memory.looked < until:
        stop = min(memory.looked + _LOOK_FRAMES, until)
        at, end = memory.looked - first, stop - first
        near = peaks[max(0, at - _NEAR_FRAMES) : end + _NEAR_FRAMES]
        rank = int(_NEAR_SHARE * (near.size - 1))
        usual = float(np.partition(near, rank)[rank])
        for place in at + np.flatnonzero(peaks[at:end] >= usual + _OVER_NEAR_DB[0]):
            burst = _burst(memory, int(place), usual)
            if burst is not None:
                memory.found.append(burst)
        memory.looked = stop
    gone = max(0, memory.looked - _NEAR_FRAMES - first)
    memory.peaks, memory.levels = memory.peaks[gone:].copy(), memory.levels[gone:].copy()
    memory.first = first + gone


def _burst(memory: PopMemory, place: int, usual_db: float) -> Burst | None:
    """Describe what peaks at a place, if it is the greatest near by, sudden and short."""
    peaks = memory.peaks
    peak = float(peaks[place])
    around = peaks[max(0, place - _ALONE_FRAMES) : place + _ALONE_FRAMES + 1]
    before = peaks[max(0, place + _BEFORE_FRAMES.start) : max(0, place + _BEFORE_FRAMES.stop)]
    over_before_db = peak - float(before.max()) if before.size else _OVER_BEFORE_DB[1]
    if peak < around.max() or over_before_db < _OVER_BEFORE_DB[0]:
        return None
    least = peak - _UNDER_PEAK_DB
    start = stop = place
    while start > 0 and peaks[start - 1] > least and stop - start <= _LONGEST_FRAMES:
        start -= 1
    while stop < peaks.size and peaks[stop] > least and stop - start <= _LONGEST_FRAMES:
        stop += 1
    if stop - start > _LONGEST_FRAMES:
        return None
    clear_db = _NEAR_WEIGHT * min(peak - usual_db, _OVER_NEAR_DB[1])
    clear_db += _BEFORE_WEIGHT * min(over_before_db, _OVER_BEFORE_DB[1])
    after = memory.levels[place + _BURST_FRAMES :][:_BEFORE_VOICE_FRAMES]
    return Burst(
        first=memory.first + start,
        stop=memory.first + stop,
        peak_db=peak,
        clear_db=clear_db,
        voice_dbov=float(after.max()) if after.size else _LOWEST_DB,
    )


@lru_cache
def _sections(rate_hz: float) -> NDArray[np.float64]:
    return band_pass_sections(*_BAND_HZ, rate_hz, _ORDER)
