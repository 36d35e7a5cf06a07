"""Where the voice is: levels, runs of sound, their edges in room tone, and what lies in a pause.

Levels are those of 10 ms frames every 5 ms after an 80 Hz high-pass, in dB relative to RMS 1.0
(dBov). The rules are those of the finishing: a place that is found here can be cut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from quietleaf.listening.mask_ranges import ranges_of

FRAMES_PER_S = 200
HEARD_DB = 58.0
"""What lies further below the voice is not heard, and is taken to lie there."""
_HIGH_PASS_HZ = 80.0
_HIGH_PASS_ORDER = 2
_ACTIVE_DB = 16.0
_THRESHOLD_DB = 26.0
_CLOSE_FLOOR_DB = 32.0
_THRESHOLD_SHARE = 0.38
_OVER_FLOOR_DB = 6.0
_SETTLED_DB = 4.0
_SETTLED_FRAMES = 3
"""Room tone has come when 15 ms lie under the floor + 4 dB; 15 ms more are left to the speech."""
_JOINED_FRAMES = 6
"""Gaps of up to 30 ms are part of a run: stops inside words."""
_SHORTEST_RUN_FRAMES = 4
_BREATH_FRAMES = 24
_DIP_DB = 5.0
_FLOOR_NEAR_FRAMES = 300
_FLOOR_HERE_FRAMES = 50
_FLOOR_PERCENTILE = 10.0
_EDGE_FRAMES_MOST = 100
"""No onset and no release reaches further than 0.5 s."""
_EVENT_DB = 6.0
_EVENT_FRAMES = 16
_SMOOTH_FRAMES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Structure:
    """The levels of a recording.

    Attributes
    ----------
    level : ndarray, shape (k,), dBov
        Frame ``i`` covers 10 ms from 5 ms times ``i`` on.
    speech_dbov : float
        Mean power of the 20 ms frames within 16 dB of their 95th percentile.
    floor_dbov : float
        Room tone: the 10th percentile of the level.
    threshold_dbov : float
        At or over it there is sound of the voice's kind.
    runs : ndarray, shape (j, 2), int64
        Half-open ranges of frames at or over the threshold, sorted, apart by over 30 ms.
    """

    level: NDArray[np.float64]
    speech_dbov: float
    floor_dbov: float
    threshold_dbov: float
    runs: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something in a pause that stands out of the room tone, in frames.

    Attributes
    ----------
    loud : bool
        It is over the speech threshold: a noise that people hear.
    """

    start: int
    stop: int
    peak_dbov: float
    loud: bool


def structure_of_power(power: NDArray[np.float64]) -> Structure | None:
    """Find the runs of sound that stand out of the room tone.

    Parameters
    ----------
    power : ndarray, shape (k,)
        Mean square of successive 5 ms after the high-pass, full scale 1.0.

    Returns
    -------
    structure : Structure or None
        None for silence, for sound shorter than 20 ms, and for sound that does not stand out of
        itself: a steady noise or tone.

    Notes
    -----
    The speech threshold lies 26 dB under the active speech level S where the floor F is 32 dB
    below it or more, else at F + 0.38 (S - F), at least 6 dB over F.
    """
    if power.size < 4 or not power.any():
        return None
    pairs = (power[:-1] + power[1:]) / 2.0
    longer = (pairs[:-2:2] + pairs[2::2]) / 2.0
    speech_power = active_power(longer, _ACTIVE_DB)
    speech = 10.0 * np.log10(speech_power)
    lowest = speech_power * 10.0 ** (-HEARD_DB / 10.0)
    level = 10.0 * np.log10(np.maximum(pairs, lowest))
    floor = float(np.percentile(level, _FLOOR_PERCENTILE))
    apart = speech - floor
    threshold = speech - _THRESHOLD_DB
    if apart < _CLOSE_FLOOR_DB:
        threshold = floor + max(_THRESHOLD_SHARE * apart, _OVER_FLOOR_DB)
    runs = _runs(level >= threshold)
    if runs.shape[0] == 0:
        return None
    return Structure(
        level=level,
        speech_dbov=float(speech),
        floor_dbov=floor,
        threshold_dbov=float(threshold),
        runs=runs,
    )


