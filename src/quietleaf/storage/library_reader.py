"""Recordings that a library reads: AIFF, FLAC, Ogg Vorbis and Opus, MP3, rare kinds of WAV."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.units import clock

_COUNT_FRAMES = 65_536


class LibraryReader:
    """Gives ranges of frames of a file that libsndfile opens.

    Attributes
    ----------
    frames : int
        Frames that can really be read: the last one was tried, and if it is not there all were.
    remarks : tuple of str
        Sentences about what is missing.
    """

    def __init__(self, path: Path, name: str) -> None:
        self._name = name
        try:
            self._file = soundfile.SoundFile(path)
        except soundfile.LibsndfileError as fault:
            raise _broken(name) from fault
        self.sample_rate_hz = int(self._file.samplerate)
        self.channels = int(self._file.channels)
        self.subtype = str(self._file.subtype)
        self.remarks: tuple[str, ...] = ()
        self._at = 0

    def check_length(self) -> int:
        """Find out how many frames can be read, believing nothing; give the count."""
        claimed = int(self._file.frames)
        frames = claimed if self._reaches(claimed) else self._counted()
        if frames == 0:
            raise AudioUnfit(
                "sound/no-samples",
                f"A recording needs sound in it; {self._name} has a header and no samples that "
                "can be read. Record or export it again.",
            )
        if frames < claimed:
            length = clock(frames / self.sample_rate_hz)
            self.remarks = (
                f"It ends early or is damaged: {length} of it can be read, and was taken.",
            )
        return frames

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give the half-open range of frames, shape (stop - start, c), full scale 1.0."""
        try:
            if start != self._at:
                self._file.seek(start)
            block: NDArray[np.float64] = self._file.read(stop - start, always_2d=True)
        except soundfile.LibsndfileError as fault:
            raise self._broken_at(start) from fault
        if len(block) != stop - start:
            raise self._broken_at(start + len(block))
        self._at = stop
        return block

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()

    def _reaches(self, claimed: int) -> bool:
        if claimed < 1:
            return False
        try:
            self._file.seek(claimed - 1)
            got = len(self._file.read(1))
            self._file.seek(0)
        except soundfile.LibsndfileError:
            return False
        return got == 1

    def _counted(self) -> int:
        """Read from the start as far as it goes."""
        count = 0
        try:
            self._file.seek(0)
            while got := len(self._file.read(_COUNT_FRAMES)):
                count += got
        except soundfile.LibsndfileError:
            # What came before the damage is what there is.
            pass
        self._at = -1
        return count

    def _broken_at(self, frame: int) -> AudioUnfit:
        return AudioUnfit(
            "sound/broken",
            f"{self._name} is damaged at {clock(frame / self.sample_rate_hz)} and cannot be read "
            "from there. Copy it again from where it was made, or export it again.",
        )


def _broken(name: str) -> AudioUnfit:
    return AudioUnfit(
        "sound/broken",
        f"{name} begins like a recording, and what follows cannot be read. "
        "Copy it again from where it was made, or export it again as WAV.",
    )
