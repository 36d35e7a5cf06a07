"""Frames of an MP3 stream, made by hand."""

from __future__ import annotations

import pytest

from quietleaf.delivery.mp3_frames import Stream, crc16, length_frame, stream_of_bytes
from quietleaf.errors import Damaged

FRAME = bytes.fromhex("fffb54c4") + bytes(188)
"""64 kbit/s at 48 kHz, mono: 144 x 64,000 / 48,000 = 192 bytes."""


def test_stream_is_counted() -> None:
    assert stream_of_bytes(3 * FRAME) == Stream(
        sample_rate_hz=48_000, kbps=64, frames=3, size_bytes=576
    )


def test_padded_frames_are_one_byte_longer() -> None:
    # 64 kbit/s at 44.1 kHz: 208 bytes, some of them padded to 209.
    plain = bytes.fromhex("fffb50c4") + bytes(204)
    padded = bytes.fromhex("fffb52c4") + bytes(205)
    assert stream_of_bytes(plain + padded + plain) == Stream(
        sample_rate_hz=44_100, kbps=64, frames=3, size_bytes=625
    )


@pytest.mark.parametrize(
    ("stream", "place"),
    [
        (b"", 0),
        (b"not a stream at all", 0),
        (FRAME + FRAME[:-1], 383),
        (FRAME + b"x" + FRAME, 192),
        (FRAME + bytes.fromhex("fffb94c4") + bytes(380), 192),
        (FRAME + b"\xff", 192),
        (bytes.fromhex("fffb5404") + bytes(188), 0),
    ],
    ids=["empty", "text", "cut", "a byte between", "another rate", "a byte after", "two channels"],
)
def test_anything_else_is_damaged(stream: bytes, place: int) -> None:
    with pytest.raises(Damaged, match=f"breaks off at byte {place} of {len(stream)}"):
        stream_of_bytes(stream)


def test_length_frame_by_hand() -> None:
    # 100 frames are 115,200 samples; 576 before and 624 after leave 114,000. 101 frames of 192
    # bytes are 19,392 = 0x4BC0. 576 is 0x240 and 624 is 0x270.
    stream = Stream(sample_rate_hz=48_000, kbps=64, frames=100, size_bytes=19_200)
    frame = length_frame(stream, 114_000)
    assert len(frame) == 192
    assert frame[:21] == bytes.fromhex("fffb54c4") + bytes(17)
    assert frame[21:37] == b"Info" + bytes.fromhex("0000000f 00000064 00004bc0")
    assert (frame[37], frame[38], frame[87], frame[136]) == (0, 2, 128, 253)
    assert frame[141:150] == b"LAME4.0\0\0"
    assert frame[150:162] == bytes.fromhex("01 00 00000000 0000 0000 00 40")
    assert frame[162:165] == bytes.fromhex("240270")
    assert frame[165:175] == bytes.fromhex("00 00 0000 00004bc0 0000")
    assert int.from_bytes(frame[175:177], "big") == crc16(frame[:175])
    assert frame[177:] == bytes(15)


def test_length_frame_takes_a_higher_rate_where_its_own_has_no_room() -> None:
    # 32 kbit/s at 48 kHz has 96 bytes a frame, 56 has 168; 64 is the first with 177 or more.
    frame = length_frame(Stream(sample_rate_hz=48_000, kbps=32, frames=1, size_bytes=96), 1)
    assert frame[:4] == bytes.fromhex("fffb54c4")
    assert len(frame) == 192
    assert frame[161] == 32
