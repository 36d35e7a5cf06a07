"""Recordings that a library reads: AIFF, FLAC, Ogg Vorbis and Opus, MP3, rare kinds of WAV.

libsndfile believes what it is told, so what it is told is checked around it: the frames of an
MP3 and the pages of an Ogg one by one, the end of a FLAC by going there, the length an AIFF
promises against the length it has.
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

import numpy as np
import soundfile
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.storage.mp3_frames import Mp3Stream, mp3_frames
from quietleaf.storage.ogg_pages import ogg_pages
from quietleaf.storage.sound_kind import SoundKind, tags_end
from quietleaf.units import clock

_COUNT_FRAMES = 4096
_ENDLESS = 1 << 62
"""What the library says of a FLAC whose header has no length, as those written to a pipe."""
_OPUS_RATE_HZ = 48_000
_CHUNKS_MAX = 4096


class LibraryReader:
    """Gives ranges of frames of a file that libsndfile opens.

    Attributes
    ----------
    frames : int
        Frames that can really be read: the last one was tried, and if it is not there all were.
    subtype : str
        The library's name for the coding.
    remarks : tuple of str
        Sentences about what is missing.
    """

    def __init__(self, source: Callable[[], Path | Mp3Stream], name: str) -> None:
        self._source = source
        self._name = name
        self._complained = False
        self._file = self._opened()
        self.sample_rate_hz = int(self._file.samplerate)
        self.channels = int(self._file.channels)
        self.subtype = str(self._file.subtype)
        self.frames = 0
        self.remarks: tuple[str, ...] = ()
        self._at = 0

    def measure(self, promised: int | None = None) -> None:
        """Find out how many frames can be read, believing nothing.

        Parameters
        ----------
        promised : int, optional
            Frames that the file says it has, where the library does not tell.
        """
        claimed = int(self._file.frames)
        endless = claimed >= _ENDLESS
        self.frames = claimed if self._reaches(claimed) else self._counted()
        if self.frames == 0:
            raise _no_samples(self._name)
        length = clock(self.frames / self.sample_rate_hz)
        if endless:
            self.remarks += (
                f"Its header does not say how long it is: {length} can be read, and was taken. "
                "See that nothing is missing at its end.",
            )
        elif self.frames < max(promised or 0, claimed):
            self.remarks += (f"It ends early: {length} is there, and all of that was taken.",)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give the half-open range of frames, shape (stop - start, c), full scale 1.0."""
        try:
            with self._hushed():
                if start != self._at:
                    self._go_to(start)
                block = self._next(stop - start)
        except soundfile.LibsndfileError as fault:
            raise broken_at(self._name, start / self.sample_rate_hz) from fault
        if self._complained:
            raise broken_at(self._name, start / self.sample_rate_hz)
        if len(block) != stop - start:
            raise broken_at(self._name, (start + len(block)) / self.sample_rate_hz)
        self._at = stop
        return block

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()

    def _opened(self) -> soundfile.SoundFile:
        try:
            with self._hushed():
                return soundfile.SoundFile(self._source())
        except (soundfile.LibsndfileError, TypeError) as fault:
            # soundfile raises TypeError for a header without rate or channels.
            raise broken(self._name) from fault

    def _reaches(self, claimed: int) -> bool:
        if not 1 <= claimed < _ENDLESS:
            return False
        try:
            with self._hushed():
                self._file.seek(claimed - 1)
                got = len(self._file.read(1))
                self._file.seek(0)
        except soundfile.LibsndfileError:
            return False
        return got == 1

    def _counted(self) -> int:
        """Read from the start as far as it goes."""
        self._reopen()
        count = 0
        with self._hushed():
            while got := len(self._next(_COUNT_FRAMES)):
                count += got
        self._reopen()
        return count

    def _go_to(self, frame: int) -> None:
        try:
            self._file.seek(frame)
        except soundfile.LibsndfileError:
            # From the end of a FLAC without a length there is no way back.
            self._reopen()
            self._file.seek(frame)

    def _next(self, frames: int) -> NDArray[np.float64]:
        """Read on; give what came before the end or the damage, if that is near."""
        block = np.full((frames, self.channels), np.nan)
        try:
            got = len(self._file.read(out=block))
        except soundfile.LibsndfileError:
            # What was decoded lies in the block, though soundfile raises for what follows it.
            empty = np.isnan(block).all(axis=1)
            got = int(np.argmax(empty)) if empty.any() else frames
        return block[:got]

    def _reopen(self) -> None:
        """Begin anew: after a step past the damage a decoder may give nothing more."""
        self.close()
        self._file = self._opened()
        self._at = 0

    @contextmanager
    def _hushed(self) -> Iterator[None]:
        """Keep the MP3 decoder's own lines off the screen, and learn from them.

        It writes straight to the process's standard error that a frame cannot be decoded, and
        gives rubbish of any level in its place. What others write meanwhile is passed on.
        """
        with _STANDARD_ERROR, tempfile.TemporaryFile() as kept:
            sys.stderr.flush()
            screen = os.dup(2)
            os.dup2(kept.fileno(), 2)
            try:
                yield
            finally:
                sys.stderr.flush()
                os.dup2(screen, 2)
                os.close(screen)
                kept.seek(0)
                for line in kept:
                    if b"libmpg123" in line:
                        self._complained = True
                    elif not line.startswith((b"Note: ", b"Warning: ")):
                        os.write(2, line)


