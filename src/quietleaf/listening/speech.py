"""Speech and pauses: where somebody speaks, told from level alone against a running floor."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.hearing import FRAME_S, SILENT_CDB
from quietleaf.sound.compiled import kernel

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
_BINS = 260
_BIN_DB = 0.5
_LOWEST_DB = -120.0


def speech_frames(level_cdb: NDArray[np.int16]) -> NDArray[np.int64]:
    """Find the stretches of speech.

    Parameters
    ----------
    level_cdb : ndarray, shape (k,), int16
        Level of each frame of 10 ms above 80 Hz, hundredths of a decibel (dBov).

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

    >>> level = np.full(700, -6500, dtype=np.int16)
    >>> level[100:300] = level[400:500] = -2500
    >>> speech_frames(level)
    array([[100, 300],
           [400, 500]])
    """
    if level_cdb.size == 0:
        return np.empty((0, 2), dtype=np.int64)
    floor, top = _floor_and_top(
        level_cdb,
        round(_FLOOR_REACH_S / FRAME_S),
        round(_TOP_REACH_S / FRAME_S),
    )
    ranges = np.empty((level_cdb.size // 10 + 2, 2), dtype=np.int64)
    count = _speech_ranges(
        level_cdb,
        floor,
        top,
        round(_EDGE_REACH_S / FRAME_S),
        round(_CLUSTER_GAP_S / FRAME_S),
        round(_CLUSTER_S_MIN / FRAME_S),
        round(PAUSE_S_MIN / FRAME_S),
        round(_SPEECH_S_MIN / FRAME_S),
        ranges,
    )
    return ranges[:count].copy()


def pauses_between(stretches_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give what lies between stretches of speech, shape (j, 2); neither head nor tail.

    Examples
    --------
    >>> pauses_between(np.array([[1.0, 3.0], [4.0, 5.0]]))
    array([[3., 4.]])
    """
    return np.column_stack([stretches_s[:-1, 1], stretches_s[1:, 0]])


@kernel
def _power(level_cdb: NDArray[np.int16], index: int) -> float:
    inside = min(max(index, 0), level_cdb.size - 1)
    return float(10.0 ** (max(float(level_cdb[inside]), -15000.0) * 0.001))


@kernel
def _smooth_db(before: float, here: float, after: float) -> float:
    return float(10.0 * np.log10((before + here + after) / 3.0))


@kernel
def _bin_of(level_db: float) -> int:
    return min(max(int((level_db - _LOWEST_DB) / _BIN_DB), 0), _BINS - 1)


@kernel
def _percentile(histogram: NDArray[np.int64], count: int, percent: float) -> float:
    wanted = count * percent / 100.0
    seen = 0
    for index in range(_BINS):
        seen += histogram[index]
        if seen > wanted:
            return _LOWEST_DB + (index + 0.5) * _BIN_DB
    return _LOWEST_DB + _BINS * _BIN_DB


