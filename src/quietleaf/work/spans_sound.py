"""The sound of spans of takes, one after the other, and where a sample of it lies in the takes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from quietleaf.booth.timeline import Place, Span
from quietleaf.storage.resampled_take import ResampledTake
from quietleaf.storage.take_reader import TakeReader


@dataclass(frozen=True, slots=True, kw_only=True)
class SpansSound:
    """Spans at one rate.

    Attributes
    ----------
    samples : ndarray, shape (n,)
    pieces : tuple of (int, Span)
        Where each span begins in it.
    ratios : tuple of float
        Of the rate of each span's take to that of ``samples``.
    """

    samples: NDArray[np.float64]
    pieces: tuple[tuple[int, Span], ...]
    ratios: tuple[float, ...]

    @property
    def spans(self) -> tuple[Span, ...]:
        """What it is made of."""
        return tuple(span for _, span in self.pieces)

    def place(self, sample: int) -> Place:
        """Give the take's number and its own sample; where two spans meet, that of the second."""
        (first, span), ratio = next(
            (piece, ratio)
            for piece, ratio in zip(reversed(self.pieces), reversed(self.ratios), strict=True)
            if piece[0] <= max(sample, 0)
        )
        return span.take, span.start + round((sample - first) * ratio)


def spans_sound(
    spans: Sequence[Span], readers: Mapping[int, TakeReader], sample_rate_hz: int
) -> SpansSound:
    """Read spans at a rate, without fades where they meet."""
    parts = [read_at(readers[span.take], span.start, span.stop, sample_rate_hz) for span in spans]
    starts = np.cumsum([0, *(part.size for part in parts)]).tolist()
    return SpansSound(
        samples=np.concatenate([np.zeros(0), *parts]),
        pieces=tuple(zip(starts, spans, strict=False)),
        ratios=tuple(readers[span.take].info.sample_rate_hz / sample_rate_hz for span in spans),
    )


def last_spans(
    spans: Sequence[Span], readers: Mapping[int, TakeReader], length_s: float
) -> tuple[Span, ...]:
    """Give the last seconds of spans; all of them where they are shorter."""
    last: list[Span] = []
    for span in reversed(spans):
        if length_s <= 0.0:
            break
        rate = readers[span.take].info.sample_rate_hz
        start = max(span.start, span.stop - math.ceil(length_s * rate))
        last.insert(0, replace(span, start=start))
        length_s -= (span.stop - start) / rate
    return tuple(last)


def first_spans(
    spans: Sequence[Span], readers: Mapping[int, TakeReader], length_s: float
) -> tuple[Span, ...]:
    """Give the first seconds of spans; all of them where they are shorter."""
    first: list[Span] = []
    for span in spans:
        if length_s <= 0.0:
            break
        rate = readers[span.take].info.sample_rate_hz
        stop = min(span.stop, span.start + math.ceil(length_s * rate))
        first.append(replace(span, stop=stop))
        length_s -= (stop - span.start) / rate
    return tuple(first)


def read_at(reader: TakeReader, start: int, stop: int, sample_rate_hz: int) -> NDArray[np.float64]:
    """Read a range of a take at a rate, shape (n,)."""
    sound = ResampledTake(reader, start, stop, sample_rate_hz)
    return sound.read(0, sound.frames)
