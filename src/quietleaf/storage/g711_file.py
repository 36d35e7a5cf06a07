"""A telephone's file being written: 8 kHz, one channel, G.711 in a WAV."""

from __future__ import annotations

from pathlib import Path
from typing import Self

import numpy as np
import soxr
from numpy.typing import NDArray

from quietleaf.delivery.riff import WaveLayout, header_bytes
from quietleaf.errors import AudioUnfit
from quietleaf.sound.g711 import RATE_HZ, Law, g711_codes
from quietleaf.storage.masters import refuse_past_full_scale
from quietleaf.storage.new_file import NewFile, Written, disk_told
from quietleaf.storage.resampled_take import QUALITY, frames_at
from quietleaf.units import ratio_of_db

NOISE_DBOV = -62.0
"""Added before the coder: fainter room tone would come out as steps, or as nothing at all."""
_SEED = 711


class G711File:
    """Takes samples at another rate, writes 8 kHz; leaving without ``commit`` abandons it.

    Raises
    ------
    Conflict, NotFound, NotAllowed, Unavailable
        As :class:`quietleaf.storage.new_file.NewFile`; also while writing.
    """

    def __init__(self, path: Path, sample_rate_hz: int, law: Law) -> None:
        self._law: Law = law
        self._from_hz = sample_rate_hz
        self._resampler = soxr.ResampleStream(
            sample_rate_hz, RATE_HZ, 1, dtype="float64", quality=QUALITY
        )
        self._draw = np.random.Generator(np.random.PCG64(_SEED))
        self._taken = 0
        self.frames = 0
        self._file = NewFile(path)
        with disk_told(path):
            self._file.stream.write(self._header())

    def write(self, samples: NDArray[np.float64]) -> None:
        """Append samples, shape (n,), full scale 1.0.

        Raises
        ------
        AudioUnfit
            If a sample is not finite or lies past full scale.
        """
        refuse_past_full_scale(samples)
        self._taken += samples.size
        self._code(self._resampler.resample_chunk(samples))

    def commit(self) -> Written:
        """Finish the file under its own name.

        Raises
        ------
        AudioUnfit
            If nothing was written.
        """
        if self._taken == 0:
            raise AudioUnfit(
                "masters/empty", "A master holds at least one sample; nothing was left to write."
            )
        self._code(self._resampler.resample_chunk(np.empty(0), last=True))
        wanted = frames_at(self._taken, self._from_hz, RATE_HZ)
        self._code(np.zeros(max(0, wanted - self.frames)))
        with disk_told(self._file.path):
            self._file.stream.write(b"\0" * (self.frames % 2))
            self._file.stream.seek(0)
            self._file.stream.write(self._header())
        return self._file.commit()

    def abandon(self) -> None:
        """Leave nothing behind; after ``commit`` this does nothing."""
        self._file.abandon()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.abandon()

    def _code(self, samples: NDArray[np.float64]) -> None:
        left = frames_at(self._taken, self._from_hz, RATE_HZ) - self.frames
        samples = samples[:left]
        noise = self._draw.normal(size=samples.size) * ratio_of_db(NOISE_DBOV)
        with disk_told(self._file.path):
            self._file.stream.write(g711_codes(samples + noise, self._law).tobytes())
        self.frames += samples.size

    def _header(self) -> bytes:
        layout = WaveLayout(sample_rate_hz=RATE_HZ, bits=8, coding=self._law)
        return header_bytes(layout, self.frames)
