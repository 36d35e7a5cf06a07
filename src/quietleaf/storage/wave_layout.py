"""Where the sound lies in a WAV, RF64 or BW64 file, its header's claims held against its bytes.

A recorder that stops dead leaves sizes of 0, of 0xFFFFFFFF, or of what it meant to write. The
samples on the disk are real sound all the same: they are given, and a remark says so. A header
that contradicts itself is refused.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO, Literal, NoReturn

from quietleaf.errors import AudioUnfit
from quietleaf.units import clock

SampleCoding = Literal["unsigned", "signed", "float", "A-law", "mu-law"]

_UNKNOWN_SIZE = 0xFFFFFFFF
_BEYOND_ANY_DISK = 1 << 50
_CHUNKS_MAX = 4096
"""No writer makes more before the sound; a file of rubbish could."""
_PCM, _FLOAT, _A_LAW, _MU_LAW, _EXTENSIBLE = 1, 3, 6, 7, 0xFFFE


@dataclass(frozen=True, slots=True, kw_only=True)
class WaveLayout:
    """What a WAV holds, and where.

    Attributes
    ----------
    coding : SampleCoding or None
        None for codings that are left to a library (ADPCM and others).
    sample_bytes, sample_bits : int
        Room that one sample takes in the file; bits of it that count.
    data_start, frames : int
        First byte of the samples; whole frames that are really there.
    remarks : tuple of str
        What its header said that the bytes did not bear out, as sentences.
    """

    coding: SampleCoding | None
    sample_rate_hz: int
    channels: int
    sample_bytes: int
    sample_bits: int
    data_start: int
    frames: int
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Format:
    tag: int
    channels: int
    sample_rate_hz: int
    frame_bytes: int
    bits: int


def wave_layout(file: BinaryIO, size: int, name: str) -> WaveLayout:
    """Read the header of a file that begins like a WAV.

    Parameters
    ----------
    size : int
        Bytes of the file. No size in the header is believed beyond it.
    name : str
        For sentences.

    Raises
    ------
    AudioUnfit
        If the header ends early, contradicts itself, or no sample follows it.
    """
    file.seek(0)
    outer = file.read(12)
    long_sizes: int | None = None
    form: _Format | None = None
    at = 12
    for _ in range(_CHUNKS_MAX):
        file.seek(at)
        header = file.read(8)
        if len(header) < 8 or not _is_fourcc(header[:4]):
            break
        fourcc, length = header[:4], int.from_bytes(header[4:], "little")
        if fourcc == b"ds64":
            long_sizes = _data_size_of_ds64(file.read(28), name)
        elif fourcc == b"fmt ":
            form = _format(file.read(min(length, 40)), name)
        elif fourcc == b"data":
            if form is None:
                _refuse_header(name, "the sound comes before its description")
            if outer[:4] != b"RIFF":
                if long_sizes is None:
                    _refuse_header(name, "the long sizes (ds64) that such a file needs are missing")
                length = long_sizes if length == _UNKNOWN_SIZE else length
            riff_end = int.from_bytes(outer[4:8], "little") + 8
            return _layout(file, form, at + 8, length, size, riff_end, name)
        at = _next_chunk(file, at + 8 + length)
    return _refuse_header(
        name, "no sound follows it" if form else "it ends before the sound is described"
    )


def _data_size_of_ds64(chunk: bytes, name: str) -> int:
    # EBU Tech 3306: riff size, data size, sample count, each of 8 bytes.
    if len(chunk) < 28:
        _refuse_header(name, "it ends inside its long sizes (ds64)")
    return int.from_bytes(chunk[8:16], "little")


def _format(chunk: bytes, name: str) -> _Format:
    if len(chunk) < 16:
        _refuse_header(name, "the description of the sound is cut short")
    tag, channels, rate, _, frame_bytes, bits = struct.unpack_from("<HHIIHH", chunk)
    if tag == _EXTENSIBLE:
        if len(chunk) < 40:
            _refuse_header(name, "the description of the sound is cut short")
        tag = int.from_bytes(chunk[24:26], "little")
    return _Format(
        tag=tag, channels=channels, sample_rate_hz=rate, frame_bytes=frame_bytes, bits=bits
    )


def _next_chunk(file: BinaryIO, end: int) -> int:
    """Step over the pad byte of an odd chunk, unless its writer forgot it."""
    if end % 2 == 0:
        return end
    file.seek(end)
    following = file.read(5)
    if following[:1] != b"\0" and _is_fourcc(following[:4]):
        return end
    return end + 1


def _layout(
    file: BinaryIO, form: _Format, start: int, claimed: int, size: int, riff_end: int, name: str
) -> WaveLayout:
    coding, sample_bytes = _coding(form, name)
    there = max(size - start, 0)
    remarks: list[str] = []
    taken = min(claimed, there)
    # What was written after the sizes were last put right belongs to nobody's count.
    if claimed == 0 and there and not _is_chunks(file, start, size):
        taken = there
    frames = taken // form.frame_bytes if form.frame_bytes else 0
    if coding is not None:
        if frames == 0:
            raise AudioUnfit(
                "sound/no-samples",
                f"A recording needs sound in it; {name} has a header and no samples after it. "
                "Record or export it again.",
            )
        length = clock(frames / form.sample_rate_hz) if form.sample_rate_hz else "sound"
        if claimed == 0 or (claimed > there and _means_unknown(claimed)):
            remarks.append(
                f"Its header does not say how long it is, as when a recorder stops before it "
                f"closes the file: all that is there was taken, {length}."
            )
        elif claimed > there:
            meant = clock(claimed / form.frame_bytes / form.sample_rate_hz)
            remarks.append(
                f"It ends early: its header promises {meant}, and {length} is there. "
                "All of that was taken."
            )
        elif riff_end == start + claimed + claimed % 2 < size:
            remarks.append(
                f"After its end it holds {size - riff_end} more bytes that its header does not "
                "count; they were left out."
            )
    return WaveLayout(
        coding=coding,
        sample_rate_hz=form.sample_rate_hz,
        channels=form.channels,
        sample_bytes=sample_bytes,
        sample_bits=form.bits,
        data_start=start,
        frames=frames,
        remarks=tuple(remarks),
    )


def _means_unknown(claimed: int) -> bool:
    """Tell a size that a writer put down for want of one: as large as it goes, or nearly."""
    return _UNKNOWN_SIZE - 256 <= claimed <= _UNKNOWN_SIZE or claimed >= _BEYOND_ANY_DISK


def _coding(form: _Format, name: str) -> tuple[SampleCoding | None, int]:
    """Name the coding and its room for a sample; the numbers of the header must agree."""
    if form.tag not in (_PCM, _FLOAT, _A_LAW, _MU_LAW):
        return None, 0
    if form.channels == 0 or form.sample_rate_hz == 0:
        _refuse_header(
            name, f"it claims {form.channels} channels at {form.sample_rate_hz} samples a second"
        )
    room, rest = divmod(form.frame_bytes, form.channels)
    allowed = {
        _PCM: 1 <= form.bits <= 8 * room <= 32,
        _FLOAT: form.bits == 8 * room and room in (4, 8),
        _A_LAW: form.bits == 8 and room == 1,
        _MU_LAW: form.bits == 8 and room == 1,
    }
    if rest or not allowed[form.tag]:
        _refuse_header(
            name,
            f"it claims {form.channels} channels of {form.bits} bits in {form.frame_bytes} bytes",
        )
    coding: dict[int, SampleCoding] = {
        _PCM: "unsigned" if room == 1 else "signed",
        _FLOAT: "float",
        _A_LAW: "A-law",
        _MU_LAW: "mu-law",
    }
    return coding[form.tag], room


def _is_chunks(file: BinaryIO, at: int, size: int) -> bool:
    """Tell whether nothing but whole chunks lies between here and the end of the file."""
    for _ in range(_CHUNKS_MAX):
        if at == size:
            return True
        file.seek(at)
        header = file.read(8)
        if len(header) < 8 or not _is_fourcc(header[:4]):
            return False
        at = _next_chunk(file, at + 8 + int.from_bytes(header[4:], "little"))
        if at > size:
            return False
    return False


def _is_fourcc(name: bytes) -> bool:
    return len(name) == 4 and all(0x20 <= letter < 0x7F for letter in name)


def _refuse_header(name: str, why: str) -> NoReturn:
    raise AudioUnfit(
        "sound/header",
        f"The header of {name} does not hold together: {why}. "
        "Open it in the program that made it and export it again as WAV.",
    )
