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
_SKIP_FRAMES = 65_536
_OPUS_RATE_HZ = 48_000
_CHUNKS_MAX = 4096


class _SoundFile(soundfile.SoundFile):  # type: ignore[misc]  # soundfile has no types
    """A file that is read on from where it is.

    soundfile seeks after each read to where it is already, if a file can be sought in. The MP3
    decoder takes that for a jump and gives other samples from there, a quarter of full scale off.
    """

    def seekable(self) -> bool:
        """Say no; `seek` works all the same."""
        return False


class LibraryReader:
    """Gives ranges of frames of a file that libsndfile opens.

    Parameters
    ----------
    source : callable
        Gives what to open, each time anew.
    exact_jumps : bool
        Whether the decoder gives the same samples after a jump; those of MP3 and Vorbis do not.
    complains : bool
        Whether it is the MP3 decoder, which tells of damage on standard error alone.

    Attributes
    ----------
    frames : int
        Frames that can really be read: the last one was tried, and if it is not there all were.
    subtype : str
        The library's name for the coding.
    remarks : tuple of str
        Sentences about what is missing.
    """

    def __init__(
        self,
        source: Callable[[], Path | Mp3Stream],
        name: str,
        *,
        exact_jumps: bool,
        complains: bool,
    ) -> None:
        self._source = source
        self._name = name
        self._exact_jumps = exact_jumps
        self._complains = complains
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
        # What the library says of a FLAC whose header has no length, as those written to a pipe.
        endless = claimed >= _ENDLESS
        self.frames, whole = (claimed, True) if self._reaches(claimed) else self._counted()
        self._reopen()
        if self.frames == 0:
            raise _no_samples(self._name)
        if (endless and not whole) or self.frames < max(promised or 0, 0 if endless else claimed):
            length = clock(self.frames / self.sample_rate_hz)
            self.remarks += (f"It ends early: {length} is there, and all of that was taken.",)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give the half-open range of frames, shape (stop - start, c), full scale 1.0."""
        try:
            with self._hushed():
                if start != self._at:
                    self._go_to(start)
                block: NDArray[np.float64] = self._file.read(stop - start, always_2d=True)
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
                return _SoundFile(self._source())
        except (soundfile.LibsndfileError, TypeError) as fault:
            # soundfile raises TypeError for a header without rate or channels.
            raise broken(self._name) from fault

    def _reopen(self) -> None:
        self.close()
        self._file = self._opened()
        self._at = 0

    def _reaches(self, claimed: int) -> bool:
        """Go to the last frame and read it."""
        if not 1 <= claimed < _ENDLESS:
            return False
        try:
            with self._hushed():
                self._file.seek(claimed - 1)
                return len(self._file.read(1)) == 1
        except soundfile.LibsndfileError:
            return False

    def _counted(self) -> tuple[int, bool]:
        """Read from the start as far as it goes; tell whether it came to an end, or to damage."""
        # After a jump past the damage a decoder may give nothing more: begin anew.
        self._reopen()
        count = 0
        block = np.empty((_COUNT_FRAMES, self.channels))
        try:
            with self._hushed():
                while got := len(self._file.read(out=block)):
                    count += got
                    block.fill(np.nan)
        except soundfile.LibsndfileError:
            # What was decoded before the damage lies in the block.
            empty = np.isnan(block).all(axis=1)
            return count + (int(np.argmax(empty)) if empty.any() else _COUNT_FRAMES), False
        return count, True

    def _go_to(self, frame: int) -> None:
        if self._exact_jumps:
            self._file.seek(frame)
            return
        if frame < self._at:
            self._reopen()
        for start in range(self._at, frame, _SKIP_FRAMES):
            self._file.read(min(_SKIP_FRAMES, frame - start))

    @contextmanager
    def _hushed(self) -> Iterator[None]:
        """Hear the decoder's complaints, if it is the one that complains."""
        if not self._complains:
            yield
            return
        complaints: list[bytes] = []
        with _standard_error_read(complaints):
            yield
        self._complained = self._complained or bool(complaints)


_STANDARD_ERROR = threading.RLock()


@contextmanager
def _standard_error_read(complaints: list[bytes]) -> Iterator[None]:
    """Keep the MP3 decoder's own lines off the screen, and learn from them.

    It writes straight to the process's standard error that a frame cannot be decoded, and gives
    rubbish of any level in its place. What others write meanwhile is passed on.
    """
    with _STANDARD_ERROR, tempfile.TemporaryFile() as kept:
        _flush()
        screen = os.dup(2)
        os.dup2(kept.fileno(), 2)
        try:
            yield
        finally:
            _flush()
            os.dup2(screen, 2)
            os.close(screen)
            kept.seek(0)
            for line in kept:
                if b"libmpg123" in line:
                    complaints.append(line)
                elif not line.startswith((b"Note: ", b"Warning: ")):
                    os.write(2, line)


def _flush() -> None:
    # Python has none when it runs without a terminal at all.
    if sys.stderr is not None:
        sys.stderr.flush()


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
        library = LibraryReader(
            lambda: Mp3Stream(file, found), name, exact_jumps=False, complains=True
        )
    else:
        library = LibraryReader(lambda: path, name, exact_jumps=kind != "Ogg", complains=False)
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