@kernel
def _floor_and_top(
    level_cdb: NDArray[np.int16], floor_reach: int, top_reach: int
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Give F and S for every tenth frame."""
    size = level_cdb.size
    bins = np.empty(size, dtype=np.int16)
    whole = np.zeros(_BINS, dtype=np.int64)
    before, here = _power(level_cdb, 0), _power(level_cdb, 0)
    for index in range(size):
        after = _power(level_cdb, index + 1)
        bins[index] = _bin_of(_smooth_db(before, here, after))
        whole[bins[index]] += 1
        before, here = here, after
    top_of_all = _percentile(whole, size, _TOP_PERCENT)

    looks = (size + _LOOK_FRAMES - 1) // _LOOK_FRAMES
    floor = np.empty(looks, dtype=np.float32)
    top = np.empty(looks, dtype=np.float32)
    near = np.zeros(_BINS, dtype=np.int64)
    wide = np.zeros(_BINS, dtype=np.int64)
    near_start, near_stop, wide_start, wide_stop = 0, 0, 0, 0
    for look in range(looks):
        centre = look * _LOOK_FRAMES
        while near_stop < min(size, centre + floor_reach):
            near[bins[near_stop]] += 1
            near_stop += 1
        while near_start < centre - floor_reach:
            near[bins[near_start]] -= 1
            near_start += 1
        while wide_stop < min(size, centre + top_reach):
            wide[bins[wide_stop]] += 1
            wide_stop += 1
        while wide_start < centre - top_reach:
            wide[bins[wide_start]] -= 1
            wide_start += 1
        floor[look] = _percentile(near, near_stop - near_start, _FLOOR_PERCENT)
        here_top = _percentile(wide, wide_stop - wide_start, _TOP_PERCENT)
        top[look] = max(min(here_top, top_of_all), top_of_all - _TOP_BELOW_MOST_DB)
    return floor, top


@kernel
def _speech_ranges(
    level_cdb: NDArray[np.int16],
    floor: NDArray[np.float32],
    top: NDArray[np.float32],
    edge_reach: int,
    cluster_gap: int,
    cluster_min: int,
    pause_min: int,
    speech_min: int,
    ranges: NDArray[np.int64],
) -> int:
    size = level_cdb.size
    count = 0
    cluster_start, cluster_stop = -1, -1
    range_start, range_stop = -1, -1
    start = -1
    before, here = _power(level_cdb, 0), _power(level_cdb, 0)
    for index in range(size + 1):
        loud = False
        if index < size:
            after = _power(level_cdb, index + 1)
            level = _smooth_db(before, here, after)
            before, here = here, after
            low, high = floor[index // _LOOK_FRAMES], top[index // _LOOK_FRAMES]
            over = min(max(_OVER_FLOOR_SHARE * (high - low), _OVER_FLOOR_LEAST_DB), _OVER_FLOOR_DB)
            loud = level > low + over and level > high - _UNDER_TOP_DB
        if loud and start < 0:
            start = index
        if loud or start < 0:
            continue
        first, last = start, index
        start = -1
        while first < last - 1 and not _above_edge(level_cdb, first, floor, top):
            first += 1
        while last > first + 1 and not _above_edge(level_cdb, last - 1, floor, top):
            last -= 1
        reach = first - edge_reach
        while first > max(0, reach) and _above_edge(level_cdb, first - 1, floor, top):
            first -= 1
        reach = last + edge_reach
        while last < min(size, reach) and _above_edge(level_cdb, last, floor, top):
            last += 1

        if cluster_start >= 0 and first - cluster_stop < cluster_gap:
            cluster_start = min(cluster_start, first)
            cluster_stop = max(cluster_stop, last)
            continue
        if cluster_start >= 0 and cluster_stop - cluster_start >= cluster_min:
            if range_start >= 0 and cluster_start - range_stop < pause_min:
                range_stop = cluster_stop
            else:
                if range_start >= 0 and range_stop - range_start >= speech_min:
                    ranges[count, 0], ranges[count, 1] = range_start, range_stop
                    count += 1
                range_start, range_stop = cluster_start, cluster_stop
        cluster_start, cluster_stop = first, last
    if cluster_start >= 0 and cluster_stop - cluster_start >= cluster_min:
        if range_start >= 0 and cluster_start - range_stop < pause_min:
            range_stop = cluster_stop
        else:
            if range_start >= 0 and range_stop - range_start >= speech_min:
                ranges[count, 0], ranges[count, 1] = range_start, range_stop
                count += 1
            range_start, range_stop = cluster_start, cluster_stop
    if range_start >= 0 and range_stop - range_start >= speech_min:
        ranges[count, 0], ranges[count, 1] = range_start, range_stop
        count += 1
    return count


@kernel
def _above_edge(
    level_cdb: NDArray[np.int16],
    index: int,
    floor: NDArray[np.float32],
    top: NDArray[np.float32],
) -> bool:
    look = index // _LOOK_FRAMES
    level = level_cdb[index] * 0.01
    return bool(
        level > floor[look] + _EDGE_OVER_FLOOR_DB and level > top[look] - _EDGE_UNDER_TOP_DB
    )


assert SILENT_CDB < _LOWEST_DB * 100
