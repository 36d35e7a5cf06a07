"""Where the voice is: levels, runs of sound, and their edges in room tone.

Levels are those of 10 ms frames every 5 ms after the high-pass, in dB relative to RMS 1.0 (dBov).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.survey import FRAME_SAMPLES, Survey

HEARD_DB = 58.0
"""What lies further below the voice is not heard, and is taken to lie there."""
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
_FLOOR_SPREAD_DB = 3.5
_PLACES_MOST = 10
_EDGE_FRAMES_MOST = 100
"""No onset and no release reaches further than 0.5 s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Structure:
    """The levels of a recording.

    Attributes
    ----------
    level : ndarray, shape (k,), dBov
        Frame ``i`` covers the samples from 240 i to 240 i + 480.
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


def structure_of(survey: Survey) -> Structure | None:
    """Find the runs of sound that stand out of the room tone.

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
    power = survey.power.astype(np.float64)
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


def quiet_ranges(
    structure: Structure, first: int, stop: int, shortest: int
) -> list[tuple[int, int]]:
    """Find stretches of undisturbed room tone, in samples, longest first.

    Frames are kept while under the 10th percentile of the range's own quiet frames + 3.5 dB and
    at least 60 ms from any run of sound.

    Parameters
    ----------
    first, stop : int
        Range of frames to look in.
    shortest : int
        Stretches of fewer samples are left out.
    """
    first, stop = max(0, first), min(structure.level.size, stop)
    near = structure.level[first:stop]
    away = np.ones(near.size, dtype=np.bool_)
    guard = 12
    for start, end in structure.runs:
        away[max(0, start - guard - first) : max(0, end + guard - first)] = False
    if not away.any():
        return []
    limit = np.percentile(near[away], _FLOOR_PERCENTILE) + _FLOOR_SPREAD_DB
    found = [
        ((start + first) * FRAME_SAMPLES, (end + first) * FRAME_SAMPLES)
        for start, end in ranges_of(away & (near <= limit))
        if (end - start) * FRAME_SAMPLES >= shortest
    ]
    return sorted(found, key=lambda pair: pair[0] - pair[1])


def ranges_of(mask: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Give the half-open ranges where a mask is true, shape (k, 2).

    Examples
    --------
    >>> ranges_of(np.array([True, True, False, True])).tolist()
    [[0, 2], [3, 4]]
    """
    padded = np.concatenate([[False], mask, [False]])
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    return edges.reshape(-1, 2).astype(np.int64)


def _runs(loud: NDArray[np.bool_]) -> NDArray[np.int64]:
    ranges = ranges_of(loud)
    if ranges.shape[0] == 0:
        return ranges
    # A frame covers 10 ms, so a gap of g frames is one of (g - 1) x 5 ms of sound.
    apart = ranges[1:, 0] - ranges[:-1, 1] > _JOINED_FRAMES
    starts = ranges[np.concatenate([[True], apart]), 0]
    stops = ranges[np.concatenate([apart, [True]]), 1]
    long_enough = stops - starts >= _SHORTEST_RUN_FRAMES
    joined: NDArray[np.int64] = np.stack([starts[long_enough], stops[long_enough]], axis=1)
    return joined


def _after_breath(structure: Structure, first: int, run_start: int) -> int:
    """Leave out a breath that comes before the word: give the dip between the two, if any."""
    before = structure.level[first:run_start]
    if before.size < _BREATH_FRAMES:
        return first
    smooth = np.convolve(before, np.full(4, 0.25), mode="valid")
    hump = int(np.argmax(smooth[: -_BREATH_FRAMES // 2]))
    dip = hump + int(np.argmin(smooth[hump:]))
    return first + dip + 2 if smooth[hump] - smooth[dip] >= _DIP_DB else first


def quietest_places(structure: Structure, samples: int) -> list[tuple[int, int]]:
    """Give up to ten of the quietest stretches of a length, wherever they lie, quietest first.

    For recordings without a single pause: what is nearest to room tone in them.
    """
    frames = max(1, samples // FRAME_SAMPLES)
    if structure.level.size < frames:
        return []
    smooth = np.convolve(structure.level, np.full(frames, 1.0 / frames), mode="valid")
    found: list[int] = []
    for place in np.argsort(smooth, kind="stable"):
        if all(abs(int(place) - other) >= frames for other in found):
            found.append(int(place))
        if len(found) == _PLACES_MOST or smooth[place] > smooth[found[0]] + _OVER_FLOOR_DB:
            break
    return [(place * FRAME_SAMPLES, place * FRAME_SAMPLES + samples) for place in found]
