"""A personal link lets one reader in from home, for a while, until it is revoked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.errors import Invalid, NotAllowed, NotFound
from quietleaf.storage.tokens import sha256_of
from quietleaf.work.enrol_booth import enrol_booth, make_enrolment
from quietleaf.work.personal_links import links_of, make_link, open_link, revoke_link, see_link
from quietleaf.work.sit_down import sit_at_booth, sitting_of
from quietleaf.work.tools import Tools
from tests.coming import Clock, coming_station, enrolled


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def tools(tmp_path: Path, clock: Clock) -> Iterator[Tools]:
    with coming_station(tmp_path, clock) as made:
        yield made


def test_a_link_opens_the_stand_of_its_reader(tools: Tools) -> None:
    sitting = sitting_of(open_link(make_link("Ada Fenwick", 14, tools), tools), tools)
    assert (sitting.reader, sitting.booth, sitting.reading) == ("Ada Fenwick", None, None)


def test_a_link_may_be_opened_again_and_again(tools: Tools, clock: Clock) -> None:
    link = make_link("Ada Fenwick", 14, tools)
    open_link(link, tools)
    clock.move(days=13, hours=23)
    assert sitting_of(open_link(link, tools), tools).reader == "Ada Fenwick"


def test_an_expired_link_says_until_when_it_was_good(tools: Tools, clock: Clock) -> None:
    link = make_link("Ada Fenwick", 14, tools)
    clock.move(days=14)
    with pytest.raises(NotAllowed, match="until Wednesday 9 December 2026"):
        open_link(link, tools)


def test_who_came_in_is_not_put_out_in_the_middle_of_an_hour(tools: Tools, clock: Clock) -> None:
    link = make_link("Ada Fenwick", 1, tools)
    clock.move(hours=23, minutes=59)
    secret = open_link(link, tools)
    clock.move(hours=2)
    assert sitting_of(secret, tools).reader == "Ada Fenwick"
    clock.move(hours=10)
    with pytest.raises(NotAllowed):
        sitting_of(secret, tools)


def test_a_sitting_lasts_as_long_as_its_link(tools: Tools, clock: Clock) -> None:
    secret = open_link(make_link("Ada Fenwick", 14, tools), tools)
    clock.move(days=13)
    assert sitting_of(secret, tools).reader == "Ada Fenwick"
    clock.move(days=1)
    with pytest.raises(NotAllowed):
        sitting_of(secret, tools)


def test_a_revoked_link_lets_nobody_in_and_ends_what_it_opened(tools: Tools) -> None:
    link, others = make_link("Ada Fenwick", 14, tools), make_link("Tomas Vale", 14, tools)
    at_home, elsewhere = open_link(link, tools), open_link(others, tools)
    at_booth = sit_at_booth("Ada Fenwick", enrolled(tools), tools)
    revoke_link("Ada Fenwick", sha256_of(link), tools)
    with pytest.raises(NotAllowed, match="closed this personal link"):
        open_link(link, tools)
    with pytest.raises(NotAllowed):
        sitting_of(at_home, tools)
    assert sitting_of(elsewhere, tools).reader == "Tomas Vale"
    assert sitting_of(at_booth, tools).reader == "Ada Fenwick"
    assert open_link(others, tools)


def test_a_link_is_revoked_under_its_own_readers_name_alone(tools: Tools) -> None:
    link = make_link("Ada Fenwick", 14, tools)
    with pytest.raises(NotFound):
        revoke_link("Tomas Vale", sha256_of(link), tools)
    assert see_link(link, tools).reader == "Ada Fenwick"


def test_links_are_listed_without_their_secrets_the_newest_first(
    tools: Tools, clock: Clock
) -> None:
    first = make_link("Ada Fenwick", 1, tools)
    clock.move(days=2)
    second = make_link("Ada Fenwick", 14, tools)
    make_link("Tomas Vale", 14, tools)
    listed = links_of("Ada Fenwick", tools)
    assert [link.sha256 for link in listed] == [sha256_of(second), sha256_of(first)]
    assert [link.is_live for link in listed] == [True, False]
    assert second not in repr(listed)


@pytest.mark.parametrize("secret", ["", "guessed", "A" * 43])
def test_a_guess_opens_nothing(tools: Tools, secret: str) -> None:
    make_link("Ada Fenwick", 14, tools)
    with pytest.raises(NotFound):
        open_link(secret, tools)


def test_a_secret_of_another_purpose_is_no_link(tools: Tools) -> None:
    address = make_enrolment("booth-1", tools)
    with pytest.raises(NotFound):
        open_link(address, tools)
    _, booth = enrol_booth(address, tools)
    with pytest.raises(NotFound):
        open_link(booth, tools)
    sitting = open_link(make_link("Ada Fenwick", 14, tools), tools)
    with pytest.raises(NotFound):
        open_link(sitting, tools)


@pytest.mark.parametrize("days", [0, -1, 367, 10**9])
def test_a_link_is_good_for_a_sensible_number_of_days(tools: Tools, days: int) -> None:
    with pytest.raises(Invalid, match="1 to 366 days"):
        make_link("Ada Fenwick", days, tools)
    assert links_of("Ada Fenwick", tools) == ()


def test_a_reader_who_left_the_plan_comes_in_no_more(tools: Tools) -> None:
    link = make_link("Ada Fenwick", 14, tools)
    tools.database.change_station(
        lambda station: replace(
            station,
            readers=tuple(name for name in station.readers if name != "Ada Fenwick"),
            assignments=tuple(
                each for each in station.assignments if "Ada Fenwick" not in each.readers
            ),
        )
    )
    with pytest.raises(NotFound):
        open_link(link, tools)
    with pytest.raises(NotFound):
        make_link("Ada Fenwick", 14, tools)
