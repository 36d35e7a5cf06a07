"""The pages of an Ogg file, each held against its checksum.

A decoder bridges a damaged page without a word, and a file that stops early looks whole: both
are found here.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import BinaryIO

_HEADER_BYTES = 27
_LAST_PAGE_FLAG = 4
_NO_POSITION = (1 << 64) - 1
_REVERSED_BITS = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


@dataclass(frozen=True, slots=True, kw_only=True)
class OggPages:
    """What a walk through the pages found.

    Attributes
    ----------
    damaged_at : int or None
        Position, in samples of the coding, of the last good page before the first damaged one.
    ended : bool
        Whether the last page says that it is the last.
    """

    damaged_at: int | None
    ended: bool


def ogg_pages(file: BinaryIO) -> OggPages:
    """Walk through all pages (RFC 3533, section 6)."""
    position = 0
    at = 0
    ended = False
    while True:
        file.seek(at)
        header = file.read(_HEADER_BYTES)
        if len(header) < _HEADER_BYTES:
            return OggPages(damaged_at=None, ended=ended)
        segments = file.read(header[26])
        body = file.read(sum(segments))
        whole = len(segments) == header[26] and len(body) == sum(segments)
        if header[:4] == b"OggS" and not whole:
            return OggPages(damaged_at=None, ended=False)
        page = header[:22] + bytes(4) + header[26:] + segments + body
        if header[:4] != b"OggS" or _checksum(page) != int.from_bytes(header[22:26], "little"):
            # Rubbish after the last page is nobody's sound.
            return OggPages(damaged_at=None if ended else position, ended=ended)
        ended = bool(header[5] & _LAST_PAGE_FLAG)
        granule = int.from_bytes(header[6:14], "little")
        position = position if granule == _NO_POSITION else granule
        at += len(page)


def _checksum(page: bytes) -> int:
    """CRC-32 with the usual polynomial, but highest bit first, from 0 and not inverted.

    With every byte's bits reversed it is the usual one, which zlib has; so the result is reversed.
    """
    usual = zlib.crc32(page.translate(_REVERSED_BITS), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int.from_bytes(usual.to_bytes(4, "little").translate(_REVERSED_BITS), "big")