def structure_of_sound(samples: NDArray[np.float64], sample_rate_hz: int) -> Structure | None:
    """Find them in sound.

    Parameters
    ----------
    samples : ndarray, shape (n,), full scale 1.0
        Some seconds; the filter begins at rest, so that the first 20 ms say little.
    sample_rate_hz : int
        Where 5 ms are no whole number of samples, frames begin at the nearest one.

    Examples
    --------
    >>> draw = np.random.default_rng(5)
    >>> sound = 1e-4 * draw.normal(size=16_000)
    >>> sound[4_000:8_000] += 0.1 * np.sin(np.arange(4_000) * 0.3)
    >>> structure_of_sound(sound, 8_000).runs.tolist()  # 0.5 to 1 s
    [[99, 201]]
    """
    sections = butter(_HIGH_PASS_ORDER, _HIGH_PASS_HZ, "highpass", fs=sample_rate_hz, output="sos")
    filtered = sosfilt(sections, samples)
    starts = frame_starts(samples.size * FRAMES_PER_S // sample_rate_hz, sample_rate_hz)
    if starts.size < 2:
        return None
    sums = np.concatenate([[0.0], np.cumsum(filtered * filtered)])
    power = np.maximum(sums[starts[1:]] - sums[starts[:-1]], 0.0) / np.diff(starts)
    return structure_of_power(power)


def frame_starts(frames: int, sample_rate_hz: int) -> NDArray[np.int64]:
    """Give the samples at which so many frames begin, and where the last one's 5 ms end."""
    starts: NDArray[np.int64] = (
        np.arange(frames + 1, dtype=np.int64) * sample_rate_hz + FRAMES_PER_S // 2
    ) // FRAMES_PER_S
    return starts


def active_power(power: NDArray[np.float64], within_db: float) -> float:
    """Give the mean of the powers within so many dB of their 95th percentile; 0 for silence."""
    if power.size == 0:
        return 0.0
    top = float(np.percentile(power, 95.0))
    if top <= 0.0:
        top = float(power.max())
    heard = power[power >= top * 10.0 ** (-within_db / 10.0)]
    return float(heard.mean()) if top > 0.0 else 0.0


def floor_near(structure: Structure, first: int, stop: int) -> float:
    """Give the level of room tone on one side: of up to 1.5 s of quiet frames of a range.

    Falls back on the whole recording's where the range has under 50 ms without speech.
    """
    first, stop = max(0, first), min(structure.level.size, stop)
    near = structure.level[first:stop]
    quiet = near[near < structure.threshold_dbov]
    if quiet.size < 10:
        return structure.floor_dbov
    return float(min(np.percentile(quiet, _FLOOR_PERCENTILE), structure.threshold_dbov - 2.0))


def onset_frame(structure: Structure, run_start: int, earliest: int) -> int:
    """Walk back from where the level crosses the threshold to where the word really begins.

    Parameters
    ----------
    run_start : int
        Frame of the crossing.
    earliest : int
        The walk ends here: the end of what is before.

    Returns
    -------
    frame : int
        The first place, going back, before which 15 ms lie under the floor + 4 dB, less these
        15 ms; at most 0.5 s before the crossing. A breath with a dip of 5 dB between it and the
        word is left before it.
    """
    floor = max(
        floor_near(structure, max(earliest, run_start - _FLOOR_NEAR_FRAMES), run_start),
        floor_near(structure, max(earliest, run_start - _FLOOR_HERE_FRAMES), run_start),
    )
    settled = floor + _SETTLED_DB
    level = structure.level
    earliest = max(earliest, run_start - _EDGE_FRAMES_MOST, 0)
    quiet = 0
    frame = run_start
    while frame > earliest:
        frame -= 1
        quiet = quiet + 1 if level[frame] < settled else 0
        if quiet == _SETTLED_FRAMES:
            break
    return _after_breath(structure, frame, run_start)


def release_frame(structure: Structure, run_stop: int, latest: int) -> int:
    """Walk on from the last frame over the threshold to settled room tone; see `onset_frame`."""
    floor = max(
        floor_near(structure, run_stop, min(latest, run_stop + _FLOOR_NEAR_FRAMES)),
        floor_near(structure, run_stop, min(latest, run_stop + _FLOOR_HERE_FRAMES)),
    )
    settled = floor + _SETTLED_DB
    level = structure.level
    latest = min(latest, run_stop + _EDGE_FRAMES_MOST, level.size)
    quiet = 0
    for frame in range(run_stop, latest):
        quiet = quiet + 1 if level[frame] < settled else 0
        if quiet == _SETTLED_FRAMES:
            return min(latest, frame + 3)
    return latest


def events_between(structure: Structure, first: int, stop: int) -> list[Event]:
    """Find what stands out of the room tone between two frames: breaths, pages, chairs.

    An event is over the floor + 6 dB, smoothed over 25 ms, for 80 ms or more, or over the speech
    threshold at all.
    """
    if stop - first < _SMOOTH_FRAMES:
        return []
    smooth = smooth_level(structure, first, stop)
    floor = floor_near(structure, first, stop)
    found = []
    for start, end in ranges_of(smooth >= floor + _EVENT_DB):
        peak = float(structure.level[first + start : first + end].max())
        loud = peak >= structure.threshold_dbov
        if loud or end - start >= _EVENT_FRAMES:
            begin, stopped = first + int(start), first + int(end)
            found.append(Event(start=begin, stop=stopped, peak_dbov=peak, loud=loud))
    return found


def smooth_level(structure: Structure, first: int, stop: int) -> NDArray[np.float64]:
    """Give the level between two frames, a mean over 25 ms; the ends stand for what is beyond."""
    around = structure.level[max(0, first) : stop]
    padded = np.pad(around, _SMOOTH_FRAMES // 2, mode="edge")
    return np.convolve(padded, np.full(_SMOOTH_FRAMES, 1.0 / _SMOOTH_FRAMES), mode="valid")


def _runs(loud: NDArray[np.bool_]) -> NDArray[np.int64]:
    # A frame covers 10 ms, so a gap of g frames is one of (g - 1) x 5 ms of sound.
    joined = ranges_of(loud, closed=_JOINED_FRAMES)
    return joined[joined[:, 1] - joined[:, 0] >= _SHORTEST_RUN_FRAMES]


def _after_breath(structure: Structure, first: int, run_start: int) -> int:
    """Leave out a breath that comes before the word: give the dip between the two, if any."""
    before = structure.level[first:run_start]
    if before.size < _BREATH_FRAMES:
        return first
    smooth = np.convolve(before, np.full(4, 0.25), mode="valid")
    hump = int(np.argmax(smooth[: -_BREATH_FRAMES // 2]))
    dip = hump + int(np.argmin(smooth[hump:]))
    return first + dip + 2 if smooth[hump] - smooth[dip] >= _DIP_DB else first
