"""An address makes one browser the booth, once, within an hour."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from quietleaf.errors import NotAllowed, NotFound
from quietleaf.work.enrol_booth import (
    booth_of,
    end_booth,
    enrol_booth,
    make_enrolment,
    see_enrolment,
    see_enrolment_address,
)
from quietleaf.work.tools import Tools
from tests.coming import BOOTH, Clock, coming_station
from tests.finished import NOW


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def tools(tmp_path: Path, clock: Clock) -> Iterator[Tools]:
    with coming_station(tmp_path, clock) as made:
        yield made


def test_a_browser_becomes_the_booth(tools: Tools) -> None:
    address = make_enrolment("booth-1", tools)
    assert see_enrolment("booth-1", tools).since is None
    assert see_enrolment_address(address, tools) == BOOTH  # looking at it uses nothing up
    booth, secret = enrol_booth(address, tools)
    assert booth == BOOTH
    assert booth_of(secret, tools) == BOOTH
    assert see_enrolment("booth-1", tools).since == NOW
    assert see_enrolment("booth-2", tools).since is None


def test_an_address_works_once(tools: Tools) -> None:
    address = make_enrolment("booth-1", tools)
    _, secret = enrol_booth(address, tools)
    with pytest.raises(NotAllowed, match="works once"):
        enrol_booth(address, tools)
    assert booth_of(secret, tools) == BOOTH


def test_an_address_is_good_for_an_hour(tools: Tools, clock: Clock) -> None:
    address = make_enrolment("booth-1", tools)
    clock.move(minutes=59, seconds=59)
    assert see_enrolment_address(address, tools) == BOOTH
    clock.move(seconds=1)
    with pytest.raises(NotAllowed, match="one hour"):
        enrol_booth(address, tools)


def test_a_newer_address_replaces_one_that_nobody_used(tools: Tools) -> None:
    older, newer = make_enrolment("booth-1", tools), make_enrolment("booth-1", tools)
    other = make_enrolment("booth-2", tools)
    with pytest.raises(NotAllowed, match="newer"):
        enrol_booth(older, tools)
    assert enrol_booth(newer, tools)[0] == BOOTH
    assert enrol_booth(other, tools)[0].key == "booth-2"


def test_the_browser_that_was_the_booth_before_is_none(tools: Tools, clock: Clock) -> None:
    _, before = enrol_booth(make_enrolment("booth-1", tools), tools)
    address = make_enrolment("booth-1", tools)
    assert booth_of(before, tools) == BOOTH  # until the new one is opened
    clock.move(minutes=5)
    _, after = enrol_booth(address, tools)
    with pytest.raises(NotAllowed, match="Ask the desk"):
        booth_of(before, tools)
    assert booth_of(after, tools) == BOOTH
    assert see_enrolment("booth-1", tools).since == NOW + timedelta(minutes=5)


def test_a_booth_stays_one_for_as_long_as_it_stands(tools: Tools, clock: Clock) -> None:
    _, secret = enrol_booth(make_enrolment("booth-1", tools), tools)
    clock.move(days=2000)
    assert booth_of(secret, tools) == BOOTH


def test_the_desk_ends_a_booth_and_an_address_that_is_about(tools: Tools) -> None:
    _, secret = enrol_booth(make_enrolment("booth-1", tools), tools)
    address = make_enrolment("booth-1", tools)
    end_booth("booth-1", tools)
    with pytest.raises(NotAllowed):
        booth_of(secret, tools)
    with pytest.raises(NotAllowed):
        enrol_booth(address, tools)


@pytest.mark.parametrize("secret", ["", "guessed", "A" * 43])
def test_a_guess_makes_no_booth(tools: Tools, secret: str) -> None:
    make_enrolment("booth-1", tools)
    with pytest.raises(NotFound):
        enrol_booth(secret, tools)
    with pytest.raises(NotAllowed):
        booth_of(secret, tools)


def test_a_booths_own_secret_enrols_nobody(tools: Tools) -> None:
    _, secret = enrol_booth(make_enrolment("booth-1", tools), tools)
    with pytest.raises(NotFound, match="makes no booth"):
        enrol_booth(secret, tools)


def test_a_booth_that_left_the_plan_is_none(tools: Tools) -> None:
    _, secret = enrol_booth(make_enrolment("booth-1", tools), tools)
    address = make_enrolment("booth-1", tools)
    tools.database.change_station(lambda station: replace(station, booths=station.booths[1:]))
    with pytest.raises(NotAllowed):
        booth_of(secret, tools)
    with pytest.raises(NotFound):
        enrol_booth(address, tools)
    with pytest.raises(NotFound, match="no booth"):
        make_enrolment("booth-1", tools)
