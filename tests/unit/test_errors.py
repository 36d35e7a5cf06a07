"""The error tree."""

import pickle

import pytest

from quietleaf.cli.main import exit_code
from quietleaf.errors import (
    LONGEST_SENTENCE,
    AudioUnfit,
    Conflict,
    Damaged,
    Invalid,
    NotAllowed,
    NotFound,
    QuietleafError,
    Unavailable,
)


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        (Invalid, 2),
        (NotFound, 2),
        (NotAllowed, 2),
        (Conflict, 2),
        (AudioUnfit, 3),
        (Unavailable, 4),
        (Damaged, 5),
    ],
)
def test_each_kind_has_its_exit_code(kind: type[QuietleafError], code: int) -> None:
    assert exit_code(kind("subject/reason", "A sentence.")) == code


def test_a_sentence_holds_no_command_to_a_terminal_and_has_an_end() -> None:
    told = str(Invalid("a/b", "The file \x1b[2J\n\ud800 is none."))
    assert told == "The file \ufffd[2J\ufffd\ufffd is none."
    long = str(Invalid("a/b", f"There is no {'x' * 5_000}. Look again."))
    assert len(long) == LONGEST_SENTENCE + 3
    assert long.startswith("There is no x")
    assert long.endswith("x. Look again.")


def test_an_error_comes_back_whole_from_another_process() -> None:
    refusal = pickle.loads(pickle.dumps(Invalid("bring-in/empty", "Nothing is in it.")))
    assert isinstance(refusal, Invalid)
    assert (refusal.code, refusal.sentence) == ("bring-in/empty", "Nothing is in it.")
    assert str(refusal) == "Nothing is in it."
