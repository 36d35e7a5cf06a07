"""Speech and pauses: where somebody speaks, told from level alone against a running floor."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.level_steps import LOWEST_DBOV, STEPS_A_DB, powers_of_steps
from quietleaf.sound.compiled import kernel

_Number = TypeVar("_Number", np.float64, np.int64)

PAUSE_S_MIN = 0.2
"""Shorter gaps belong to speech: the brief class of Campione and Veronis 2002 ends here."""
_CLUSTER_GAP_S = 0.1
_CLUSTER_S_MIN = 0.06
_SPEECH_S_MIN = 0.1
_FLOOR_PERCENT = 8.0
_FLOOR_REACH_S = 6.0
_TOP_PERCENT = 92.0
_TOP_REACH_S = 15.0
_TOP_BELOW_MOST_DB = 20.0
_UNDER_TOP_DB = 22.0
_OVER_FLOOR_DB = 9.0
_OVER_FLOOR_LEAST_DB = 6.0
_OVER_FLOOR_SHARE = 0.38
_EDGE_OVER_FLOOR_DB = 4.0
_EDGE_UNDER_TOP_DB = 36.0
_EDGE_REACH_S = 0.2
_LOOK_FRAMES = 10
_STEPS = 256


def speech_frames(steps: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Find the stretches of speech.

    Parameters
    ----------
    steps : ndarray, shape (k,), uint8
        Level of each frame of 10 ms above 80 Hz, half decibels from -127.5 dBov; 0 for silence.

    Returns
    -------
    speech : ndarray, shape (j, 2), frames
        Half-open ranges, sorted, at least 0.2 s apart and 0.1 s long. Silence and steady sound
        give none.

    Notes
    -----
    Ours, after measurements on recorded readers. S is the 92nd percentile of the levels (means
    over three frames) of the whole and of 15 s either side, whichever is less, but not less than
    20 dB under that of the whole, so that a quiet second reader is heard and long silence is not
    taken for one. F is the 8th percentile of 6 s either side, so that a fan that comes on does
    not swallow words. Speech is what is louder than S - 22 dB and than F + 9 dB (less where S and
    F are near: 0.38 of their distance, at least 6 dB). Its edges are then moved out, by at most
    0.2 s, to where single frames sink under F + 4 dB or S - 36 dB. Level alone cannot tell
    a cough or a page from a word.

    Examples
    --------
    Two seconds of a voice at -25 in a room at -65, a second of pause, a second more:

    >>> steps = np.full(700, 125, dtype=np.uint8)
    >>> steps[100:300] = steps[400:500] = 205
    >>> speech_frames(steps)
    array([[100, 300],
           [400, 500]])
    """
    if steps.size == 0:
        return np.empty((0, 2), dtype=np.int64)
    powers = powers_of_steps()
    floor, top = _floor_and_top(
        steps,
        powers,
        round(_FLOOR_REACH_S * FRAMES_PER_S),
        round(_TOP_REACH_S * FRAMES_PER_S),
    )
    speech_min = round(_SPEECH_S_MIN * FRAMES_PER_S)
    pause_min = round(PAUSE_S_MIN * FRAMES_PER_S)
    ranges = np.empty((steps.size // (speech_min + pause_min) + 2, 2), dtype=np.int64)
    count = _speech_ranges(
        steps,
        powers,
        floor,
        top,
        round(_EDGE_REACH_S * FRAMES_PER_S),
        round(_CLUSTER_GAP_S * FRAMES_PER_S),
        round(_CLUSTER_S_MIN * FRAMES_PER_S),
        pause_min,
        speech_min,
        ranges,
    )
    return ranges[:count].copy()


def pauses_between(stretches: NDArray[_Number]) -> NDArray[_Number]:
    """Give what lies between stretches of speech, in their unit, shape (j, 2); no head, no tail.

    Examples
    --------
    >>> pauses_between(np.array([[1.0, 3.0], [4.0, 5.0]]))
    array([[3., 4.]])
    """
    return np.column_stack([stretches[:-1, 1], stretches[1:, 0]])


@kernel
def _smooth_dbov(steps: NDArray[np.uint8], powers: NDArray[np.float64], index: int) -> float:
    """Give the mean level of a frame and its neighbours."""
    before, after = steps[max(index - 1, 0)], steps[min(index + 1, steps.size - 1)]
    mean = (powers[before] + powers[steps[index]] + powers[after]) / 3.0
    return float(10.0 * np.log10(mean)) if mean > 0.0 else LOWEST_DBOV


@kernel
def _smooth_step(steps: NDArray[np.uint8], powers: NDArray[np.float64], index: int) -> int:
    level = _smooth_dbov(steps, powers, index)
    return min(max(int(STEPS_A_DB * (level - LOWEST_DBOV) + 0.5), 0), _STEPS - 1)


@kernel
def _percentile_step(histogram: NDArray[np.int64], count: int, percent: float) -> int:
    wanted = count * percent / 100.0
    seen = 0
    for step in range(_STEPS):
        seen += histogram[step]
        if seen > wanted:
            return step
    return _STEPS - 1


@kernel
def _floor_and_top(
    steps: NDArray[np.uint8], powers: NDArray[np.float64], floor_reach: int, top_reach: int
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Give F and S in steps for every tenth frame."""
    size = steps.size
    whole = np.zeros(_STEPS, dtype=np.int64)
    for index in range(size):
        whole[_smooth_step(steps, powers, index)] += 1
    top_of_all = _percentile_step(whole, size, _TOP_PERCENT)

    looks = (size + _LOOK_FRAMES - 1) // _LOOK_FRAMES
    top_least = max(0, top_of_all - int(_TOP_BELOW_MOST_DB * STEPS_A_DB))
    floor = np.empty(looks, dtype=np.uint8)
    top = np.empty(looks, dtype=np.uint8)
    near = np.zeros(_STEPS, dtype=np.int64)
    wide = np.zeros(_STEPS, dtype=np.int64)
    near_start, near_stop, wide_start, wide_stop = 0, 0, 0, 0
    for look in range(looks):
        centre = look * _LOOK_FRAMES
        while near_stop < min(size, centre + floor_reach):
            near[_smooth_step(steps, powers, near_stop)] += 1
            near_stop += 1
        while near_start < centre - floor_reach:
            near[_smooth_step(steps, powers, near_start)] -= 1
            near_start += 1
        while wide_stop < min(size, centre + top_reach):
            wide[_smooth_step(steps, powers, wide_stop)] += 1
            wide_stop += 1
        while wide_start < centre - top_reach:
            wide[_smooth_step(steps, powers, wide_start)] -= 1
            wide_start += 1
        floor[look] = _percentile_step(near, near_stop - near_start, _FLOOR_PERCENT)
        here = _percentile_step(wide, wide_stop - wide_start, _TOP_PERCENT)
        top[look] = max(min(here, top_of_all), top_least)
    return floor, top


@kernel
def _speech_ranges(
    steps: NDArray[np.uint8],
    powers: NDArray[np.float64],
    floor: NDArray[np.uint8],
    top: NDArray[np.uint8],
    edge_reach: int,
    cluster_gap: int,
    cluster_min: int,
    pause_min: int,
    speech_min: int,
    ranges: NDArray[np.int64],
) -> int:
    size = steps.size
    count = 0
    cluster_start, cluster_stop = -1, -1
    start = -1
    for index in range(size + 1):
        loud = False
        if index < size:
            level = _smooth_dbov(steps, powers, index)
            low, high = _dbov(floor[index // _LOOK_FRAMES]), _dbov(top[index // _LOOK_FRAMES])
            over = min(max(_OVER_FLOOR_SHARE * (high - low), _OVER_FLOOR_LEAST_DB), _OVER_FLOOR_DB)
            loud = level > low + over and level > high - _UNDER_TOP_DB
        if loud and start < 0:
            start = index
        if loud or start < 0:
            continue
        first, last = start, index
        start = -1
        while first < last - 1 and not _above_edge(steps, first, floor, top):
            first += 1
        while last > first + 1 and not _above_edge(steps, last - 1, floor, top):
            last -= 1
        reach = first - edge_reach
        while first > max(0, reach) and _above_edge(steps, first - 1, floor, top):
            first -= 1
        reach = last + edge_reach
        while last < min(size, reach) and _above_edge(steps, last, floor, top):
            last += 1

        if cluster_start >= 0 and first - cluster_stop < cluster_gap:
            cluster_start = min(cluster_start, first)
            cluster_stop = max(cluster_stop, last)
            continue
        if cluster_stop - cluster_start >= cluster_min:
            count = _joined(ranges, count, cluster_start, cluster_stop, pause_min, speech_min)
        cluster_start, cluster_stop = first, last
    if cluster_stop - cluster_start >= cluster_min:
        count = _joined(ranges, count, cluster_start, cluster_stop, pause_min, speech_min)
    if count > 0 and ranges[count - 1, 1] - ranges[count - 1, 0] < speech_min:
        count -= 1
    return count


@kernel
def _joined(
    ranges: NDArray[np.int64], count: int, start: int, stop: int, pause_min: int, speech_min: int
) -> int:
    """Join a cluster to the last range or begin one, in place of a last one that is too short."""
    if count > 0 and start - ranges[count - 1, 1] < pause_min:
        ranges[count - 1, 1] = stop
        return count
    if count > 0 and ranges[count - 1, 1] - ranges[count - 1, 0] < speech_min:
        count -= 1
    ranges[count, 0], ranges[count, 1] = start, stop
    return count + 1


@kernel
def _above_edge(
    steps: NDArray[np.uint8],
    index: int,
    floor: NDArray[np.uint8],
    top: NDArray[np.uint8],
) -> bool:
    look = index // _LOOK_FRAMES
    level = _dbov(steps[index])
    return bool(
        level > _dbov(floor[look]) + _EDGE_OVER_FLOOR_DB
        and level > _dbov(top[look]) - _EDGE_UNDER_TOP_DB
    )


@kernel
def _dbov(step: int) -> float:
    return float(LOWEST_DBOV + step / STEPS_A_DB)
