"""The frames of an MP3, found one by one: how many there really are, and whether they are whole.

A library believes the count in the first frame, or guesses one from the size of the file. Both
lose sound without a word: of two files joined end to end only the first is given, of a variable
one without a count a part. Here frames are counted, and the library is handed the frames alone,
with a count that is true.
"""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from functools import cache
from typing import BinaryIO

_WINDOW_BYTES = 1 << 20
_LARGEST_FRAME_BYTES = 4096
_NEXT_FRAME_SEARCH_BYTES = 1 << 20
_RANGES_MAX = 1000
"""Tags between frames come from files joined end to end; rubbish could have any number."""
_FIRST_FRAME_SEARCH_BYTES = 4096
"""Some writers leave zeros or a torn frame before the first whole one."""

# ISO/IEC 11172-3 and 13818-3, layer III: kbit/s by the header's index, 0 and 15 left out.
_KBPS_1 = (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
_KBPS_2 = (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160)
_RATES_HZ = {3: (44100, 48000, 32000), 2: (22050, 24000, 16000), 0: (11025, 12000, 8000)}
_COUNT_FLAG, _SIZE_FLAG = 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Mp3Frames:
    """Where the frames of an MP3 lie.

    Attributes
    ----------
    ranges : tuple of (int, int)
        Half-open ranges of bytes that hold whole frames and nothing else, in order.
    counting : (int, int)
        Where the frame lies that counts the others and holds no sound; empty if there is none.
    frames : int
        Whole frames of sound.
    frame_samples, sample_rate_hz : int
        Samples of one frame, and their rate.
    claimed_frames : int or None
        The count that the file gives of itself; None where it gives none.
    damaged_at_frame : int or None
        The first place where bytes that are no frame lie between two that are.
    header : bytes
        The 4 bytes that the first frame begins with.
    """

    ranges: tuple[tuple[int, int], ...]
    counting: tuple[int, int]
    frames: int
    frame_samples: int
    sample_rate_hz: int
    claimed_frames: int | None
    damaged_at_frame: int | None
    header: bytes

    @property
    def duration_s(self) -> float:
        """Length of the whole frames."""
        return self.frames * self.frame_samples / self.sample_rate_hz


def begins_mp3(head: bytes) -> bool:
    """Find two frames one after the other: one alone is found in anything."""
    return _first_frame(head, _FIRST_FRAME_SEARCH_BYTES) >= 0


def mp3_frames(file: BinaryIO, start: int) -> Mp3Frames:
    """Walk through all frames of an MP3.

    Parameters
    ----------
    start : int
        Where leading tags end; `begins_mp3` is true of what follows.
    """
    window = _Window(file)
    at = start + _first_frame(window.at(start, _WINDOW_BYTES), _FIRST_FRAME_SEARCH_BYTES)
    header = window.at(at, 4)
    ranges: list[tuple[int, int]] = []
    claimed, counting_bytes = _claim(window.at(at, _LARGEST_FRAME_BYTES))
    counting = (at, at + counting_bytes)
    count = 0
    damaged: int | None = None
    begin = at = counting[1]
    while len(ranges) < _RANGES_MAX:
        found = window.at(at, 4)
        length = _frame_bytes(found) if _alike(found, header) else 0
        if length and len(window.at(at, length)) == length:
            count += 1
            at += length
            continue
        if begin < at:
            ranges.append((begin, at))
        begin = _past_tag(window.at(at, 32), at)
        if begin == at:
            rest = window.at(at, _NEXT_FRAME_SEARCH_BYTES)
            skip = _first_frame(rest, len(rest), header) if not length else -1
            if skip < 0:
                break
            damaged = count if damaged is None else damaged
            begin = at + skip
        at = begin
    version = header[1] >> 3 & 3
    return Mp3Frames(
        ranges=tuple(ranges),
        counting=counting,
        frames=count,
        frame_samples=1152 if version == 3 else 576,
        sample_rate_hz=_RATES_HZ[version][header[2] >> 2 & 3],
        claimed_frames=claimed,
        damaged_at_frame=damaged,
        header=header,
    )


class Mp3Stream(io.RawIOBase):
    """The frames of an MP3 as a file of their own, begun by a frame that counts them rightly.

    Where the file's own count is right its first frame is kept as it is, since it may also say
    how many samples at both ends are filling.
    """

    def __init__(self, file: BinaryIO, found: Mp3Frames) -> None:
        super().__init__()
        self._file = file
        parts: list[tuple[int, int]] = list(found.ranges)
        self._front = b""
        if found.claimed_frames == found.frames and len(parts) == 1:
            parts.insert(0, found.counting)
        else:
            self._front = _counting_frame(found)
        self._parts = parts
        self._size = len(self._front) + sum(stop - start for start, stop in parts)
        self._at = 0

    def readable(self) -> bool:
        """It can be read."""
        return True

    def seekable(self) -> bool:
        """It can be moved in."""
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Move, as in any file."""
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._size}[whence]
        self._at = max(0, base + offset)
        return self._at

    def tell(self) -> int:
        """Tell the place."""
        return self._at

    def readinto(self, into: memoryview) -> int:  # type: ignore[override]  # as the library calls it
        """Read on, over the seams of the parts."""
        wanted = memoryview(into).cast("B")
        done = 0
        place = self._at
        if place < len(self._front):
            piece = self._front[place : place + len(wanted)]
            wanted[: len(piece)] = piece
            done = len(piece)
        offset = len(self._front)
        for start, stop in self._parts:
            inside = place + done - offset
            offset += stop - start
            if done == len(wanted):
                break
            if 0 <= inside < stop - start:
                self._file.seek(start + inside)
                piece = self._file.read(min(len(wanted) - done, stop - start - inside))
                wanted[done : done + len(piece)] = piece
                done += len(piece)
        self._at += done
        return done


class _Window:
    """A piece of a file in memory, moved as the walk goes on."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._start = 0
        self._bytes = b""

    def at(self, place: int, count: int) -> bytes:
        inside = place - self._start
        if inside < 0 or inside + count > len(self._bytes):
            self._file.seek(place)
            self._bytes = self._file.read(max(count, _WINDOW_BYTES))
            self._start, inside = place, 0
        return self._bytes[inside : inside + count]


def _first_frame(head: bytes, search_bytes: int, like: bytes | None = None) -> int:
    """Find the first of two frames in a row; -1 if there is none."""
    at = head.find(b"\xff", 0, search_bytes)
    while at >= 0:
        header = head[at : at + 4]
        length = _frame_bytes(header) if like is None or _alike(header, like) else 0
        following = head[at + length : at + length + 4]
        if length and _frame_bytes(following) and _alike(following, header):
            return at
        at = head.find(b"\xff", at + 1, search_bytes)
    return -1


def _alike(header: bytes, first: bytes) -> bool:
    """Same version, layer and rate: a stream does not change these."""
    return (
        len(header) == 4
        and header[0] == 0xFF
        and header[1] & 0xFE == first[1] & 0xFE
        and header[2] & 0x0C == first[2] & 0x0C
    )


def _frame_bytes(header: bytes) -> int:
    if len(header) < 4 or header[0] != 0xFF:
        return 0
    return _frame_bytes_of(header[1], header[2])


@cache
def _frame_bytes_of(second: int, third: int) -> int:
    version, rate_index, kbps_index = second >> 3 & 3, third >> 2 & 3, third >> 4
    layer_3 = second & 0xE6 == 0xE2
    if not layer_3 or version == 1 or rate_index == 3 or not 1 <= kbps_index <= 14:
        return 0
    kbps = (_KBPS_1 if version == 3 else _KBPS_2)[kbps_index - 1]
    eighths = 144 if version == 3 else 72
    padding = third >> 1 & 1
    return eighths * kbps * 1000 // _RATES_HZ[version][rate_index] + padding


def _count_place(header: bytes) -> int:
    """Where a counting frame has its name: after the side information."""
    mono = header[3] >> 6 == 3
    if header[1] >> 3 & 3 == 3:
        return 4 + (17 if mono else 32)
    return 4 + (9 if mono else 17)


def _claim(head: bytes) -> tuple[int | None, int]:
    """Read the count from a first frame that holds no sound; give it and that frame's length."""
    length = _frame_bytes(head[:4])
    frame = head[:length]
    place = _count_place(head)
    if frame[place : place + 4] in (b"Xing", b"Info"):
        counted = len(frame) >= place + 12 and frame[place + 7] & _COUNT_FLAG
        return int.from_bytes(frame[place + 8 : place + 12], "big") if counted else None, length
    if frame[36:40] == b"VBRI" and len(frame) >= 54:
        return int.from_bytes(frame[50:54], "big"), length
    return None, 0


def _counting_frame(found: Mp3Frames) -> bytes:
    """Make a first frame that holds the true count, at the highest bit rate for room."""
    first = found.header
    header = bytes((0xFF, first[1] | 1, 0xE0 | first[2] & 0x0C, first[3]))
    length = _frame_bytes(header)
    size = length + sum(stop - start for start, stop in found.ranges)
    place = _count_place(header)
    count = b"Xing" + struct.pack(
        ">III", _COUNT_FLAG | _SIZE_FLAG, found.frames, min(size, 0xFFFFFFFF)
    )
    return (header + bytes(place - 4) + count).ljust(length, b"\0")


def _past_tag(head: bytes, at: int) -> int:
    """Step over a tag between or after frames; its size is only used to move on."""
    if head[:3] == b"ID3" and len(head) >= 10:
        size = 0
        for byte in head[6:10]:
            size = size << 7 | byte & 0x7F
        return at + 10 + size
    if head[:3] == b"TAG":
        return at + 128
    if head[:8] == b"APETAGEX" and len(head) == 32:
        return at + 32 + int.from_bytes(head[12:16], "little")
    return at
