"""The skeleton of a WAVE file."""

from __future__ import annotations

import pytest

from quietleaf.delivery.riff import WaveLayout, chunk_bytes, header_bytes, info_bytes
from quietleaf.errors import Invalid

MONO_24 = WaveLayout(sample_rate_hz=48_000, bits=24)


def test_header_written_by_hand() -> None:
    # 2 frames of 3 bytes: data 6, RIFF size 80 - 8 + 6 = 78 = 0x4E; 48000 = 0xBB80,
    # 144000 bytes a second = 0x23280.
    by_hand = bytes.fromhex(
        "52494646 4e000000 57415645"  # RIFF, 78, WAVE
        "4a554e4b 1c000000" + 28 * "00" + "666d7420 10000000 0100 0100 80bb0000 80320200 0300 1800"
        "64617461 06000000"
    )
    assert header_bytes(MONO_24, 6) == by_hand


def test_rf64_header_written_by_hand() -> None:
    # 2^31 frames of 3 bytes = 0x1_8000_0000 bytes; RIFF size 72 more: 0x1_8000_0048.
    by_hand = bytes.fromhex(
        "52463634 ffffffff 57415645"
        "64733634 1c000000 4800008001000000 0000008001000000 0000008000000000 00000000"
        "666d7420 10000000 0100 0100 80bb0000 80320200 0300 1800"
        "64617461 ffffffff"
    )
    assert header_bytes(MONO_24, 3 * 2**31) == by_hand


def test_last_length_that_riff_can_say() -> None:
    longest = 0xFFFF_FFFF - 72
    frames = longest // 2
    layout = WaveLayout(sample_rate_hz=48_000, bits=16)
    assert header_bytes(layout, 2 * frames)[:4] == b"RIFF"
    assert header_bytes(layout, 2 * (frames + 1))[:4] == b"RF64"


def test_pad_byte_after_odd_samples_is_counted_in_riff_alone() -> None:
    header = header_bytes(MONO_24, 9)
    assert int.from_bytes(header[4:8], "little") == len(header) - 8 + 10
    assert int.from_bytes(header[-4:], "little") == 9


def test_chunks_stand_between_format_and_samples() -> None:
    layout = WaveLayout(sample_rate_hz=48_000, bits=16, chunks=((b"bext", b"abc"),))
    assert header_bytes(layout, 0)[-20:] == b"bext\x03\0\0\0abc\0data\0\0\0\0"


def test_info_by_hand() -> None:
    assert info_bytes({"title": "Tea", "artist": "", "date": "2026"}) == (
        b"INFOINAM\x04\0\0\0Tea\0ICRD\x05\0\0\x002026\0\0"
    )


def test_part_of_a_frame_is_refused() -> None:
    with pytest.raises(Invalid, match="whole frames of 3 bytes; 7 bytes"):
        header_bytes(MONO_24, 7)


def test_unknown_info_is_refused() -> None:
    with pytest.raises(Invalid, match="'colour' is none of them"):
        info_bytes({"colour": "blue"})


def test_chunk_name_has_four_letters() -> None:
    with pytest.raises(Invalid, match="four letters"):
        chunk_bytes(b"toolong", b"")
