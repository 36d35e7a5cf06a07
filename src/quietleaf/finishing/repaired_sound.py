"""A sound repaired as its plan says: only what a repair covers differs, by not a bit else.

Each repair is a patch, made of the sound around it. How the sound is read does not change them.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

from quietleaf.finishing.hum_free_sound import HumFreeSound
from quietleaf.finishing.interpolation import CLIP_AROUND, GAP_AROUND, filled, unclipped
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.ranges import Sound, SoundFacts
from quietleaf.finishing.repairs import (
    Interpolation,
    LinesTaken,
    LowBand,
    Repair,
    Replaced,
    TurnedDown,
)
from quietleaf.finishing.room_tone import tone_of
from quietleaf.units import ratio_of_db

LOW_EDGE_SAMPLES = RATE_HZ * 15 // 1000
TURN_SAMPLES = RATE_HZ * 30 // 1000
LAY_SAMPLES = RATE_HZ // 50
"""A repair comes and goes over so many samples, inside of its range."""
_CLUSTER_SAMPLES = RATE_HZ // 50
_SETTLE_SAMPLES = RATE_HZ // 4
_BESIDE_SAMPLES = RATE_HZ // 50
_KEPT_PATCHES = 32

Layer = tuple[type[Repair], ...]
_LAYERS: tuple[Layer, ...] = (
    (Interpolation,),
    (LinesTaken,),
    (LowBand,),
    (TurnedDown, Replaced),
)
"""Each is made of the sound that the ones before it left."""


def repaired(sound: Sound, repairs: Sequence[Repair]) -> Sound:
    """Give a sound with those repairs that are to be made."""
    made = sorted((one for one in repairs if one.state == "made"), key=lambda one: one.start)
    for layer in _LAYERS:
        hums = [one for one in made if isinstance(one, layer) and isinstance(one, LinesTaken)]
        if hums:
            sound = HumFreeSound(sound, hums)
            continue
        of_layer = [one for one in made if isinstance(one, layer)]
        if of_layer:
            sound = _Patched(sound, of_layer)
    return sound


def same_layer(one: Repair, other: Repair) -> bool:
    """Say whether two repairs are made of the same sound, and so may not lie over each other."""
    return any(isinstance(one, layer) and isinstance(other, layer) for layer in _LAYERS)


class _Patched:
    """A sound with patches of one layer."""

    def __init__(self, sound: Sound, repairs: Sequence[Repair]) -> None:
        self._sound = sound
        self._repairs = repairs
        self._stops = [one.stop for one in repairs]
        self._patches: dict[int, NDArray[np.float64]] = {}

    @property
    def info(self) -> SoundFacts:
        """Its facts."""
        return self._sound.info

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a half-open range of samples, shape (stop - start, 1), full scale 1.0."""
        samples = self._sound.read(start, stop)
        is_own = False
        # Repairs of a layer lie apart, so that their ends are in order too.
        for index in range(bisect_left(self._stops, start + 1), len(self._repairs)):
            repair = self._repairs[index]
            if repair.start >= stop:
                break
            if not is_own:
                samples, is_own = samples.copy(), True
            begin, end = max(start, repair.start), min(stop, repair.stop)
            patch = self._patch(index)
            samples[begin - start : end - start, 0] = patch[
                begin - repair.start : end - repair.start
            ]
        return samples

    def _patch(self, index: int) -> NDArray[np.float64]:
        """Give the samples of a repair; the latest are kept, since blocks come in order."""
        if index not in self._patches:
            if len(self._patches) == _KEPT_PATCHES:
                del self._patches[next(iter(self._patches))]
            self._patches[index] = _patch_of(self._repairs[index], self._sound)
        return self._patches[index]


def _patch_of(repair: Repair, sound: Sound) -> NDArray[np.float64]:
    if isinstance(repair, Interpolation):
        return _interpolated(repair, sound)
    if isinstance(repair, LowBand):
        return _without_low_band(repair, sound)
    if isinstance(repair, TurnedDown):
        return _turned_down(repair, sound)
    assert isinstance(repair, Replaced)
    return _replaced(repair, sound)


