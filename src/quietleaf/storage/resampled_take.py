"""A range of a take as sound at another rate: the same samples wherever reading begins.

A resampler that runs on has a state, so that what it gives depends on where it began. Here the
range is cut into segments of whole seconds, each made by itself with what lies around it in the
take: any cutting into blocks gives the same bytes, and any place can be read at once.
"""

from __future__ import annotations

import math

import numpy as np
import soxr
from numpy.typing import NDArray

from quietleaf.storage.sound_source import SoundSource

SEGMENT_S = 5
CONTEXT_S = 0.1
"""Around a segment: longer than the resampler's filter reaches at any rate of 8 kHz and more."""
QUALITY = "VHQ"


class ResampledTake:
    """A half-open range of a take, with what lies around it, in frames of another rate.

    Frame 0 is the range's first sample; frames before it and past its end can be read too, as
    far as the take goes.

    Parameters
    ----------
    reader : SoundSource
        A take, or any other sound of one channel; stays open for as long as this is used.
    start, stop : int
        In the take's samples.
    sample_rate_hz : int
        The rate that is wanted.
    """

    def __init__(self, reader: SoundSource, start: int, stop: int, sample_rate_hz: int) -> None:
        self._reader = reader
        self._start = start
        self._from_hz = reader.info.sample_rate_hz
        self._to_hz = sample_rate_hz
        self.frames = frames_at(stop - start, self._from_hz, sample_rate_hz)
        self.frames_before = start * self._to_hz // self._from_hz
        self.frames_after = (reader.info.frames - stop) * self._to_hz // self._from_hz
        self._kept: tuple[int, NDArray[np.float64]] | None = None

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a half-open range of frames, shape (stop - start,); silence past the take's ends."""
        if self._from_hz == self._to_hz:
            return self._samples(self._start + start, self._start + stop)
        length = SEGMENT_S * self._to_hz
        out = np.empty(stop - start)
        at = start
        while at < stop:
            segment, skip = divmod(at, length)
            count = min(stop - at, length - skip)
            out[at - start : at - start + count] = self._segment(segment)[skip : skip + count]
            at += count
        return out

    def forget(self) -> None:
        """Let go of the segment that was kept; it is made again when it is wanted."""
        self._kept = None

    def _segment(self, number: int) -> NDArray[np.float64]:
        if self._kept is not None and self._kept[0] == number:
            return self._kept[1]
        # Segments and what is around them begin where both rates have a sample.
        common = math.gcd(self._from_hz, self._to_hz)
        around = math.ceil(CONTEXT_S * common)
        context = around * (self._from_hz // common)
        skip = around * (self._to_hz // common)
        first = self._start + number * SEGMENT_S * self._from_hz
        heard = self._samples(first - context, first + SEGMENT_S * self._from_hz + context)
        made = soxr.resample(heard, self._from_hz, self._to_hz, quality=QUALITY)
        frames = np.asarray(made[skip : skip + SEGMENT_S * self._to_hz], np.float64)
        self._kept = (number, frames)
        return frames

    def _samples(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give samples of the take, with silence where it has none."""
        samples = np.zeros(stop - start)
        first = min(max(start, 0), self._reader.info.frames)
        last = max(min(stop, self._reader.info.frames), first)
        samples[first - start : last - start] = self._reader.read(first, last)[:, 0]
        return samples


def frames_at(samples: int, from_hz: int, to_hz: int) -> int:
    """Count the frames that so many samples last at another rate, to the nearest, exactly.

    Examples
    --------
    >>> frames_at(44_100, 44_100, 48_000)
    48000
    """
    return (2 * samples * to_hz + from_hz) // (2 * from_hz)
