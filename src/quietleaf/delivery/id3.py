"""ID3 tags of an MP3 master: what it is, who reads, and where the articles begin.

Version 2.3: every player that reads tags at all reads it, while players of an older make pass
over 2.4. It has no UTF-8, so a text that is not Latin-1 is written as UTF-16.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from datetime import date

from quietleaf.errors import Invalid

CHAPTERS_MOST = 255
"""The table of contents counts its entries in one byte."""

_NOT_USED = 0xFFFF_FFFF
_TOP_LEVEL_ORDERED = 0x03


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """An article as listeners can jump to it, in seconds of the finished sound."""

    title: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tags:
    """What an MP3 says of itself; an empty text or None is left out.

    Attributes
    ----------
    title : str
        The programme.
    publication : str
        What was read from; players show it as the album.
    issue_date : date or None
        Written as the date that players show, and under "Issue date" by that name.
    readers : tuple of str
        Players show them as the artist.
    chapters : tuple of Chapter
        In order of time.
    """

    title: str
    publication: str = ""
    issue_date: date | None = None
    readers: tuple[str, ...] = ()
    chapters: tuple[Chapter, ...] = ()


def id3_bytes(tags: Tags, duration_s: float) -> bytes:
    """Write a whole ID3v2.3 tag, as it stands at the head of an MP3 file.

    Parameters
    ----------
    duration_s : float
        Length of the sound, for the tag that gives it in milliseconds.

    Raises
    ------
    Invalid
        If there are more than 255 chapters.

    Notes
    -----
    Two readers stand in one field with a stroke between them, as the standard says [1]_. Chapters
    are CHAP frames under one ordered table of contents [2]_. Line ends and control characters in
    a text become spaces.

    References
    ----------
    .. [1] ID3 tag version 2.3.0, 3 February 1999, 4.2.
    .. [2] ID3v2 Chapter Frame Addendum, version 1.0.

    Examples
    --------
    >>> id3_bytes(Tags(title="Tea"), 60.0)[:24]
    b'ID3\\x03\\x00\\x00\\x00\\x00\\x00\\x1eTIT2\\x00\\x00\\x00\\x04\\x00\\x00\\x00Tea'
    """
    if len(tags.chapters) > CHAPTERS_MOST:
        raise Invalid(
            "id3/chapters",
            f"An MP3 has room for {CHAPTERS_MOST} chapters; this one has {len(tags.chapters)}. "
            "Take some of the marks away.",
        )
    frames = [
        _text_frame(b"TIT2", tags.title),
        _text_frame(b"TALB", tags.publication),
        _text_frame(b"TPE1", "/".join(tags.readers)),
    ]
    if tags.issue_date is not None:
        frames += [
            _text_frame(b"TYER", f"{tags.issue_date.year:04d}"),
            _text_frame(b"TDAT", f"{tags.issue_date.day:02d}{tags.issue_date.month:02d}"),
            _frame(b"TXXX", b"\0Issue date\0" + tags.issue_date.isoformat().encode("ascii")),
        ]
    frames.append(_text_frame(b"TLEN", str(_ms_of_s(duration_s))))
    frames += _chapter_frames(tags.chapters)
    body = b"".join(frames)
    return b"ID3\x03\x00\x00" + synchsafe(len(body)) + body


def synchsafe(size: int) -> bytes:
    """Write a size in four bytes of seven bits, so that no byte looks like the start of sound.

    Examples
    --------
    >>> synchsafe(257)
    b'\\x00\\x00\\x02\\x01'
    """
    return bytes(size >> shift & 0x7F for shift in (21, 14, 7, 0))


def _chapter_frames(chapters: tuple[Chapter, ...]) -> list[bytes]:
    if not chapters:
        return []
    names = [f"chapter-{number}".encode("ascii") + b"\0" for number in range(1, len(chapters) + 1)]
    contents = b"contents\0" + bytes((_TOP_LEVEL_ORDERED, len(names))) + b"".join(names)
    return [
        _frame(b"CTOC", contents),
        *(
            _frame(
                b"CHAP",
                name
                + struct.pack(
                    ">4I",
                    _ms_of_s(chapter.start_s),
                    _ms_of_s(chapter.end_s),
                    _NOT_USED,
                    _NOT_USED,
                )
                + _text_frame(b"TIT2", chapter.title),
            )
            for name, chapter in zip(names, chapters, strict=True)
        ),
    ]


def _text_frame(name: bytes, text: str) -> bytes:
    plain = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if not plain:
        return b""
    try:
        return _frame(name, b"\0" + plain.encode("latin-1"))
    except UnicodeEncodeError:
        return _frame(name, b"\x01\xff\xfe" + plain.encode("utf-16-le"))


def _frame(name: bytes, body: bytes) -> bytes:
    return name + struct.pack(">IH", len(body), 0) + body


def _ms_of_s(time_s: float) -> int:
    return round(time_s * 1000)
