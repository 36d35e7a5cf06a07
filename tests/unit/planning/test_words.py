"""Opening and closing words: what fills a blank, and which blanks are refused."""

from __future__ import annotations

from datetime import date

import pytest

from quietleaf.errors import Invalid
from quietleaf.planning.words import WordsFor, blanks_of, fill_words, names_in_words, written_date


def given(part: int | None = None, readers: tuple[str, ...] = ("Ada Fenwick",)) -> WordsFor:
    return WordsFor(
        service="Marrowby Reading Service",
        programme="The Courier Hour",
        publication="The Marrowby Courier",
        issue_date=date(2026, 11, 25),
        readers=readers,
        part=part,
    )


def test_every_blank_is_filled_from_the_assignment() -> None:
    words = "{service}: {programme}, {publication}, {issue_date}, {reader}, part {part}."
    assert fill_words(words, given(part=9)) == (
        "Marrowby Reading Service: The Courier Hour, The Marrowby Courier, "
        "Wednesday 25 November 2026, Ada Fenwick, part 9."
    )


@pytest.mark.parametrize("name", ["isue_date", "", "reader.name", "reader!r", "Reader", "reader "])
def test_a_blank_of_another_name_is_refused(name: str) -> None:
    with pytest.raises(Invalid, match=r"is one of \{service\}.*; these words have \{"):
        blanks_of(f"Read by {{{name}}}.")


@pytest.mark.parametrize("words", ["Read by {reader", "Read by reader}.", "{{reader}}"])
def test_a_brace_that_stands_alone_is_refused(words: str) -> None:
    with pytest.raises(Invalid, match="a brace that stands alone"):
        blanks_of(words)


def test_a_blank_with_nothing_to_fill_it_is_refused() -> None:
    with pytest.raises(Invalid, match=r"have the blank \{part\}"):
        fill_words("Part {part}.", given())
    with pytest.raises(Invalid, match=r"Add the reader to the assignment"):
        fill_words("Read by {reader}.", given(readers=()))


def test_a_name_is_not_read_as_a_blank() -> None:
    # A title with braces in it is printed as it is.
    assert fill_words("By {reader}.", given(readers=("{service}",))) == "By {service}."


@pytest.mark.parametrize(
    ("day", "written"),
    [
        # Weekdays from a printed calendar: 2000-02-29 was a Tuesday, 1999-12-31 a Friday.
        (date(2000, 2, 29), "Tuesday 29 February 2000"),
        (date(1999, 12, 31), "Friday 31 December 1999"),
        (date(2026, 11, 1), "Sunday 1 November 2026"),
    ],
)
def test_a_date_is_written_out_with_its_weekday(day: date, written: str) -> None:
    assert written_date(day) == written


def test_names_are_joined_as_they_are_spoken() -> None:
    assert names_in_words(()) == ""
    assert names_in_words(("Joan Abara", "Peter Quill")) == "Joan Abara and Peter Quill"
