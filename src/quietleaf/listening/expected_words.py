"""The words that a reader was to say, as pieces that can be listened for.

A fixed word can be said in one way. A date, a number and a name are filled in, and could be wrong:
of a date and a number all others are known, so that the wrong one can be told by what was heard.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Literal

from quietleaf.listening.number_words import Way, cardinal_ways, ordinal_ways, year_ways
from quietleaf.planning.words import MONTHS, WEEKDAYS, WordsPart

PieceKind = Literal["word", "name", "number", "weekday", "day", "month", "year"]

YEARS_EITHER_WAY = 10
"""So far from the right year a wrong one is listened for."""
GREATEST_NUMBER = 999_999
_WEEKDAYS = tuple(name.lower() for name in WEEKDAYS)
_MONTHS = tuple(name.lower() for name in MONTHS)

_DATE = (
    rf"(?:(?P<weekday>{'|'.join(_WEEKDAYS)}),?\s+)?(?:the\s+)?"
    rf"(?:(?P<day>\d{{1,2}})(?:st|nd|rd|th)?\s+(?:of\s+)?(?P<month>{'|'.join(_MONTHS)})"
    rf"|(?P<us_month>{'|'.join(_MONTHS)})\s+(?P<us_day>\d{{1,2}})(?:st|nd|rd|th)?)\b"
    r"(?:,?\s+(?P<year>(?:1[5-9]|2[01])\d\d)\b)?"
)
_TOKEN = re.compile(
    rf"(?P<date>{_DATE})|(?P<number>\d[\d,]*)(?P<nth>st|nd|rd|th)?"
    r"|(?P<word>[^\W\d_]+(?:['’\-][^\W\d_]+)*['’]?)|(?P<stop>[.!?:;]+)",
    re.IGNORECASE,
)
_SMALL = frozenset(
    [
        "a",
        "an",
        "and",
        "as",
        "at",
        "by",
        "for",
        "from",
        "in",
        "is",
        "it",
        "of",
        "on",
        "or",
        "our",
        "that",
        "the",
        "these",
        "this",
        "those",
        "to",
        "was",
        "we",
        "were",
        "with",
        "you",
        "your",
        "here",
        "welcome",
    ]
)
"""Words that may stand inside a name or before one, and are none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One thing to say.

    Attributes
    ----------
    text : str
        As it is written.
    ways : tuple of Way
        How it may be said; the usual way first.
    others : tuple of Way
        What might be said in its place, where that can be listed.
    sentence : int
        The sentence that it belongs to, from 0.
    name : int or None
        Pieces of one name have one number.
    """

    kind: PieceKind
    text: str
    ways: tuple[Way, ...]
    others: tuple[Way, ...] = ()
    sentence: int
    name: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DatePieces:
    """A date: its parts are said in more than one order.

    Attributes
    ----------
    weekday, year : Piece or None
        None where it is not part of what was to be said.
    """

    weekday: Piece | None
    day: Piece
    month: Piece
    year: Piece | None

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """All that there are, in the order in which they are written."""
        return tuple(one for one in (self.weekday, self.day, self.month, self.year) if one)


def expected_words(parts: Sequence[WordsPart]) -> tuple[Piece | DatePieces, ...]:
    """Take written-out words apart.

    Parameters
    ----------
    parts : sequence of WordsPart
        What was filled in is a name, unless it is a date or a number; elsewhere a name is told by
        its capital letters.

    Examples
    --------
    >>> words = expected_words([
    ...     WordsPart(text="This is part ", filled=False),
    ...     WordsPart(text="9", filled=True),
    ...     WordsPart(text=" of ", filled=False),
    ...     WordsPart(text="The Tide", filled=True),
    ... ])
    >>> [(piece.kind, piece.text) for piece in words if isinstance(piece, Piece)]
    ... # doctest: +NORMALIZE_WHITESPACE
    [('word', 'This'), ('word', 'is'), ('word', 'part'), ('number', '9'), ('word', 'of'),
     ('word', 'The'), ('name', 'Tide')]
    """
    found: list[Piece | DatePieces] = []
    text = "".join(part.text for part in parts)
    names = _named(text, _filled_ranges(parts))
    sentence = 0
    for token in _TOKEN.finditer(text):
        if token["stop"]:
            sentence += bool(found) and any(mark in ".!?" for mark in token["stop"])
        elif token["date"]:
            found.append(_date(token, sentence))
        elif token["number"]:
            found.append(_number(token, sentence))
        else:
            found += _word(token["word"], sentence, names.get(token.start()))
    return tuple(found)


def pieces_of(words: Sequence[Piece | DatePieces]) -> tuple[Piece, ...]:
    """Lay the pieces of all dates among the others, in the order in which they are written."""
    return tuple(
        piece for one in words for piece in (one.pieces if isinstance(one, DatePieces) else (one,))
    )


def _filled_ranges(parts: Sequence[WordsPart]) -> list[range]:
    ranges: list[range] = []
    at = 0
    for part in parts:
        if part.filled:
            ranges.append(range(at, at + len(part.text)))
        at += len(part.text)
    return ranges


def _named(text: str, filled: Sequence[range]) -> dict[int, int]:
    """Number the names of a text: a number for each word that belongs to one, by its place."""
    named: dict[int, int] = {}
    number = 0
    last_end: int | None = None
    first = True
    tokens = list(_TOKEN.finditer(text))
    for token, after in zip_longest(tokens, tokens[1:]):
        word = token["word"]
        if word is None:
            first = bool(token["stop"]) and any(mark in ".!?" for mark in token["stop"])
            last_end = None
            continue
        capital = word[0].isupper()
        next_word = after["word"] if after else None
        small = word.lower() in _SMALL
        is_filled = any(token.start() in one for one in filled)
        # The first word of a sentence has its capital from that.
        told = capital and (not first or bool(next_word and next_word[0].isupper()))
        if not small and word.lower() not in _WEEKDAYS and (is_filled or told):
            joined = last_end is not None and re.fullmatch(
                r"(?:\s|of|and|the|in|to|for|on|a|&)*", text[last_end : token.start()], re.I
            )
            number += not joined
            named[token.start()] = number
            last_end = token.end()
        elif not small:
            last_end = None
        first = False
    return named


def _date(token: re.Match[str], sentence: int) -> DatePieces:
    month = (token["month"] or token["us_month"]).lower()
    day = int(token["day"] or token["us_day"])
    return DatePieces(
        weekday=_of_list("weekday", token["weekday"], _WEEKDAYS, sentence)
        if token["weekday"]
        else None,
        day=_listed(
            "day",
            str(day),
            (*ordinal_ways(day), *cardinal_ways(day)),
            [way for one in range(1, 32) for way in (*ordinal_ways(one), *cardinal_ways(one))],
            sentence,
        ),
        month=_of_list("month", month.capitalize(), _MONTHS, sentence),
        year=_year(token["year"], sentence) if token["year"] else None,
    )


def _year(text: str, sentence: int) -> Piece:
    year = int(text)
    near = range(year - YEARS_EITHER_WAY, year + YEARS_EITHER_WAY + 1)
    return _listed(
        "year", text, year_ways(year), [way for one in near for way in year_ways(one)], sentence
    )


def _number(token: re.Match[str], sentence: int) -> Piece:
    number = int(token["number"].replace(",", ""))
    if number > GREATEST_NUMBER:
        # Said digit by digit, as a telephone number is.
        digits = tuple(cardinal_ways(int(one))[0][0] for one in str(number))
        return Piece(kind="word", text=token["number"], ways=(digits,), sentence=sentence)
    ways = ordinal_ways if token["nth"] else cardinal_ways
    base = number // 100 * 100
    others = [way for one in range(base, base + 100) for way in ways(one)]
    right = ways(number)
    if 1_100 <= number <= 2_199:
        right = tuple(dict.fromkeys((*right, *year_ways(number))))
    return _listed("number", token["number"] + (token["nth"] or ""), right, others, sentence)


def _word(text: str, sentence: int, name: int | None) -> list[Piece]:
    lower = text.lower().replace("’", "'").strip("'")
    if lower in _WEEKDAYS:
        return [_of_list("weekday", text, _WEEKDAYS, sentence)]
    if name is None:
        ways: Way = tuple(part for part in lower.split("-") if part)
        return [Piece(kind="word", text=text, ways=(ways,), sentence=sentence)]
    return [
        Piece(kind="name", text=part, ways=((part.lower(),),), sentence=sentence, name=name)
        for part in text.replace("’", "'").strip("'").split("-")
        if part
    ]


def _of_list(kind: PieceKind, text: str, every: Sequence[str], sentence: int) -> Piece:
    return _listed(kind, text, ((text.lower(),),), [(one,) for one in every], sentence)


def _listed(
    kind: PieceKind, text: str, ways: tuple[Way, ...], every: Sequence[Way], sentence: int
) -> Piece:
    others = tuple(dict.fromkeys(way for way in every if way not in ways))
    return Piece(kind=kind, text=text, ways=ways, others=others, sentence=sentence)
