"""Masters: finished sound as a Broadcast Wave file, whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Self

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.bext import FIXED_BYTES, BroadcastExtension, bext_bytes
from quietleaf.delivery.riff import RIFF_LIMIT, WaveLayout, header_bytes, info_bytes
from quietleaf.errors import AudioUnfit, Invalid
from quietleaf.storage.new_file import NewFile, Written, disk_told
from quietleaf.storage.pcm24 import BYTES_A_SAMPLE, pcm24_of_samples

HISTORY_BYTES = 1446
"""Kept for the coding history, which is known when all is written: some twenty lines."""


class WaveMaster:
    """A Broadcast Wave file being written: mono, 24-bit PCM, RF64 when it is long.

    Samples are rounded to the nearest of 2^24 steps, halves to the even one, without dither: the
    rounding noise lies at -146 dBov, far under the noise of any room, and the same samples give
    the same bytes. Leaving a ``with`` block without ``commit`` abandons the file.

    Parameters
    ----------
    path : Path
        Where the file will be; its folder is there, and the name is free.
    info : mapping
        Texts of the LIST INFO chunk, keys as in ``quietleaf.delivery.riff.INFO_NAMES``.
    riff_limit : int
        From which size on the file is RF64; smaller in tests.

    Raises
    ------
    Conflict, NotFound, NotAllowed, Unavailable
        As :class:`quietleaf.storage.new_file.NewFile`; also while writing.
    """

    def __init__(
        self,
        path: Path,
        sample_rate_hz: int,
        *,
        info: Mapping[str, str] | None = None,
        riff_limit: int = RIFF_LIMIT,
    ) -> None:
        self._info = info_bytes(info or {})
        self._sample_rate_hz = sample_rate_hz
        self._riff_limit = riff_limit
        self._file = NewFile(path)
        self.frames = 0
        with disk_told(path):
            self._file.stream.write(self._header(b""))

    def write(self, samples: NDArray[np.float64]) -> None:
        """Append samples.

        Parameters
        ----------
        samples : ndarray, shape (n,), float64, full scale 1.0

        Raises
        ------
        AudioUnfit
            If a sample is not finite or lies past full scale.
        """
        refuse_past_full_scale(samples)
        with disk_told(self._file.path):
            self._file.stream.write(pcm24_of_samples(samples))
        self.frames += samples.shape[0]

    def settle(self) -> Path:
        """Make what was written readable as a WAV, before its extension is known.

        Returns
        -------
        path : Path
            The hidden file; it is gone after ``commit`` and ``abandon``.
        """
        with disk_told(self._file.path):
            self._file.stream.seek(0)
            self._file.stream.write(self._header(b""))
            self._file.stream.seek(0, os.SEEK_END)
            self._file.stream.flush()
        return self._file.hidden

    def commit(self, extension: BroadcastExtension) -> Written:
        """Finish the file under its own name.

        Raises
        ------
        AudioUnfit
            If nothing was written.
        Invalid
            If the coding history is longer than the place kept for it.
        """
        if self.frames == 0:
            raise AudioUnfit(
                "masters/empty", "A master holds at least one sample; nothing was left to write."
            )
        about = bext_bytes(extension)
        if len(about) > FIXED_BYTES + HISTORY_BYTES:
            raise Invalid(
                "masters/history",
                f"A coding history has room for {HISTORY_BYTES} characters; this one has "
                f"{len(about) - FIXED_BYTES}. Tell it in fewer words.",
            )
        with disk_told(self._file.path):
            self._file.stream.write(b"\0" * (self._data_bytes % 2))
            self._file.stream.seek(0)
            self._file.stream.write(self._header(about))
        return self._file.commit()

    def abandon(self) -> None:
        """Leave nothing behind; after ``commit`` this does nothing."""
        self._file.abandon()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.abandon()

    @property
    def _data_bytes(self) -> int:
        return self.frames * BYTES_A_SAMPLE

    def _header(self, about: bytes) -> bytes:
        layout = WaveLayout(
            sample_rate_hz=self._sample_rate_hz,
            bits=24,
            chunks=(
                (b"bext", about.ljust(FIXED_BYTES + HISTORY_BYTES, b"\0")),
                (b"LIST", self._info),
            ),
        )
        return header_bytes(layout, self._data_bytes, riff_limit=self._riff_limit)


def refuse_past_full_scale(samples: NDArray[np.float64]) -> None:
    """See to it that samples are numbers within full scale.

    Parameters
    ----------
    samples : ndarray, any shape, float64, full scale 1.0

    Raises
    ------
    AudioUnfit
        If one is not finite or lies past full scale.
    """
    # Written so that NaN fails it too.
    if samples.size and not (samples.min() >= -1.0 and samples.max() <= 1.0):
        raise AudioUnfit(
            "masters/full-scale",
            "A master stays within full scale; a sample lies past it or is no number. "
            "Lower the gain or the ceiling, and finish again.",
        )
