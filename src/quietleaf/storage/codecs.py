"""Recordings as they come: opened by what they hold, every claim checked against the bytes."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Literal, NoReturn, Protocol, Self, cast

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit, Invalid, NotAllowed, NotFound, Unavailable
from quietleaf.storage.aac_reader import AacReader
from quietleaf.storage.libsndfile_reader import open_by_library
from quietleaf.storage.sound_kind import SoundKind, described, sound_kind
from quietleaf.storage.sound_source import SoundInfo, read_in_blocks
from quietleaf.storage.wave_layout import wave_layout
from quietleaf.storage.wave_reader import WaveReader
from quietleaf.units import clock

SamplesKind = Literal["whole numbers", "floats", "decoded"]
KINDS_READ = "WAV, RF64, BW64, AIFF, FLAC, MP3, Ogg Vorbis, Opus, and with an extra M4A"
RATE_HZ_MIN = 4_000
"""Below, nothing of speech but a hum is left: half of the rate is the highest tone."""
RATE_HZ_MAX = 384_000
"""The highest rate that recording interfaces are sold with."""
CHANNELS_MAX = 64
"""More than any recorder a reading service uses; keeps a block of 65,536 frames under 34 MB."""

_SUBTYPES = {
    "PCM_S8": "8-bit PCM",
    "PCM_U8": "8-bit PCM",
    "PCM_16": "16-bit PCM",
    "PCM_24": "24-bit PCM",
    "PCM_32": "32-bit PCM",
    "FLOAT": "32-bit float",
    "DOUBLE": "64-bit float",
    "ALAW": "A-law",
    "ULAW": "mu-law",
    "VORBIS": "Vorbis",
    "OPUS": "Opus",
    "MPEG_LAYER_III": "layer III",
}


class _Reader(Protocol):
    def read(self, start: int, stop: int) -> NDArray[np.float64]: ...

    def close(self) -> None: ...


class SoundFile:
    """A recording in a file; use it as a context.

    Attributes
    ----------
    remarks : tuple of str
        Sentences about what its header said and its bytes did not bear out.
    samples : {"whole numbers", "floats", "decoded"}
        How the file holds them; ``decoded`` is what no file holds, as of MP3 or Opus.
    """

    def __init__(
        self,
        file: BinaryIO,
        reader: _Reader,
        info: SoundInfo,
        name: str,
        *,
        remarks: tuple[str, ...],
        samples: SamplesKind,
    ) -> None:
        self._file = file
        self._reader = reader
        self._info = info
        self._name = name
        self.samples: SamplesKind = samples
        self.remarks = remarks

    @property
    def info(self) -> SoundInfo:
        """The facts of this recording, checked against its bytes."""
        return self._info

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        """Give the whole recording from its start, in blocks of shape (n, c), full scale 1.0.

        Raises
        ------
        AudioUnfit
            If a sample is not a number, or the file is damaged further on.
        """
        return read_in_blocks(self, block_frames)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give the half-open range of frames, shape (stop - start, c), full scale 1.0.

        Any range of a WAV is as near as any other. Coded files are read fastest in order.

        Raises
        ------
        AudioUnfit
            If a sample is not a number, or the file is damaged there.
        """
        assert 0 <= start <= stop <= self._info.frames, "a range of this recording"
        block = self._reader.read(start, stop)
        if self.samples != "whole numbers":
            self._refuse_no_numbers(block, start)
        return block

    def close(self) -> None:
        """Let go of the file."""
        self._reader.close()
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _refuse_no_numbers(self, block: NDArray[np.float64], start: int) -> None:
        finite = np.isfinite(block)
        if finite.all():
            return
        first = start + int(np.argmin(finite.all(axis=1)))
        raise AudioUnfit(
            "sound/not-a-number",
            f"Every sample must be a number; at {clock(first / self._info.sample_rate_hz)} "
            f"{self._name} holds one that is none. Export it again as 24-bit WAV.",
        )


def open_sound(path: Path) -> SoundFile:
    """Open a recording, whatever its name says it is.

    Parameters
    ----------
    path : Path
        WAV (8 to 32 bits, float, A-law, mu-law), RF64, BW64, AIFF, FLAC, MP3, Ogg Vorbis, Opus;
        M4A and AAC where the extra is installed.

    Returns
    -------
    SoundFile
        Its ``info.frames`` can really be read: sizes in headers are claims.

    Raises
    ------
    NotFound, NotAllowed, Invalid
        If there is no such file, it may not be read, or it holds no kind of recording that is
        read here.
    AudioUnfit
        If it is empty, its header contradicts itself, or it has a sampling rate or number of
        channels that no recording has.

    Notes
    -----
    Nothing is allocated by what a header claims.
    """
    name = path.name or str(path)
    file = _opened(path, name)
    try:
        size = os.fstat(file.fileno()).st_size
        if size == 0:
            raise AudioUnfit(
                "sound/empty",
                f"A recording needs sound in it; {name} is empty (0 bytes). "
                "Copy it again from where it was made.",
            )
        kind = sound_kind(file)
        if kind is None:
            raise Invalid(
                "sound/not-a-recording",
                f"A recording is one of {KINDS_READ}; {name} holds {described(file)}. "
                "Choose the file that your recorder made.",
            )
        return _of_kind(kind, file, path, size, name)
    except BaseException:
        file.close()
        raise


