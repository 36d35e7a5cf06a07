"""A recording as finishing wants it: one chosen channel, at 48 kHz, any range at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from quietleaf.storage.resampled_take import ResampledTake
from quietleaf.storage.sound_source import SoundInfo, SoundSource, read_in_blocks

Mono = Callable[[NDArray[np.float64]], NDArray[np.float64]]


class MonoSound:
    """One channel of a recording at one rate; the same samples wherever reading begins.

    Parameters
    ----------
    sound : SoundSource
        Stays open for as long as this is used.
    mono : callable
        Makes one channel, shape (n,), of a block of shape (n, c).
    sample_rate_hz : int
        Of the sound that comes out.
    """

    def __init__(self, sound: SoundSource, mono: Mono, sample_rate_hz: int = 48_000) -> None:
        chosen = _Chosen(sound, mono)
        self._resampled = ResampledTake(chosen, 0, chosen.info.frames, sample_rate_hz)
        self._info = SoundInfo(
            sample_rate_hz=sample_rate_hz,
            channels=1,
            frames=self._resampled.frames,
            encoding=sound.info.encoding,
        )

    @property
    def info(self) -> SoundInfo:
        """Its rate, one channel, and its length."""
        return self._info

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        """Give the whole sound from its start, in blocks of shape (n, 1), full scale 1.0."""
        return read_in_blocks(self, block_frames)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give the half-open range of frames, shape (stop - start, 1), full scale 1.0."""
        return self._resampled.read(start, stop)[:, np.newaxis]


class _Chosen:
    """The chosen channel at the recording's own rate."""

    def __init__(self, sound: SoundSource, mono: Mono) -> None:
        self._sound = sound
        self._mono = mono
        self.info = SoundInfo(
            sample_rate_hz=sound.info.sample_rate_hz,
            channels=1,
            frames=sound.info.frames,
            encoding=sound.info.encoding,
        )

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        for block in self._sound.blocks(block_frames):
            yield self._mono(block)[:, np.newaxis]

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        return self._mono(self._sound.read(start, stop))[:, np.newaxis]
