"""Units of sound: stretches over the room's noise, cut where the level dips or the voicing changes.

They are looked for in a window of three chunks, the one before and the one after with the one that
is asked for, so that any cutting of a recording into blocks gives the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.sound_frames import SoundFrames
from quietleaf.sound.compiled import kernel

FLOOR_REACH_FRAMES = 600
FLOOR_SHARE = 0.08
FLOOR_EVERY_FRAMES = 10
TOP_SHARE = 0.92
LEVEL_STEPS = 256
LOWEST_DBOV = -120.0
OVER_FLOOR_DB = 6.0
UNDER_TOP_DB = 38.0
TOP_MAY_FALL_DB = 12.0
"""Where nobody speaks for a minute, the top is what it was less this."""
GAP_FRAMES = 6
SEGMENT_FRAMES_MIN = 2
DIP_DB = 6.0
UNIT_FRAMES_MIN = 4
VOICING_FRAMES_MIN = 8
WHOLE_FRAMES = 50
UNIT_FRAMES_MAX = 100
PERIODIC_MIN = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundWindow:
    """Frames around a chunk, with what is usual there.

    Attributes
    ----------
    first : int
        Index of the first frame.
    asked : (int, int)
        The frames of the chunk that is asked for, counted from ``first``.
    raw_dbov, level_dbov : ndarray, shape (n,), float32
        Of each frame alone; the mean power of three.
    floor_dbov : ndarray, shape (n,), float32
        The 8th percentile of 6 s to each side.
    top_dbov : float
        The 92nd percentile of the window, or of all so far where the window has no voice.
    low_dbov, quarters_db, mels_dbov, bands_dbov, periodic, pitch_hz : ndarray, float32
        As in `SoundFrames`.
    """

    first: int
    asked: tuple[int, int]
    raw_dbov: NDArray[np.float32]
    level_dbov: NDArray[np.float32]
    floor_dbov: NDArray[np.float32]
    top_dbov: float
    low_dbov: NDArray[np.float32]
    quarters_db: NDArray[np.float32]
    mels_dbov: NDArray[np.float32]
    bands_dbov: NDArray[np.float32]
    periodic: NDArray[np.float32]
    pitch_hz: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """Units of a window, in frames counted from its beginning, half-open.

    Attributes
    ----------
    start, stop : ndarray, shape (u,), int64
    segment_start, segment_stop : ndarray, shape (u,), int64
        The stretch without a gap of 60 ms that each lies in.
    """

    start: NDArray[np.int64]
    stop: NDArray[np.int64]
    segment_start: NDArray[np.int64]
    segment_stop: NDArray[np.int64]


def count_levels(chunk: SoundFrames, counts: NDArray[np.int64]) -> None:
    """Add the levels of a chunk to a histogram of half decibels, shape (256,)."""
    _count(chunk.level_dbov, counts)


def window_of(chunks: Sequence[SoundFrames], asked: int, counts: NDArray[np.int64]) -> SoundWindow:
    """Join chunks around ``chunks[asked]``; ``counts`` are the levels of all that was heard."""
    raw = np.concatenate([chunk.level_dbov for chunk in chunks])
    level = _smoothed(raw)
    here = np.zeros(LEVEL_STEPS, dtype=np.int64)
    _count(raw, here)
    top = max(_share_dbov(here, TOP_SHARE), _share_dbov(counts, TOP_SHARE) - TOP_MAY_FALL_DB)
    begin = sum(chunk.count for chunk in chunks[:asked])
    return SoundWindow(
        first=chunks[0].first,
        asked=(begin, begin + chunks[asked].count),
        raw_dbov=raw,
        level_dbov=level,
        floor_dbov=_running_floor(level),
        top_dbov=top,
        low_dbov=np.concatenate([chunk.low_dbov for chunk in chunks]),
        quarters_db=np.concatenate([chunk.quarters_db for chunk in chunks]),
        mels_dbov=np.concatenate([chunk.spectra.mels_dbov for chunk in chunks]),
        bands_dbov=np.concatenate([chunk.spectra.bands_dbov for chunk in chunks]),
        periodic=np.concatenate([chunk.spectra.periodic for chunk in chunks]),
        pitch_hz=np.concatenate([chunk.spectra.pitch_hz for chunk in chunks]),
    )


def units_of(window: SoundWindow) -> Units:
    """Cut what is over the floor into units.

    Notes
    -----
    Sound lies 6 dB over the floor and no more than 38 dB under the top; gaps under 60 ms are
    closed. A segment of more than half a second is cut where voicing changes for at least 80 ms
    on both sides; what is still longer, at dips of 6 dB if it is voiced, and in any case at its
    softest place where it would last more than a second. Ours.

    Examples
    --------
    Six tenths of a voice with a dip in the middle:

    >>> level = np.full(1000, -70.0, dtype=np.float32)
    >>> level[300:360] = -20.0
    >>> level[330:333] = -40.0
    >>> flat = np.zeros((1000, 24), dtype=np.float32)
    >>> window = SoundWindow(
    ...     first=0, asked=(0, 1000), raw_dbov=level, level_dbov=level,
    ...     floor_dbov=np.full(1000, -70.0, dtype=np.float32), top_dbov=-20.0, low_dbov=level,
    ...     quarters_db=flat[:, :4], mels_dbov=flat, bands_dbov=flat[:, :12],
    ...     periodic=flat[:, 0] + 1, pitch_hz=flat[:, 0])
    >>> units = units_of(window)
    >>> units.start.tolist(), units.stop.tolist()
    ([300, 330], [330, 360])
    """
    rows = np.empty((window.level_dbov.size // SEGMENT_FRAMES_MIN + 1, 4), dtype=np.int64)
    over = np.maximum(window.floor_dbov + OVER_FLOOR_DB, window.top_dbov - UNDER_TOP_DB)
    count = _cut(window.level_dbov, over.astype(np.float32), window.periodic, rows)
    start, stop, segment_start, segment_stop = rows[:count].T.copy()
    return Units(start=start, stop=stop, segment_start=segment_start, segment_stop=segment_stop)


def _share_dbov(counts: NDArray[np.int64], share: float) -> float:
    total = int(counts.sum())
    if total == 0:
        return LOWEST_DBOV
    step = int(np.searchsorted(np.cumsum(counts), share * total, side="right"))
    return LOWEST_DBOV + step / 2.0


@kernel
def _step(level_dbov: float) -> int:
    return min(max(int(np.floor(2.0 * (level_dbov - LOWEST_DBOV) + 0.5)), 0), LEVEL_STEPS - 1)


@kernel
def _count(levels_dbov: NDArray[np.float32], counts: NDArray[np.int64]) -> None:
    """Digital silence is no room, and is not counted."""
    for level in levels_dbov:
        step = _step(level)
        if step > 0:
            counts[step] += 1


@kernel
def _smoothed(raw: NDArray[np.float32]) -> NDArray[np.float32]:
    level = np.empty_like(raw)
    power = 10.0 ** (raw.astype(np.float64) / 10.0)
    for i in range(raw.size):
        before, after = max(i - 1, 0), min(i + 1, raw.size - 1)
        level[i] = 10.0 * np.log10((power[before] + power[i] + power[after]) / 3.0)
    return level


@kernel
def _running_floor(level: NDArray[np.float32]) -> NDArray[np.float32]:
    floor = np.empty_like(level)
    counts = np.zeros(LEVEL_STEPS, dtype=np.int64)
    total = 0
    begin, end = 0, 0
    for at in range(0, level.size, FLOOR_EVERY_FRAMES):
        while end < min(at + FLOOR_REACH_FRAMES, level.size):
            step = _step(level[end])
            counts[step] += 1
            total += 1 if step > 0 else 0
            end += 1
        while begin < at - FLOOR_REACH_FRAMES:
            step = _step(level[begin])
            counts[step] -= 1
            total -= 1 if step > 0 else 0
            begin += 1
        found = 0
        seen = 0
        if total > 0:
            for step in range(1, LEVEL_STEPS):
                seen += counts[step]
                if seen > total * FLOOR_SHARE:
                    found = step
                    break
        floor[at : at + FLOOR_EVERY_FRAMES] = LOWEST_DBOV + found / 2.0
    return floor


@kernel
def _cut(
    level: NDArray[np.float32],
    over: NDArray[np.float32],
    periodic: NDArray[np.float32],
    rows: NDArray[np.int64],
) -> int:
    count = 0
    i = 0
    while i < level.size:
        if level[i] <= over[i]:
            i += 1
            continue
        start = i
        last = i
        while i < level.size and i - last <= GAP_FRAMES:
            if level[i] > over[i]:
                last = i
            i += 1
        stop = last + 1
        i = stop
        if stop - start >= SEGMENT_FRAMES_MIN:
            count = _cut_segment(level, periodic, start, stop, rows, count)
    return count


@kernel
def _cut_segment(
    level: NDArray[np.float32],
    periodic: NDArray[np.float32],
    start: int,
    stop: int,
    rows: NDArray[np.int64],
    count: int,
) -> int:
    cuts = np.zeros(stop - start + 1, dtype=np.bool_)
    cuts[0] = True
    cuts[stop - start] = True
    if stop - start > WHOLE_FRAMES:
        _cut_voicing(periodic, start, cuts)
        _cut_dips(level, periodic, start, cuts)
        _cut_long(level, start, cuts)
    # Slivers belong to what is before them, or after where nothing is.
    begin = 0
    for i in range(1, cuts.size):
        if not cuts[i]:
            continue
        if i - begin < UNIT_FRAMES_MIN:
            if begin > 0:
                cuts[begin] = False
                rows[count - 1, 1] = start + i
                begin = i
                continue
            if i < cuts.size - 1:
                cuts[i] = False
                continue
        rows[count, 0], rows[count, 1] = start + begin, start + i
        rows[count, 2], rows[count, 3] = start, stop
        count += 1
        begin = i
    return count


@kernel
def _cut_voicing(periodic: NDArray[np.float32], start: int, cuts: NDArray[np.bool_]) -> None:
    """Cut where the mean of five frames says that voicing changes."""
    run = 0
    was = False
    before = 0
    for k in range(cuts.size - 1):
        low, high = max(start + k - 2, 0), min(start + k + 3, periodic.size)
        voiced = periodic[low:high].mean() > PERIODIC_MIN
        if k > 0 and voiced == was:
            run += 1
        else:
            before = run
            run = 1
            was = voiced
        if run == VOICING_FRAMES_MIN and before >= VOICING_FRAMES_MIN:
            cuts[k - run + 1] = True


@kernel
def _cut_dips(
    level: NDArray[np.float32], periodic: NDArray[np.float32], start: int, cuts: NDArray[np.bool_]
) -> None:
    """Cut what is long and voiced where it is so far under the peaks before and after."""
    begin = 0
    for end in range(1, cuts.size):
        if not cuts[end]:
            continue
        first, stop = start + begin, start + end
        begin = end
        if stop - first <= WHOLE_FRAMES or periodic[first:stop].mean() <= PERIODIC_MIN:
            continue
        peak = level[first]
        least_at = first
        for i in range(first, stop):
            if level[i] < level[least_at]:
                least_at = i
            if level[i] > level[least_at] + DIP_DB:
                if peak > level[least_at] + DIP_DB:
                    cuts[least_at - start] = True
                peak = level[i]
                least_at = i
            elif level[i] > peak:
                peak = level[i]
                least_at = i


@kernel
def _cut_long(level: NDArray[np.float32], start: int, cuts: NDArray[np.bool_]) -> None:
    begin = 0
    for i in range(1, cuts.size):
        if cuts[i]:
            begin = i
        elif i - begin >= UNIT_FRAMES_MAX:
            at = begin + UNIT_FRAMES_MAX // 2
            for k in range(at, i):
                if level[start + k] < level[start + at]:
                    at = k
            cuts[at] = True
            begin = at