def _interpolated(repair: Interpolation, sound: Sound) -> NDArray[np.float64]:
    is_clip = repair.kind == "clip"
    around = CLIP_AROUND if is_clip else GAP_AROUND
    solve: Callable[[NDArray[np.float64], NDArray[np.bool_]], NDArray[np.float64]] = (
        unclipped if is_clip else filled
    )
    patch = _samples(sound, repair.start, repair.stop)
    for first, last in _clusters(repair.runs):
        begin, end = max(0, first - around), min(sound.info.frames, last + around)
        missing = np.zeros(end - begin, dtype=np.bool_)
        for start, stop in repair.runs:
            # What was cut off beyond the cluster still says more than nothing.
            if not is_clip or first <= start < last:
                missing[max(start - begin, 0) : max(stop - begin, 0)] = True
        whole = solve(_samples(sound, begin, end), missing)
        patch[first - repair.start : last - repair.start] = whole[first - begin : last - begin]
    return patch


def _clusters(runs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Put runs that are solved together into one: what lies near by is not known either."""
    bounds = [0]
    for index, (before, run) in enumerate(pairwise(runs), start=1):
        near = run[0] - before[1] < _CLUSTER_SAMPLES // 4
        if not near or run[1] - runs[bounds[-1]][0] > _CLUSTER_SAMPLES:
            bounds.append(index)
    return [(runs[first][0], runs[stop - 1][1]) for first, stop in pairwise([*bounds, len(runs)])]


def _without_low_band(repair: LowBand, sound: Sound) -> NDArray[np.float64]:
    """Take a share of the low band away, without moving anything in time."""
    begin = max(0, repair.start - _SETTLE_SAMPLES)
    end = min(sound.info.frames, repair.stop + _SETTLE_SAMPLES)
    heard = _samples(sound, begin, end)
    # Twice a second order, once each way.
    sections = butter(2, repair.corner_hz, "lowpass", fs=RATE_HZ, output="sos")
    low = sosfiltfilt(sections, heard - heard.mean())
    inside = slice(repair.start - begin, repair.stop - begin)
    shape = _shape(repair.stop - repair.start, LOW_EDGE_SAMPLES)
    share = (1.0 - ratio_of_db(-repair.by_db)) * shape
    patch: NDArray[np.float64] = heard[inside] - share * low[inside]
    return patch


def _turned_down(repair: TurnedDown, sound: Sound) -> NDArray[np.float64]:
    line = _line(repair, sound)
    heard = _samples(sound, repair.start, repair.stop) - line
    gain = ratio_of_db(-repair.by_db) ** _shape(heard.size, TURN_SAMPLES)
    # The room goes down with it: as much is laid as makes up for that.
    laid = np.sqrt(1.0 - gain**2) * tone_of(sound, repair.quiet, repair.seed, heard.size)
    patch: NDArray[np.float64] = gain * heard + ratio_of_db(repair.tone_db) * laid + line
    return patch


def _replaced(repair: Replaced, sound: Sound) -> NDArray[np.float64]:
    line = _line(repair, sound)
    heard = _samples(sound, repair.start, repair.stop) - line
    angle = np.pi / 2.0 * _shape(heard.size, LAY_SAMPLES)
    laid = ratio_of_db(repair.tone_db) * tone_of(sound, repair.quiet, repair.seed, heard.size)
    patch: NDArray[np.float64] = np.cos(angle) * heard + np.sin(angle) * laid + line
    return patch


def _line(repair: Repair, sound: Sound) -> NDArray[np.float64]:
    """Give the straight line that DC and rumble take from one end of a range to the other."""
    before = _samples(sound, max(0, repair.start - _BESIDE_SAMPLES), repair.start)
    after = _samples(sound, repair.stop, min(sound.info.frames, repair.stop + _BESIDE_SAMPLES))
    ends = [float(part.mean()) for part in (before, after) if part.size]
    if not ends:
        return np.zeros(repair.stop - repair.start)
    return np.linspace(ends[0], ends[-1], repair.stop - repair.start)


def _shape(count: int, edge: int) -> NDArray[np.float64]:
    """Rise from 0 to 1 and fall again by raised cosines; a short range has no top."""
    edge = max(1, min(edge, count // 2))
    rise = (1.0 - np.cos(np.pi * (np.arange(edge) + 0.5) / edge)) / 2.0
    return np.concatenate([rise, np.ones(count - 2 * edge), rise[::-1]])


def _samples(sound: Sound, start: int, stop: int) -> NDArray[np.float64]:
    return np.array(sound.read(start, stop)[:, 0], dtype=np.float64)
