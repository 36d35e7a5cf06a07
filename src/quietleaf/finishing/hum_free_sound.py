"""A sound without the hum that its plan names: lines are fitted in 8 s, and taken away."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.hum_lines import (
    HOP_SAMPLES,
    WINDOW_SAMPLES,
    Lines,
    blocks_of,
    lines_of,
    lines_sound,
)
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.ranges import Sound, SoundFacts
from quietleaf.finishing.repairs import LinesTaken

EDGE_SAMPLES = RATE_HZ // 20
_KEPT_WINDOWS = 8


class HumFreeSound:
    """A sound, less the lines of some stretches.

    Windows of 8 s, half overlapping, lie on fixed places of a stretch; each is fitted by itself, so
    that it does not matter in what order the sound is read.
    """

    def __init__(self, sound: Sound, repairs: Sequence[LinesTaken]) -> None:
        self._sound = sound
        self._repairs = repairs
        self._fitted: dict[tuple[int, int], Lines | None] = {}

    @property
    def info(self) -> SoundFacts:
        """Its facts."""
        return self._sound.info

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a half-open range of samples, shape (stop - start, 1), full scale 1.0."""
        samples = self._sound.read(start, stop)
        is_own = False
        for index, repair in enumerate(self._repairs):
            begin, end = max(start, repair.start), min(stop, repair.stop)
            if begin >= end:
                continue
            if not is_own:
                samples, is_own = samples.copy(), True
            samples[begin - start : end - start, 0] -= self._hum(index, begin, end)
        return samples

    def _hum(self, index: int, begin: int, end: int) -> NDArray[np.float64]:
        repair = self._repairs[index]
        lines = np.array(repair.lines, dtype=np.int64)
        hum = np.zeros(end - begin)
        last = max(0, -(-(repair.stop - repair.start - WINDOW_SAMPLES) // HOP_SAMPLES))
        first_window = max(0, (begin - repair.start) // HOP_SAMPLES - 1)
        for number in range(first_window, min(last, (end - 1 - repair.start) // HOP_SAMPLES) + 1):
            opens = repair.start + number * HOP_SAMPLES
            closes = opens + WINDOW_SAMPLES if number < last else repair.stop
            fitted = self._window(index, number, opens, min(closes, repair.stop))
            a, b = max(begin, opens), min(end, closes)
            if fitted is None or a >= b:
                continue
            place = np.arange(a, b) - opens + 0.5
            share = np.ones(b - a)
            if number > 0:
                share *= np.clip(place / HOP_SAMPLES, 0.0, 1.0)
            if number < last:
                share *= np.clip(2.0 - place / HOP_SAMPLES, 0.0, 1.0)
            hum[a - begin : b - begin] += share * lines_sound(fitted, lines, a, b)
        place = np.arange(begin, end) + 0.5
        if repair.start > 0:
            hum *= np.clip((place - repair.start) / EDGE_SAMPLES, 0.0, 1.0)
        if repair.stop < self._sound.info.frames:
            hum *= np.clip((repair.stop - place) / EDGE_SAMPLES, 0.0, 1.0)
        return hum

    def _window(self, index: int, number: int, opens: int, closes: int) -> Lines | None:
        key = index, number
        if key not in self._fitted:
            if len(self._fitted) == _KEPT_WINDOWS:
                del self._fitted[next(iter(self._fitted))]
            repair = self._repairs[index]
            lines = np.array(repair.lines, dtype=np.int64)
            blocks = blocks_of(self._sound, opens, closes, repair.mains_hz, lines)
            self._fitted[key] = None if blocks is None else lines_of(blocks, repair.mains_hz, lines)
        return self._fitted[key]
