"""ID3 tags of an MP3 master: what it is, who reads, and where the articles begin."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


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
