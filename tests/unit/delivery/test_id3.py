"""ID3 tags, laid out by hand."""

from __future__ import annotations

from datetime import date

import pytest

from quietleaf.delivery.id3 import Chapter, Tags, id3_bytes, synchsafe
from quietleaf.errors import Invalid


def test_tag_written_by_hand() -> None:
    # Sizes of frames are plain in version 2.3, the size of the tag is synchsafe; 6 January 2026.
    frames = bytes.fromhex(
        "54495432 00000004 0000 00 546561"  # TIT2 "Tea"
        "54414c42 00000009 0000 01 fffe 7d01 6f00 6b00"  # TALB "Žok", UTF-16 with its mark
        "54504531 00000004 0000 00 412f42"  # TPE1 "A/B"
        "54594552 00000005 0000 00 32303236"  # TYER 2026
        "54444154 00000005 0000 00 30363031"  # TDAT 0601
        "54585858 00000016 0000 00 49737375652064617465 00 323032362d30312d3036"
        "544c454e 00000006 0000 00 3630353030"  # TLEN 60500
    )
    tags = Tags(title="Tea", publication="Žok", issue_date=date(2026, 1, 6), readers=("A", "B"))
    by_hand = b"ID3\x03\0\0" + bytes((0, 0, len(frames) >> 7, len(frames) & 0x7F)) + frames
    assert id3_bytes(tags, 60.5) == by_hand


def test_chapters_written_by_hand() -> None:
    tags = Tags(
        title="",
        chapters=(
            Chapter(title="One", start_s=0.0, end_s=1.5),
            Chapter(title="", start_s=1.5, end_s=3.0),
        ),
    )
    contents = b"contents\0\x03\x02chapter-1\0chapter-2\0"
    first = (
        b"chapter-1\0"
        + bytes.fromhex("00000000 000005dc ffffffff ffffffff")
        + bytes.fromhex("54495432 00000004 0000 00 4f6e65")
    )
    second = b"chapter-2\0" + bytes.fromhex("000005dc 00000bb8 ffffffff ffffffff")
    by_hand = [
        b"TLEN\0\0\0\x05\0\0\x003000",
        b"CTOC" + len(contents).to_bytes(4, "big") + b"\0\0" + contents,
        b"CHAP" + len(first).to_bytes(4, "big") + b"\0\0" + first,
        b"CHAP" + len(second).to_bytes(4, "big") + b"\0\0" + second,
    ]
    assert id3_bytes(tags, 3.0)[10:] == b"".join(by_hand)


@pytest.mark.parametrize(
    ("size", "octets"),
    [(0, "00000000"), (127, "0000007f"), (257, "00000201"), (2**28 - 1, "7f7f7f7f")],
)
def test_synchsafe(size: int, octets: str) -> None:
    # 257 is standards 7.2; the others by hand.
    assert synchsafe(size) == bytes.fromhex(octets)


def test_more_chapters_than_can_be_counted_are_refused() -> None:
    chapter = Chapter(title="x", start_s=0.0, end_s=1.0)
    with pytest.raises(Invalid, match="room for 255 chapters; this one has 256"):
        id3_bytes(Tags(title="t", chapters=256 * (chapter,)), 1.0)
