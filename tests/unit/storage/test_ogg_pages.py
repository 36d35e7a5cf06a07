"""Ogg pages built by hand, with a checksum computed bit by bit as RFC 3533 has it."""

from __future__ import annotations

import io
import struct

from quietleaf.storage.ogg_pages import OggPages, ogg_pages


def checksum(page: bytes) -> int:
    """RFC 3533, section 6: polynomial 0x04c11db7, from 0, highest bit first, not inverted."""
    register = 0
    for byte in page:
        register ^= byte << 24
        for _ in range(8):
            register = (register << 1) ^ (0x04C11DB7 if register & 1 << 31 else 0)
            register &= 0xFFFFFFFF
    return register


def page(number: int, position: int, body: bytes, *, last: bool = False) -> bytes:
    segments = bytes([255] * (len(body) // 255) + [len(body) % 255])
    head = struct.pack("<4sBBQII", b"OggS", 0, 4 if last else 0, position, 77, number)
    rest = bytes([len(segments)]) + segments + body
    return head + struct.pack("<I", checksum(head + bytes(4) + rest)) + rest


PAGES = [
    page(0, 0, b"head"),
    page(1, (1 << 64) - 1, b"a packet that ends on no page"),
    page(2, 48_000, bytes(range(256)) * 3),
    page(3, 96_000, b"end", last=True),
]


def walked(data: bytes) -> OggPages:
    return ogg_pages(io.BytesIO(data))


def test_whole_pages() -> None:
    assert walked(b"".join(PAGES)) == OggPages(damaged_at=None, ended=True)
    assert walked(b"".join(PAGES) + b"rubbish after it, as long as a head") == OggPages(
        damaged_at=None, ended=True
    )


def test_any_changed_byte_is_found_and_its_place_told() -> None:
    whole = b"".join(PAGES)
    first = len(whole) - len(PAGES[3])
    for at in range(first, first + 22):
        changed = bytearray(whole)
        changed[at] ^= 0x10
        assert walked(bytes(changed)) == OggPages(damaged_at=48_000, ended=False)


def test_a_file_that_was_cut() -> None:
    whole = b"".join(PAGES)
    for cut in (1, 2, 27, 28, len(PAGES[3]), len(PAGES[3]) + 100):
        assert walked(whole[:-cut]) == OggPages(damaged_at=None, ended=False)