_STANDARD_ERROR = threading.RLock()


def open_by_library(kind: SoundKind, file: BinaryIO, path: Path, name: str) -> LibraryReader:
    """Open a recording of a kind that libsndfile reads, and check its length.

    Raises
    ------
    AudioUnfit
        If it cannot be read, is damaged inside, or has no samples.
    """
    remarks: tuple[str, ...] = ()
    promised = None
    if kind == "MP3":
        found = mp3_frames(file, tags_end(file))
        if found.damaged_at_frame is not None:
            at_s = found.damaged_at_frame * found.frame_samples / found.sample_rate_hz
            raise broken_at(name, at_s)
        if found.frames == 0:
            raise _no_samples(name)
        claimed = found.frames if found.claimed_frames is None else found.claimed_frames
        # Some writers count the frame that holds the count.
        if abs(claimed - found.frames) > 1:
            remarks = (_other_length(found.duration_s, claimed * found.duration_s / found.frames),)
        library = LibraryReader(lambda: Mp3Stream(file, found), name)
    else:
        library = LibraryReader(lambda: path, name)
    try:
        if kind == "Ogg":
            _check_pages(file, library, name)
        if kind == "AIFF":
            promised = _aiff_frames(file)
        library.measure(promised)
    except BaseException:
        library.close()
        raise
    library.remarks += remarks
    return library


def broken(name: str) -> AudioUnfit:
    """Refuse what begins like a recording and is none."""
    return AudioUnfit(
        "sound/broken",
        f"{name} begins like a recording, and what follows cannot be read. "
        "Copy it again from where it was made, or export it again as WAV.",
    )


def broken_at(name: str, at_s: float) -> AudioUnfit:
    """Refuse a recording that is damaged inside."""
    return AudioUnfit(
        "sound/broken",
        f"{name} is damaged at {clock(at_s)} and cannot be read from there. "
        "Copy it again from where it was made, or export it again as WAV.",
    )


def _no_samples(name: str) -> AudioUnfit:
    return AudioUnfit(
        "sound/no-samples",
        f"A recording needs sound in it; {name} has a header and no samples that can be read. "
        "Record or export it again.",
    )


def _other_length(there_s: float, claimed_s: float) -> str:
    if there_s < claimed_s:
        return (
            f"It ends early: its header promises {clock(claimed_s)}, and {clock(there_s)} is "
            "there. All of that was taken."
        )
    return (
        f"It is longer than its header says: {clock(there_s)} is there, not {clock(claimed_s)}, "
        "as when files are joined end to end. All of it was taken."
    )


def _check_pages(file: BinaryIO, library: LibraryReader, name: str) -> None:
    pages = ogg_pages(file)
    if pages.damaged_at is not None:
        rate_hz = _OPUS_RATE_HZ if library.subtype == "OPUS" else library.sample_rate_hz
        raise broken_at(name, pages.damaged_at / rate_hz)
    if not pages.ended:
        library.remarks = (
            "It has no last page, as when a recorder stops before it closes the file: "
            "all that is there was taken.",
        )


def _aiff_frames(file: BinaryIO) -> int | None:
    """Read how many frames an AIFF says it has (chunk COMM)."""
    at = 12
    for _ in range(_CHUNKS_MAX):
        file.seek(at)
        head = file.read(18)
        if len(head) < 18:
            return None
        if head[:4] == b"COMM":
            return int.from_bytes(head[10:14], "big")
        size = int.from_bytes(head[4:8], "big")
        at += 8 + size + size % 2
    return None
