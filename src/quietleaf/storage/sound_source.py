"""What a recording offers to whoever hears or finishes it: facts, blocks, and ranges."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundInfo:
    """What a recording says of itself, checked against its bytes.

    Attributes
    ----------
    frames : int
        Sample frames that can really be read.
    encoding : str
        In words for people: ``WAV, 24-bit PCM``.
    """

    sample_rate_hz: int
    channels: int
    frames: int
    encoding: str

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.sample_rate_hz


class SoundSource(Protocol):
    """A file, a take, or a timeline: anything that gives samples in order."""

    @property
    def info(self) -> SoundInfo:
        """The facts of this recording."""

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        """Give the whole recording from its start, in blocks of shape (n, c), full scale 1.0."""

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give the half-open range of frames, shape (stop - start, c), full scale 1.0."""


def read_in_blocks(source: SoundSource, block_frames: int) -> Iterator[NDArray[np.float64]]:
    """Give a whole recording from its start by reading range after range; the last is shorter."""
    frames = source.info.frames
    for start in range(0, frames, block_frames):
        yield source.read(start, min(start + block_frames, frames))
