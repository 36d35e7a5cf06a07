"""What finishing reads: any sound that gives ranges of 48 kHz samples."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.high_pass import start_high_pass, step_high_pass
from quietleaf.finishing.plan import RATE_HZ

_SETTLE_SAMPLES = RATE_HZ // 4
Blocks = Iterator[NDArray[np.float64]]
Ahead = Callable[[Blocks], Blocks]
"""How blocks are fetched: one by one, or the next while this one is used."""


class SoundFacts(Protocol):
    """What a sound says of itself."""

    @property
    def sample_rate_hz(self) -> int:
        """Its rate."""

    @property
    def channels(self) -> int:
        """How many."""

    @property
    def frames(self) -> int:
        """Its length."""


class Sound(Protocol):
    """A recording or a timeline as 48 kHz, one channel."""

    @property
    def info(self) -> SoundFacts:
        """Its facts."""

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a half-open range of samples, shape (stop - start, 1), full scale 1.0."""


def one_by_one(blocks: Blocks) -> Blocks:
    """Fetch each block when it is asked for."""
    return blocks


def one_channel(block: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give a block of shape (n, 1) as shape (n,), each sample beside the next in memory."""
    return np.ascontiguousarray(block[:, 0])


def without_rumble(sound: Sound, start: int, stop: int) -> NDArray[np.float64]:
    """Read a range as it is after the high-pass, shape (stop - start,).

    The filter has 0.25 s before the range to settle.
    """
    first = max(0, start - _SETTLE_SAMPLES)
    samples = one_channel(sound.read(first, stop))
    return step_high_pass(start_high_pass(RATE_HZ), samples)[start - first :]
