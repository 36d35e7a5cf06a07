"""Written-out words taken apart: what is a date, a number, a name, and what may be said for it."""

from __future__ import annotations

import pytest

from quietleaf.listening.expected_words import DatePieces, Piece, expected_words, pieces_of
from quietleaf.planning.words import WordsPart


def taken_apart(*texts: str) -> tuple[Piece | DatePieces, ...]:
    """Take words apart; every second text was filled in."""
    return expected_words(
        [WordsPart(text=text, filled=bool(index % 2)) for index, text in enumerate(texts)]
    )


@pytest.mark.parametrize(
    "text",
    [
        "Wednesday 25 November 2026",
        "Wednesday, 25th of November, 2026",
        "Wednesday the 25th November 2026",
        "Wednesday, November 25, 2026",
        "wednesday november 25th 2026",
    ],
)
def test_a_date_is_told_however_it_is_written(text: str) -> None:
    (date,) = taken_apart(text)
    assert isinstance(date, DatePieces)
    assert [piece.kind for piece in date.pieces] == ["weekday", "day", "month", "year"]
    assert ("twenty", "fifth") in date.day.ways
    assert ("twenty", "fourth") in date.day.others
    assert date.year is not None
    assert ("twenty", "twenty", "six") in date.year.ways
    assert ("two", "thousand", "and", "twenty", "five") in date.year.others


def test_a_date_needs_neither_weekday_nor_year() -> None:
    (date,) = taken_apart("3 May")
    assert isinstance(date, DatePieces)
    assert (date.weekday, date.year) == (None, None)


def test_what_is_right_is_never_among_what_is_wrong() -> None:
    for piece in pieces_of(taken_apart("Part ", "9", " of Friday ", "1 May 2020", ", 112 pages.")):
        assert not set(piece.ways) & set(piece.others)


def test_a_name_is_told_by_its_capitals_and_by_having_been_filled_in() -> None:
    pieces = pieces_of(
        taken_apart("Here is ", "tide and Tow", ", by Nessa Orrick. Tonight we read. Good night.")
    )
    assert [piece.text for piece in pieces if piece.kind == "name"] == [
        "tide",
        "Tow",
        "Nessa",
        "Orrick",
    ]
    first, second, third, fourth = (piece.name for piece in pieces if piece.kind == "name")
    assert first == second != third == fourth


def test_a_day_alone_can_be_wrong_too() -> None:
    *_, day, _, _ = pieces_of(taken_apart("We are back next Wednesday at twelve."))
    assert (day.kind, day.text) == ("weekday", "Wednesday")
    assert len(day.others) == 6


def test_sentences_are_counted() -> None:
    pieces = pieces_of(taken_apart("This is it. Was it? Yes: it was."))
    assert [piece.sentence for piece in pieces] == [0, 0, 0, 1, 1, 2, 2, 2]


def test_no_words_are_no_pieces() -> None:
    assert taken_apart("", "", " . ") == ()