def _opened(path: Path, name: str) -> BinaryIO:
    try:
        # Asked before it is opened: opening a pipe would wait for somebody to write into it.
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise Invalid(
                "sound/folder",
                f"A recording is one file; {name} is a folder. Name the file in it.",
            )
        if not stat.S_ISREG(mode):
            raise Invalid(
                "sound/no-file",
                f"A recording is a file on a disk; {name} is something else. Copy it to a file.",
            )
        return cast(BinaryIO, path.open("rb", buffering=0))
    except (FileNotFoundError, NotADirectoryError) as fault:
        raise NotFound(
            "sound/missing", f"There is no file {path}. Look for it and name it as it is written."
        ) from fault
    except PermissionError as fault:
        raise NotAllowed(
            "sound/not-allowed",
            f"{name} may not be read by you. Ask whoever it belongs to, or copy it to a place of "
            "your own.",
        ) from fault
    except (OSError, ValueError) as fault:
        why = fault.strerror if isinstance(fault, OSError) else fault
        raise Unavailable(
            "sound/unreadable",
            f"{name[:80]!r} could not be opened ({why}). Copy it to this machine and ask again.",
        ) from fault


def _of_kind(kind: SoundKind, file: BinaryIO, path: Path, size: int, name: str) -> SoundFile:
    if kind in ("WAV", "RF64", "BW64"):
        layout = wave_layout(file, size, name)
        if layout.coding is not None:
            _refuse_absurd(layout.sample_rate_hz, layout.channels, name)
            info = SoundInfo(
                sample_rate_hz=layout.sample_rate_hz,
                channels=layout.channels,
                frames=layout.frames,
                encoding=f"{kind}, {_wave_words(layout.coding, layout.sample_bits)}",
            )
            return SoundFile(
                file,
                WaveReader(file, layout, name),
                info,
                name,
                remarks=layout.remarks,
                samples="floats" if layout.coding == "float" else "whole numbers",
            )
    if kind in ("M4A", "AAC"):
        return _by_extra(kind, file, path, name)
    return _by_library(kind, file, path, name)


def _by_extra(kind: SoundKind, file: BinaryIO, path: Path, name: str) -> SoundFile:
    reader = AacReader(path, name)
    try:
        _refuse_absurd(reader.sample_rate_hz, reader.channels, name)
    except BaseException:
        reader.close()
        raise
    info = SoundInfo(
        sample_rate_hz=reader.sample_rate_hz,
        channels=reader.channels,
        frames=reader.frames,
        encoding=f"{kind}, {reader.coding.upper()}",
    )
    return SoundFile(file, reader, info, name, remarks=reader.remarks, samples="decoded")


def _by_library(kind: SoundKind, file: BinaryIO, path: Path, name: str) -> SoundFile:
    library = open_by_library(kind, file, path, name)
    try:
        _refuse_absurd(library.sample_rate_hz, library.channels, name)
    except BaseException:
        library.close()
        raise
    words = _SUBTYPES.get(library.subtype, library.subtype.replace("_", " "))
    info = SoundInfo(
        sample_rate_hz=library.sample_rate_hz,
        channels=library.channels,
        frames=library.frames,
        encoding=kind if kind == "MP3" else f"{kind}, {words}",
    )
    return SoundFile(
        file,
        library,
        info,
        name,
        remarks=library.remarks,
        samples=_samples_kind(library.subtype),
    )


def _samples_kind(subtype: str) -> SamplesKind:
    if subtype.startswith(("PCM_", "ALAW", "ULAW")):
        return "whole numbers"
    return "floats" if subtype in ("FLOAT", "DOUBLE") else "decoded"


def _wave_words(coding: str, bits: int) -> str:
    if coding in ("unsigned", "signed"):
        return f"{bits}-bit PCM"
    return f"{bits}-bit float" if coding == "float" else coding


def _refuse_absurd(sample_rate_hz: int, channels: int, name: str) -> None:
    if not RATE_HZ_MIN <= sample_rate_hz <= RATE_HZ_MAX:
        _refuse_claim(
            name,
            "rate",
            f"has {RATE_HZ_MIN} to {RATE_HZ_MAX} samples a second",
            f"{sample_rate_hz}",
        )
    if not 1 <= channels <= CHANNELS_MAX:
        _refuse_claim(name, "channels", f"has 1 to {CHANNELS_MAX} channels", f"{channels}")


def _refuse_claim(name: str, code: str, needed: str, came: str) -> NoReturn:
    raise AudioUnfit(
        f"sound/{code}",
        f"A recording {needed}; {name} claims {came}. "
        "Open it in the program that made it and export it again as WAV.",
    )
