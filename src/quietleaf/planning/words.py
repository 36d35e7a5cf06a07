"""Opening and closing words: fixed sentences whose blanks are filled from the assignment.

Nothing is typed twice: the words that a reader says name the service, the programme, the
publication, the issue and the reader as the plan has them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from quietleaf.errors import Invalid

BLANKS = ("service", "programme", "publication", "issue_date", "reader", "part")
"""What a blank may be called; ``part`` in a serial alone."""

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_BLANK = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsFor:
    """What the blanks are filled with.

    Attributes
    ----------
    part : int or None
        Which part of a serial; None elsewhere.
    """

    service: str
    programme: str
    publication: str
    issue_date: date
    readers: tuple[str, ...]
    part: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsPart:
    """A stretch of written-out words: fixed, or what a blank was filled with."""

    text: str
    filled: bool


def fill_words(words: str, given: WordsFor) -> str:
    """Write out opening or closing words for one assignment.

    Raises
    ------
    Invalid
        If a blank is not one of `BLANKS`, a brace stands alone, or a blank has nothing to be
        filled with.

    Examples
    --------
    >>> given = WordsFor(
    ...     service="Marrowby Reading Service",
    ...     programme="The Courier Hour",
    ...     publication="The Marrowby Courier",
    ...     issue_date=date(2026, 11, 25),
    ...     readers=("Tomas Vale", "Ada Fenwick"),
    ... )
    >>> fill_words("This is {programme} of {issue_date}, read by {reader}.", given)
    'This is The Courier Hour of Wednesday 25 November 2026, read by Tomas Vale and Ada Fenwick.'
    """
    return "".join(part.text for part in filled_parts(words, given))


def filled_parts(words: str, given: WordsFor) -> tuple[WordsPart, ...]:
    """Write out words for one assignment, so that what was filled in can be told from the rest.

    Raises
    ------
    Invalid
        As `fill_words` does.

    Examples
    --------
    >>> given = WordsFor(
    ...     service="", programme="Tide", publication="", issue_date=date(2026, 11, 25), readers=()
    ... )
    >>> [(part.text, part.filled) for part in filled_parts("This is {programme}.", given)]
    [('This is ', False), ('Tide', True), ('.', False)]
    """
    values = {
        "service": given.service,
        "programme": given.programme,
        "publication": given.publication,
        "issue_date": written_date(given.issue_date),
        "reader": names_in_words(given.readers),
        "part": "" if given.part is None else str(given.part),
    }
    for name in blanks_of(words):
        if not values[name]:
            raise Invalid(
                "planning/empty-blank",
                f"The words for {given.programme} have the blank {{{name}}}, and the assignment "
                f"gives nothing to fill it with. Add the {_plain(name)} to the assignment.",
            )
    # Of what is split at a group, every second piece is the group's.
    pieces = enumerate(_BLANK.split(words))
    return tuple(
        WordsPart(text=values[piece] if index % 2 else piece, filled=bool(index % 2))
        for index, piece in pieces
        if piece
    )


def blanks_of(words: str) -> tuple[str, ...]:
    """Give the names of the blanks in some words, in order, each once.

    Raises
    ------
    Invalid
        If a blank is not one of `BLANKS`, or a brace stands alone.

    Examples
    --------
    >>> blanks_of("From {publication} of {issue_date}: {publication}.")
    ('publication', 'issue_date')
    """
    names = tuple(dict.fromkeys(_BLANK.findall(words)))
    for name in names:
        if name not in BLANKS:
            raise Invalid(
                "planning/unknown-blank",
                f"A blank in the words is one of {_listed(BLANKS)}; these words have {{{name}}}. "
                "Write one of those, or the words themselves.",
            )
    if re.search(r"[{}]", _BLANK.sub("", words)):
        raise Invalid(
            "planning/open-blank",
            "A blank is written between two braces, like {reader}; these words have a brace "
            f"that stands alone: {_shortened(words)!r}. Add its partner or take it out.",
        )
    return names


def written_date(day: date) -> str:
    """Write a date out as it is spoken, with its weekday.

    Examples
    --------
    >>> written_date(date(2026, 11, 25))
    'Wednesday 25 November 2026'
    """
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def names_in_words(names: Sequence[str]) -> str:
    """Join names as they are spoken; nobody gives an empty text.

    Examples
    --------
    >>> names_in_words(["Ada Fenwick"]), names_in_words(["Ada", "Tomas", "Joan"])
    ('Ada Fenwick', 'Ada, Tomas and Joan')
    """
    *others, last = names or ("",)
    return f"{', '.join(others)} and {last}" if others else last


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _listed(names: Sequence[str]) -> str:
    return names_in_words([f"{{{name}}}" for name in names])


def _shortened(words: str) -> str:
    return words if len(words) <= 60 else f"{words[:57]}..."
