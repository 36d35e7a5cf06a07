"""The header of a long file against EBU Tech 3306."""

from __future__ import annotations

import struct

from quietleaf.delivery.riff import WaveLayout, header_bytes

LAYOUT = WaveLayout(sample_rate_hz=48_000, bits=16)
FRAMES = 2**31 + 5


def test_long_file() -> None:
    header = header_bytes(LAYOUT, 2 * FRAMES)
    assert header[:12] == b"RF64\xff\xff\xff\xffWAVE"
    assert struct.unpack_from("<4sI", header, 12) == (b"ds64", 28)
    riff, data, samples, table = struct.unpack_from("<QQQI", header, 20)
    assert riff == len(header) + 2 * FRAMES - 8
    assert (data, samples, table) == (2 * FRAMES, FRAMES, 0)
    assert header[-8:] == b"data\xff\xff\xff\xff"


def test_short_file_keeps_the_place() -> None:
    header = header_bytes(LAYOUT, 0)
    assert struct.unpack_from("<4sI", header, 12) == (b"JUNK", 28)
    assert len(header) == len(header_bytes(LAYOUT, 2 * FRAMES))


def test_limit_is_twelve_hours_of_16_bits() -> None:
    limit_s = 12 * 3600 + 25 * 60 + 39
    assert header_bytes(LAYOUT, limit_s * 96_000)[:4] == b"RIFF"
    assert header_bytes(LAYOUT, (limit_s + 1) * 96_000)[:4] == b"RF64"
