"""A sound whose spans are filtered as its plan says: gently, by linear phase."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.signal import firwin2, oaconvolve

from quietleaf.finishing.plan import RATE_HZ, Colour
from quietleaf.finishing.ranges import Sound, SoundFacts

COLOUR_HZ = tuple(round(150.0 * 2.0 ** (band / 3.0), 1) for band in range(17))
"""Middles of the third octaves, 150 Hz to 6 kHz."""
_TAPS = 513
_HALF = _TAPS // 2


class ColouredSound:
    """A sound, with what its colours add to it.

    Parameters
    ----------
    colours : sequence of Colour
    fade : int
        Samples over which a filter comes or goes at a join.

    Notes
    -----
    Added is the filter less an impulse, so that outside of the colours not a bit changes.
    """

    def __init__(self, sound: Sound, colours: Sequence[Colour], fade: int) -> None:
        self._sound = sound
        self._fade = max(1, fade)
        self._colours = [(colour, _added(colour.bands_db)) for colour in colours]

    @property
    def info(self) -> SoundFacts:
        """Its facts."""
        return self._sound.info

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a half-open range of samples, shape (stop - start, 1), full scale 1.0."""
        samples = self._sound.read(start, stop)
        frames = self._sound.info.frames
        half = self._fade // 2
        for colour, added in self._colours:
            rises, falls = colour.start > 0, colour.stop < frames
            begin = max(start, colour.start - half * rises)
            end = min(stop, colour.stop + half * falls)
            if begin >= end:
                continue
            first, last = max(0, begin - _HALF), min(frames, end + _HALF)
            around = np.pad(
                self._sound.read(first, last)[:, 0],
                (first - (begin - _HALF), end + _HALF - last),
            )
            heard = oaconvolve(around, added, mode="valid")
            place = np.arange(begin, end) + 0.5
            if rises:
                heard *= np.clip((place - colour.start) / self._fade + 0.5, 0.0, 1.0)
            if falls:
                heard *= np.clip((colour.stop - place) / self._fade + 0.5, 0.0, 1.0)
            samples = samples.copy()
            samples[begin - start : end - start, 0] += heard
        return samples


def _added(bands_db: tuple[float, ...]) -> NDArray[np.float64]:
    gains = 10.0 ** (np.array(bands_db) / 20.0)
    hz = np.concatenate([[0.0], COLOUR_HZ, [RATE_HZ / 2.0]])
    wanted = np.concatenate([[gains[0]], gains, [gains[-1]]])
    taps: NDArray[np.float64] = firwin2(_TAPS, hz, wanted, fs=RATE_HZ)
    taps[_HALF] -= 1.0
    return taps
