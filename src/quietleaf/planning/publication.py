"""A publication: what is read from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

PublicationKind = Literal["newspaper", "magazine", "book", "cuttings"]
PUBLICATION_KINDS: tuple[PublicationKind, ...] = ("newspaper", "magazine", "book", "cuttings")
Appears = Literal["daily", "weekly", "once"]
APPEARANCES: tuple[Appears, ...] = ("daily", "weekly", "once")


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """A newspaper, a magazine, a book, or loose pages that a listener sent in.

    Attributes
    ----------
    author, publisher : str
        Of a book; empty otherwise.
    year : int or None
        The year a book came out.
    """

    key: str
    title: str
    kind: PublicationKind
    appears: Appears
    author: str = ""
    publisher: str = ""
    year: int | None = None
