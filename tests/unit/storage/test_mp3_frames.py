"""MP3 frames built by hand from the tables of ISO/IEC 11172-3 and 13818-3."""

from __future__ import annotations

import io

import pytest

from quietleaf.storage.mp3_frames import Mp3Stream, begins_mp3, mp3_frames

# Heads and lengths by hand: 144 x bit rate / sampling rate for MPEG-1, 72 x for MPEG-2 and 2.5.
HEADS = {
    # 64 kbit/s, 44.1 kHz, mono, MPEG-1: 208.98
    "1": (bytes.fromhex("fffb50c0"), 208, 1_152, 44_100),
    # the same with one byte of padding
    "1 padded": (bytes.fromhex("fffb52c0"), 209, 1_152, 44_100),
    # 320 kbit/s, 32 kHz, stereo: 1440
    "1 largest": (bytes.fromhex("fffbe800"), 1_440, 1_152, 32_000),
    # 32 kbit/s, 16 kHz, mono, MPEG-2: 144
    "2": (bytes.fromhex("fff348c0"), 144, 576, 16_000),
    # 8 kbit/s, 8 kHz, mono, MPEG-2.5: 72
    "2.5": (bytes.fromhex("ffe318c0"), 72, 576, 8_000),
}
HEAD, LENGTH, _, _ = HEADS["1"]
FRAME = HEAD + bytes(range(1, 205))


def walked(data: bytes) -> tuple[int, int | None, int | None, tuple[tuple[int, int], ...]]:
    found = mp3_frames(io.BytesIO(data), 0)
    return found.frames, found.claimed_frames, found.damaged_at_frame, found.ranges


def counting(frames: int, name: bytes = b"Xing") -> bytes:
    """A frame that holds a count in place of sound: after 17 bytes of side information in mono."""
    return (HEAD + bytes(17) + name + bytes((0, 0, 0, 1)) + frames.to_bytes(4, "big")).ljust(
        LENGTH, b"\0"
    )


@pytest.mark.parametrize(("head", "length", "samples", "rate_hz"), HEADS.values(), ids=HEADS)
def test_lengths_are_those_of_the_standard(
    head: bytes, length: int, samples: int, rate_hz: int
) -> None:
    data = head.ljust(length, b"\0") * 3
    assert begins_mp3(data)
    found = mp3_frames(io.BytesIO(data), 0)
    assert (found.frames, found.frame_samples, found.sample_rate_hz) == (3, samples, rate_hz)
    assert found.ranges == ((0, 3 * length),)
    assert found.duration_s == 3 * samples / rate_hz


@pytest.mark.parametrize(
    "head",
    ["fffb00c0", "fffbf0c0", "fffb5cc0", "fffd50c0", "ffff50c0", "ffeb50c0", "fefb50c0"],
    ids=[
        "free rate",
        "no rate",
        "no sampling rate",
        "layer II",
        "layer I",
        "no version",
        "no sync",
    ],
)
def test_what_is_no_head(head: str) -> None:
    assert not begins_mp3(bytes.fromhex(head).ljust(208, b"\0") * 3)


def test_one_frame_alone_is_not_enough() -> None:
    assert not begins_mp3(FRAME)
    assert not begins_mp3(FRAME + b"\xff\xfb")


@pytest.mark.parametrize("name", [b"Xing", b"Info"])
def test_the_counting_frame_is_no_sound(name: bytes) -> None:
    assert walked(counting(3, name) + 3 * FRAME) == (3, 3, None, ((208, 4 * 208),))
    vbri = (HEAD + bytes(32) + b"VBRI" + bytes(10) + (7).to_bytes(4, "big")).ljust(208, b"\0")
    assert walked(vbri + 3 * FRAME)[:2] == (3, 7)


def test_a_counting_frame_without_a_count() -> None:
    frame = (HEAD + bytes(17) + b"Xing" + bytes(4)).ljust(LENGTH, b"\0")
    assert walked(frame + 3 * FRAME)[:2] == (3, None)


def test_tags_are_stepped_over() -> None:
    id3 = b"ID3\x04\0\0\0\0\x01\x02" + bytes(130)
    ape = b"APETAGEX" + bytes(4) + (50).to_bytes(4, "little") + bytes(16) + bytes(50)
    old = b"TAG" + bytes(125)
    frames, _, damaged, ranges = walked(2 * FRAME + id3 + 2 * FRAME + ape + FRAME + old)
    assert (frames, damaged) == (5, None)
    assert [stop - start for start, stop in ranges] == [2 * 208, 2 * 208, 208]


def test_bytes_between_frames_are_damage_and_bytes_after_them_are_not() -> None:
    assert walked(2 * FRAME + b"rubbish" + 2 * FRAME)[:3] == (4, None, 2)
    assert walked(4 * FRAME + b"rubbish" + b"\xff\xfb\x50")[:3] == (4, None, None)
    assert walked(4 * FRAME + FRAME[:100])[:3] == (4, None, None)


def test_rubbish_between_frames_without_end_is_left_off() -> None:
    frames, _, _, ranges = walked(FRAME + 3_000 * (FRAME + b"TAG" + bytes(125)))
    assert len(ranges) == 1_000
    assert frames == 1_001


def test_the_stream_begins_with_a_true_count() -> None:
    data = counting(9) + 2 * FRAME + b"ID3\x03\0\0\0\0\0\0" + FRAME + b"tail"
    found = mp3_frames(io.BytesIO(data), 0)
    stream = Mp3Stream(io.BytesIO(data), found)
    whole = stream.read()
    # The highest bit rate gives room for the count: 144 x 320,000 / 44,100 = 1044.
    assert whole[1_044:] == 3 * FRAME
    assert whole[:4] == bytes.fromhex("fffbe0c0")
    assert whole[21:37] == b"Xing" + bytes((0, 0, 0, 3)) + (3).to_bytes(4, "big") + len(
        whole
    ).to_bytes(4, "big")
    for place in (0, 1, 1_043, 1_044, 1_044 + 300, len(whole) - 1, len(whole) + 5):
        for count in (1, 5, 700):
            assert stream.seek(place) == stream.tell() == place
            assert stream.read(count) == whole[place : place + count]
    assert stream.seek(-3, io.SEEK_END) == len(whole) - 3
    assert stream.seek(1, io.SEEK_CUR) == len(whole) - 2


def test_a_right_count_is_kept_with_all_that_its_frame_says() -> None:
    data = b"\0" * 50 + counting(3) + 3 * FRAME + b"TAG" + bytes(125)
    found = mp3_frames(io.BytesIO(data), 0)
    assert Mp3Stream(io.BytesIO(data), found).read() == counting(3) + 3 * FRAME
