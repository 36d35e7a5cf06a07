"""Echo: stretches in which the room sounds on between the sounds of a voice."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.mask_ranges import ranges_of
from quietleaf.listening.percentiles import percentiles
from quietleaf.listening.room_decay import decay_of_fall_s
from quietleaf.listening.sound_frames import SoundFrames

_BANDS = slice(3, 7)
_SLOPE_FRAMES = 6
_LOUD_PERCENT = 95.0
_UNDER_LOUD_DB = 25.0
_QUIET_PERCENT = 5.0
_OVER_QUIET_DB = 8.0
_ROW_FRAMES = 200
_FALLS = np.arange(30.0, 630.0 + 15.0, 15.0)
_WINDOW_ROWS = 5
_STEEP_SHARE = 0.1
_FALLS_MIN = 80
_STANDS_OUT_DB = 22.0
_AROUND_ROWS = 1


@dataclass(slots=True, kw_only=True)
class EchoMemory:
    """How fast sound fell so far.

    Attributes
    ----------
    before : ndarray, shape (k, 4), dB
        Levels of the last frames in four bands.
    rows : list of ndarray, shape (r, 40), uint16
        For every 2 s, how many pieces of 60 ms fell how fast, in steps of 15 dB/s from 30 on.
    ranges_db : list of ndarray, shape (r, 2), float32
        How quiet and how loud those 2 s are, the mean of the bands.
    """

    before: NDArray[np.float32] = field(default_factory=lambda: np.empty((0, 4), dtype=np.float32))
    rows: list[NDArray[np.uint16]] = field(default_factory=list)
    ranges_db: list[NDArray[np.float32]] = field(default_factory=list)


def step_echo(memory: EchoMemory, chunk: SoundFrames) -> None:
    """Take the next chunk in."""
    bands = chunk.spectra.bands_dbov[:, _BANDS]
    level = np.concatenate([memory.before, bands])
    memory.before = level[level.shape[0] - _SLOPE_FRAMES + 1 :].copy()
    count = level.shape[0] - _SLOPE_FRAMES + 1
    if count <= 0:
        return
    times = (np.arange(_SLOPE_FRAMES) - (_SLOPE_FRAMES - 1) / 2.0).astype(np.float32)
    weights = times * np.float32(FRAMES_PER_S / np.sum(times**2))
    falls = -sum(
        (level[index : index + count] * weights[index] for index in range(_SLOPE_FRAMES)),
        start=np.zeros((count, level.shape[1]), dtype=np.float32),
    )
    loud, quiet = percentiles(bands.T, (_LOUD_PERCENT, _QUIET_PERCENT))
    counted = (level[:count] > loud - _UNDER_LOUD_DB) & (
        level[_SLOPE_FRAMES - 1 :] > quiet + _OVER_QUIET_DB
    )
    steps = np.clip(((falls - _FALLS[0]) / (_FALLS[1] - _FALLS[0])), -1, _FALLS.size - 2)
    steps = np.floor(steps).astype(np.int64)
    rows, ranges = [], []
    for start in range(0, count, _ROW_FRAMES):
        part = slice(start, start + _ROW_FRAMES)
        ranges.append(percentiles(level[part].mean(axis=1), (_QUIET_PERCENT, _LOUD_PERCENT)))
        mine = steps[part][counted[part] & (steps[part] >= 0)]
        rows.append(np.bincount(mine, minlength=_FALLS.size - 1))
    memory.rows.append(np.array(rows, dtype=np.uint16))
    memory.ranges_db.append(np.array(ranges, dtype=np.float32))


def echo_findings(memory: EchoMemory, limits: HearingLimits) -> list[Finding]:
    """Turn what was heard into findings.

    Returns
    -------
    findings : list of Finding
        Kind ``echo``; value and limit are the seconds in which sound dies by 60 dB.

    Notes
    -----
    As in `room_echo`: in a room nothing falls faster than the room lets it, so the fall that one
    in ten of all exceeds tells how long the room sounds on. Bands from 315 to 2500 Hz, pieces of
    60 ms from at most 25 dB under the loud frames of 20 s to 8 dB over their quiet ones, over
    10 s, looked at every 2 s, where the loud stands 22 dB over the quiet: a fan has falls of its
    own. Hum and noise are not asked: tails of a room fill its pauses, and may be told as such.
    Dry voices and ordinary rooms read 0.24 s at most; where little of the room is heard beside the
    voice, it reads shorter than it is. Ours.
    """
    if not memory.rows:
        return []
    rows = np.concatenate(memory.rows)
    size = min(_WINDOW_ROWS, rows.shape[0])
    sums = np.cumsum(
        np.concatenate([np.zeros((1, rows.shape[1]), rows.dtype), rows]), axis=0, dtype=np.int32
    )
    windows = sums[size:] - sums[:-size]
    quiet, loud = np.lib.stride_tricks.sliding_window_view(
        np.concatenate(memory.ranges_db).T, size, axis=1
    )
    stands_out = loud.max(axis=1) - quiet.min(axis=1) >= _STANDS_OUT_DB
    decays_s = np.where(stands_out, [_decay_s(window) for window in windows], 0.0)
    found = []
    for start, stop in ranges_of(decays_s >= limits.echo_s, closed=_AROUND_ROWS):
        middle = size // 2
        first = 0 if start == 0 else int(start) + middle - 1
        last = rows.shape[0] if stop == windows.shape[0] else int(stop) + middle
        start_s, end_s = first * _ROW_FRAMES / FRAMES_PER_S, last * _ROW_FRAMES / FRAMES_PER_S
        found.append(
            Finding(
                kind="echo",
                start_s=start_s,
                end_s=end_s,
                severity="hear",
                value=float(np.median(decays_s[start:stop])),
                limit=limits.echo_s,
                unit="s",
                advice="The room sounds on here. Read nearer to the microphone, or where there are "
                "curtains, carpets or full shelves.",
            )
        )
    return found


def _decay_s(falls: NDArray[np.int64]) -> float:
    total = int(falls.sum())
    if total < _FALLS_MIN:
        return 0.0
    # The fall that a tenth exceeds, within its step by proportion.
    wanted = (1.0 - _STEEP_SHARE) * total
    fall = float(np.interp(wanted, np.concatenate([[0.0], np.cumsum(falls)]), _FALLS))
    return decay_of_fall_s(fall)
