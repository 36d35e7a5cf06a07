"""An MP3 master being written: the encoder works in a process of its own."""

from __future__ import annotations

import mmap
import subprocess
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Self

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.id3 import Tags, id3_bytes
from quietleaf.delivery.mp3_frames import KBPS, SAMPLE_RATES_HZ, length_frame, stream_of_bytes
from quietleaf.errors import AudioUnfit, Invalid, Unavailable
from quietleaf.storage.masters import refuse_past_full_scale
from quietleaf.storage.new_file import NewFile, Written, disk_told

_WAIT_S = 60.0
_FULL_SCALE = 1 << 15


class Mp3Encoder:
    """An MP3 file being written: mono, at a constant bit rate.

    Samples are rounded to 16 bits, halves to the even step, without dither: the noise of any room
    is louder than the last step, and the same samples give the same bytes. The file begins with
    its tags and a frame that makes its length exact. Leaving a ``with`` block without ``commit``
    abandons the file and ends the process.

    Parameters
    ----------
    path : Path
        Where the file will be; its folder is there, and the name is free.
    sample_rate_hz : int
        32,000, 44,100 or 48,000; the file has the same.
    kbps : int
        Of MPEG-1 layer III: 32 to 320.
    quality : int
        0 slowest, 9 fastest; 7 leaves noise shaping out, and overshoots the ceiling least.

    Raises
    ------
    Invalid
        For another rate or quality.
    Conflict, NotFound, NotAllowed, Unavailable
        As :class:`quietleaf.storage.new_file.NewFile`; also while writing.
    """

    def __init__(self, path: Path, sample_rate_hz: int, *, kbps: int, quality: int = 7) -> None:
        _refuse(sample_rate_hz, kbps, quality)
        self._sample_rate_hz = sample_rate_hz
        self.samples = 0
        self._file = NewFile(path)
        try:
            with disk_told(path):
                # Without a name: nothing of it is left, whoever is killed.
                self._frames = tempfile.TemporaryFile(dir=path.parent)  # noqa: SIM115
                self._process = subprocess.Popen(
                    [
                        *(sys.executable, "-P", "-m", "quietleaf.storage.mp3_child"),
                        *(str(sample_rate_hz), str(kbps), str(quality)),
                    ],
                    stdin=subprocess.PIPE,
                    stdout=self._frames,
                    stderr=subprocess.DEVNULL,
                    # Ctrl-C in a terminal is for whoever started it; it ends with its input.
                    start_new_session=True,
                )
        except BaseException:
            self._file.abandon()
            raise
        assert self._process.stdin is not None
        self._pipe = self._process.stdin

    def write(self, samples: NDArray[np.float64]) -> None:
        """Append samples.

        Parameters
        ----------
        samples : ndarray, shape (n,), float64, full scale 1.0

        Raises
        ------
        AudioUnfit
            If a sample is not finite or lies past full scale.
        Unavailable
            If the encoder has stopped.
        """
        refuse_past_full_scale(samples)
        steps = np.minimum(np.rint(samples * _FULL_SCALE), _FULL_SCALE - 1).astype("<i2")
        try:
            self._pipe.write(steps.tobytes())
        except BrokenPipeError as error:
            raise self._stopped() from error
        self.samples += samples.shape[0]

    def commit(self, tags: Tags) -> Written:
        """Finish the file under its own name.

        Raises
        ------
        AudioUnfit
            If nothing was written.
        Unavailable
            If the encoder has stopped.
        """
        if self.samples == 0:
            raise AudioUnfit(
                "masters/empty", "A master holds at least one sample; nothing was left to write."
            )
        try:
            self._pipe.close()
            code = self._process.wait(_WAIT_S)
        except (BrokenPipeError, subprocess.TimeoutExpired) as error:
            raise self._stopped() from error
        if code != 0:
            raise self._stopped()
        with (
            disk_told(self._file.path),
            mmap.mmap(self._frames.fileno(), 0, access=mmap.ACCESS_READ) as mapped,
            memoryview(mapped) as frames,
        ):
            self._file.stream.write(id3_bytes(tags, self.samples / self._sample_rate_hz))
            self._file.stream.write(length_frame(stream_of_bytes(frames), self.samples))
            self._file.stream.write(frames)
        self._frames.close()
        return self._file.commit()

    def abandon(self) -> None:
        """Leave nothing behind; after ``commit`` this does nothing."""
        if self._process.poll() is None:
            self._process.kill()
            self._process.wait()
        # Closing writes what is still buffered, and nobody reads it any more.
        with suppress(OSError):
            self._pipe.close()
        self._frames.close()
        self._file.abandon()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.abandon()

    def _stopped(self) -> Unavailable:
        return Unavailable(
            "masters/encoder",
            f"The MP3 encoder stopped before {self._file.path.name} was whole; the disk may be "
            "full, or memory short. Nothing was kept of it; make room and finish again.",
        )


def _refuse(sample_rate_hz: int, kbps: int, quality: int) -> None:
    if sample_rate_hz not in SAMPLE_RATES_HZ:
        raise Invalid(
            "masters/mp3-sample-rate",
            "An MP3 master has 32,000, 44,100 or 48,000 samples a second; "
            f"{sample_rate_hz:,} was asked for.",
        )
    if kbps not in KBPS:
        raise Invalid(
            "masters/mp3-kbps",
            f"An MP3 has one of these bit rates: {', '.join(map(str, KBPS))} kbit/s; "
            f"{kbps} was asked for.",
        )
    if not 0 <= quality <= 9:
        raise Invalid(
            "masters/mp3-quality",
            f"The quality of an MP3 encoder goes from 0 to 9; {quality} was asked for.",
        )
