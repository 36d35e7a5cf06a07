"""What was said held against what is written; what was said is made by hand."""

from __future__ import annotations

from quietleaf.listening.expected_words import PieceKind, expected_words, pieces_of
from quietleaf.listening.speech_graph import SpokenWord
from quietleaf.listening.words_check import (
    PartCheck,
    WordsCheck,
    WordsFinding,
    compared,
    grounds_of_words,
    not_checked,
)
from quietleaf.listening.words_json import words_from_json, words_to_json
from quietleaf.planning.words import WordsPart

TEXT = (
    "This is the Marrowby Town Reading Service. Here is part 9 of Tuesday 3 May 2026, "
    "read to you today by Ada Fenwick."
)
WORDS = expected_words([WordsPart(text=TEXT, filled=False)])
PIECES = pieces_of(WORDS)
NUMBER, WEEKDAY, YEAR, ADA, FENWICK = (
    [piece.text for piece in PIECES].index(text)
    for text in ("9", "Tuesday", "2026", "Ada", "Fenwick")
)


def said(changes: dict[int, str] | None = None, *, start_s: float = 0.0) -> list[SpokenWord]:
    """Say all words, a second a piece; a change says another word, or nothing where it is empty."""
    words = []
    for index, piece in enumerate(PIECES):
        way = (changes or {}).get(index, " ".join(piece.ways[0])).split()
        for count, word in enumerate(way):
            at_s = start_s + index + count / len(way)
            words.append(
                SpokenWord(word=word, piece=index, start_s=at_s, end_s=at_s + 0.9 / len(way))
            )
    return words


def check(words: list[SpokenWord]) -> PartCheck:
    return compared(WORDS, words, 0.0, 60.0)


def test_what_was_read_as_written_has_no_findings() -> None:
    checked = check(said())
    assert (checked.state, checked.findings) == ("read", ())
    assert (checked.start_s, checked.end_s) == (0.0, len(PIECES) - 0.1)


def test_any_way_of_saying_a_date_is_right() -> None:
    assert check(said({YEAR: "two thousand and twenty six"})).state == "read"


def test_a_wrong_day_and_a_wrong_number_are_told_with_what_was_heard() -> None:
    checked = check(said({NUMBER: "nineteen", WEEKDAY: "monday"}))
    assert checked.state == "differs"
    number, weekday = checked.findings
    assert (number.kind, number.expected, number.heard) == ("number", "9", "nineteen")
    assert (weekday.kind, weekday.expected, weekday.heard) == ("weekday", "Tuesday", "Monday")
    assert (weekday.start_s, weekday.severity) == (WEEKDAY, "hear")


def test_half_a_readers_name_is_another_name_and_a_quarter_of_a_services_is_not() -> None:
    (name,) = check(said({FENWICK: ""})).findings
    assert (name.kind, name.expected, name.severity) == ("name", "Ada Fenwick", "hear")
    assert name.start_s == ADA - 0.1
    assert name.end_s == 60.0
    assert check(said({3: ""})).state == "read"


def test_a_slip_among_fixed_words_is_none_and_a_clause_that_is_missing_is() -> None:
    to, you, today = (
        next(index for index, piece in enumerate(PIECES) if piece.text == text)
        for text in ("to", "you", "today")
    )
    assert check(said({to: "", you: ""})).state == "read"
    (missing,) = check(said({to: "", you: "", today: ""})).findings
    assert (missing.kind, missing.expected, missing.heard) == ("word", "to you today", "")


def test_a_year_that_is_left_out_is_a_note() -> None:
    checked = check(said({YEAR: ""}))
    assert checked.state == "read"
    assert [finding.severity for finding in checked.findings] == ["note"]


def test_of_a_sentence_that_was_begun_again_the_second_reading_counts() -> None:
    first = said({WEEKDAY: "monday"})
    again = [word for word in said(start_s=30.0) if (word.piece or 0) >= 7]
    assert check([word for word in first if (word.piece or 0) <= WEEKDAY] + again).state == "read"


def test_less_than_half_of_the_words_is_not_read() -> None:
    few = [word for word in said() if (word.piece or 0) < 6]
    for words in (few, []):
        checked = check(words)
        assert (checked.state, checked.start_s) == ("not read", None)
        (missing,) = checked.findings
        assert (missing.start_s, missing.end_s, missing.severity) == (0.0, 60.0, "hear")


def test_a_check_comes_back_from_json_as_it_was() -> None:
    checked = WordsCheck(opening=check(said({NUMBER: "ten"})), closing=None)
    back = words_from_json(words_to_json(checked))
    assert back.closing is None
    assert back.opening is not None
    assert back.opening.state == "differs"
    assert [one.heard for one in back.opening.findings] == ["ten"]


def test_what_in_the_words_speaks_against_sending_out() -> None:
    def part(*kinds: PieceKind) -> PartCheck:
        findings = tuple(
            WordsFinding(
                kind=kind, start_s=1.0, end_s=1.5, severity="hear", expected="nine", heard="five"
            )
            for kind in kinds
        )
        return PartCheck(state="differs" if kinds else "read", findings=findings)

    assert grounds_of_words(WordsCheck(opening=part(), closing=None)) == ()
    unchecked = not_checked("The extra is not installed.")
    assert grounds_of_words(WordsCheck(opening=unchecked, closing=unchecked)) == ()
    named, dated = grounds_of_words(WordsCheck(opening=part("name"), closing=part("day", "name")))
    assert (named.weight, dated.weight) == ("ear", "stop")
    assert dated.text == "The closing words differ from what is written, in 2 places."
    (missing,) = grounds_of_words(WordsCheck(opening=None, closing=PartCheck(state="not read")))
    assert (missing.text, missing.weight) == ("The closing words were not heard.", "stop")
