"""A name opens only that; one sits at a booth at a time; no secret is kept in clear."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from quietleaf.errors import NotAllowed, NotFound
from quietleaf.storage.database import FILE
from quietleaf.work.sit_down import get_up, new_sitting, sit_at_booth, sitting_of, take_up
from quietleaf.work.tools import Tools
from tests.coming import Clock, coming_station, enrolled, sat


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    with coming_station(tmp_path, Clock()) as made:
        yield made


def test_a_name_sits_at_its_booth(tools: Tools) -> None:
    sitting = sitting_of(sit_at_booth("Tomas Vale", enrolled(tools), tools), tools)
    assert (sitting.reader, sitting.booth, sitting.reading, sitting.practice) == (
        "Tomas Vale",
        "booth-1",
        None,
        False,
    )


def test_the_next_name_ends_the_sitting_before_at_that_booth_alone(tools: Tools) -> None:
    booth_1, booth_2 = enrolled(tools), enrolled(tools, "booth-2")
    before = sit_at_booth("Tomas Vale", booth_1, tools)
    elsewhere = sit_at_booth("Ada Fenwick", booth_2, tools)
    at_home = new_sitting("Joan Abara", tools)
    sit_at_booth("Imke Rowan", booth_1, tools)
    with pytest.raises(NotAllowed, match="choose your name"):
        sitting_of(before, tools)
    assert sitting_of(elsewhere, tools).reader == "Ada Fenwick"
    assert sitting_of(at_home, tools).reader == "Joan Abara"


@pytest.mark.parametrize("secret", [None, "", "guessed", "A" * 43])
def test_a_guess_opens_nothing(tools: Tools, secret: str | None) -> None:
    enrolled(tools)
    with pytest.raises(NotAllowed):
        sitting_of(secret, tools)
    with pytest.raises(NotAllowed):
        sit_at_booth("Tomas Vale", secret, tools)


def test_a_secret_of_another_purpose_opens_nothing(tools: Tools) -> None:
    booth = enrolled(tools)
    with pytest.raises(NotAllowed):
        sitting_of(booth, tools)
    with pytest.raises(NotAllowed):
        sit_at_booth("Tomas Vale", sit_at_booth("Tomas Vale", booth, tools), tools)


@pytest.mark.parametrize("name", ["", "Nobody Known", "tomas vale"])
def test_a_name_that_is_not_on_the_list_does_not_sit_down(tools: Tools, name: str) -> None:
    booth = enrolled(tools)
    seated = sit_at_booth("Ada Fenwick", booth, tools)
    with pytest.raises(NotFound, match="list of this station's readers"):
        sit_at_booth(name, booth, tools)
    assert sitting_of(seated, tools).reader == "Ada Fenwick"


def test_taking_a_reading_up_replaces_the_secret(tools: Tools) -> None:
    first = sit_at_booth("Tomas Vale", enrolled(tools), tools)
    second = take_up("readings:x1", sitting_of(first, tools), tools)
    taken = sitting_of(second, tools)
    assert (taken.reader, taken.booth, taken.reading) == ("Tomas Vale", "booth-1", "readings:x1")
    with pytest.raises(NotAllowed):
        sitting_of(first, tools)


def test_getting_up_ends_it_and_may_be_done_twice(tools: Tools) -> None:
    secret = sit_at_booth("Tomas Vale", enrolled(tools), tools)
    for _ in range(2):
        get_up(secret, tools)
        with pytest.raises(NotAllowed):
            sitting_of(secret, tools)
    get_up(None, tools)
    get_up("guessed", tools)


def test_a_booth_is_not_got_up_from(tools: Tools) -> None:
    booth = enrolled(tools)
    get_up(booth, tools)
    assert sit_at_booth("Tomas Vale", booth, tools)


def test_a_practice_is_told_from_a_reading(tools: Tools) -> None:
    secret = new_sitting("Tomas Vale", tools, reading="practice:p1")
    assert sitting_of(secret, tools).practice
    assert not sat(tools, "Tomas Vale").practice


def test_no_secret_lies_in_the_data_folder(tools: Tools) -> None:
    booth = enrolled(tools)
    secret = sit_at_booth("Tomas Vale", booth, tools)
    written = b"".join(path.read_bytes() for path in tools.data.glob(f"{FILE}*"))
    assert b"booth-1" in written
    assert booth.encode() not in written
    assert secret.encode() not in written
