"""Room tone from room checks: ``room/0001.wav``, ``0002.wav`` and so on in a reading's folder."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import Conflict
from quietleaf.storage import disk
from quietleaf.storage.new_file import NewFile, Written, disk_told
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.take_header import padding, take_header

FOLDER = "room"
_TRIES = 5


def keep_room_tone(reading: Path, samples: NDArray[np.float64], sample_rate_hz: int) -> Written:
    """Keep room tone beside a reading's takes, under the next free number.

    Parameters
    ----------
    reading : Path
        The reading's folder.
    samples : ndarray, shape (n,), full scale 1.0
        Kept as 24-bit PCM at its own rate.

    Returns
    -------
    Written
        The file, with the checksum of its bytes.

    Raises
    ------
    Conflict, NotFound, NotAllowed, Unavailable
        As `NewFile`.
    """
    folder = reading / FOLDER
    if not folder.is_dir():
        with disk_told(folder):
            folder.mkdir(exist_ok=True)
        disk.sync_folder(reading)
    for _ in range(_TRIES):
        taken = [int(path.stem) for path in folder.glob("[0-9]*.wav") if path.stem.isdigit()]
        try:
            return _write(folder / f"{max(taken, default=0) + 1:04d}.wav", samples, sample_rate_hz)
        except Conflict:
            # Another check of the same reading had that number in the same moment.
            continue
    raise Conflict("room/busy", "Another room check is being kept just now. Do it once more.")


def _write(path: Path, samples: NDArray[np.float64], sample_rate_hz: int) -> Written:
    with NewFile(path) as file:
        with disk_told(path):
            file.stream.write(take_header(sample_rate_hz, samples.size))
            file.stream.write(pcm24_of_samples(samples))
            file.stream.write(bytes(padding(samples.size)))
        return file.commit()
