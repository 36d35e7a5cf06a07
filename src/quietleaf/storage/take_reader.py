"""Reading a take: each record is held against its sum as it is read."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Self

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import Damaged, Invalid
from quietleaf.storage import disk
from quietleaf.storage.pcm24 import samples_of_pcm24
from quietleaf.storage.sound_source import SoundInfo, read_in_blocks
from quietleaf.storage.take_header import HEADER_BYTES, sample_rate_of_header
from quietleaf.storage.take_sums import count_samples, read_sums, verified_bytes

_ENCODING = "WAV, 24-bit PCM"


class TakeReader:
    """A take as a source of sound; each record is held against its sum as it is read.

    A take that is being written can be read at the same time, as far as it was confirmed when
    the reader was opened.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._records = read_sums(path)
        self._starts = np.array([record.start for record in self._records], np.int64)
        self._wav = disk.open_to_read(path)
        header = disk.read_at(self._wav, HEADER_BYTES, 0, path)
        sample_rate_hz = sample_rate_of_header(header)
        if sample_rate_hz is None:
            self.close()
            raise Damaged(
                "take/header", f"The header of {path} is not as it was written. Use a backup of it."
            )
        self._info = SoundInfo(
            sample_rate_hz=sample_rate_hz,
            channels=1,
            frames=count_samples(self._records),
            encoding=_ENCODING,
        )

    @property
    def info(self) -> SoundInfo:
        """Its rate, its one channel, and the samples that its sums cover."""
        return self._info

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        """Give the whole take from its start, in blocks of shape (n, 1), full scale 1.0."""
        return read_in_blocks(self, block_frames)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a half-open range, shape (stop - start, 1), full scale 1.0.

        Raises
        ------
        Damaged
            If a record in it is not what was written.
        """
        if not 0 <= start <= stop <= self._info.frames:
            raise Invalid(
                "take/range",
                f"Take {self._path.stem} has samples 0 to {self._info.frames}; "
                f"{start} to {stop} were asked for.",
            )
        if start == stop:
            return np.zeros((0, 1))
        first = int(np.searchsorted(self._starts, start, side="right")) - 1
        last = int(np.searchsorted(self._starts, stop, side="left"))
        pcm = b"".join(
            verified_bytes(self._wav, record, self._path, self._info.sample_rate_hz)
            for record in self._records[first:last]
        )
        skip = start - self._records[first].start
        return samples_of_pcm24(pcm)[skip : skip + stop - start, np.newaxis]

    def close(self) -> None:
        """Let go of the file."""
        if self._wav >= 0:
            os.close(self._wav)
        self._wav = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
