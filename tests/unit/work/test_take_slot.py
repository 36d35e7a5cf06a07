"""What is short is taken once; the desk is told."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from quietleaf.errors import Conflict, NotAllowed, NotFound
from quietleaf.planning.station import assignment_named
from quietleaf.work.open_reading import open_reading
from quietleaf.work.sit_down import Sitting
from quietleaf.work.take_slot import TakeSlot, take_slot
from quietleaf.work.tools import Tools
from tests.coming import Clock, coming_station, sat
from tests.finished import NOW

TODAY, TOMORROW = date(2026, 11, 25), date(2026, 11, 26)
FIELD = TakeSlot(programme_key="field-and-lane", air_date=TODAY)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def tools(tmp_path: Path, clock: Clock) -> Iterator[Tools]:
    with coming_station(tmp_path, clock) as made:
        yield made


def test_a_walk_in_takes_a_hole_and_the_desk_is_told(tools: Tools) -> None:
    made = take_slot(FIELD, sat(tools, "Ada Fenwick"), tools)
    assert made == assignment_named(tools.database.load_station(), made.key)
    assert (made.readers, made.booth, made.reads_at) == (("Ada Fenwick",), "booth-1", NOW)
    assert (made.air_date, made.issue_date, made.part) == (TODAY, TODAY, None)
    (told,) = tools.database.messages(open_only=True)
    assert (told.kind, told.reader, told.booth) == ("taken", "Ada Fenwick", "booth-1")
    assert told.assignment_key == made.key
    assert told.text == "Ada Fenwick reads Field and Lane for Wednesday 25 November 2026."
    assert open_reading(made.key, sat(tools, "Ada Fenwick"), tools).reading_id


def test_pressed_twice_it_is_taken_and_told_once(tools: Tools) -> None:
    sitting = sat(tools, "Ada Fenwick")
    assert take_slot(FIELD, sitting, tools) == take_slot(FIELD, sitting, tools)
    assert len(tools.database.messages()) == 1


def test_of_two_who_take_it_one_gets_it(tools: Tools) -> None:
    def attempt(sitting: Sitting) -> str:
        try:
            return take_slot(FIELD, sitting, tools).readers[0]
        except Conflict as refusal:
            return refusal.sentence

    sittings = [sat(tools, "Ada Fenwick"), sat(tools, "Joan Abara", "booth-2")]
    with ThreadPoolExecutor(2) as pool:
        told = list(pool.map(attempt, sittings))
    taken = {"Ada Fenwick", "Joan Abara"} & set(told)
    assert len(taken) == 1
    (refused,) = set(told) - taken
    assert refused.startswith(f"{taken.pop()} has Field and Lane now.")
    assert len(tools.database.messages()) == 1


def test_a_planned_hole_keeps_its_key_its_issue_and_its_place(tools: Tools) -> None:
    key = "courier-hour-2026-11-25"
    planned = tools.database.change_station(
        lambda station: replace(
            station,
            assignments=tuple(
                replace(each, readers=(), issue_date=date(2026, 11, 24))
                if each.key == key
                else each
                for each in station.assignments
            ),
        )
    )
    wanted = TakeSlot(programme_key="courier-hour", air_date=TODAY)
    made = take_slot(wanted, sat(tools, "Ada Fenwick", None), tools)
    assert (made.key, made.issue_date, made.booth) == (key, date(2026, 11, 24), None)
    keys = [each.key for each in tools.database.load_station().assignments]
    assert keys == [each.key for each in planned.assignments]


def test_a_part_of_a_serial_follows_the_last(tools: Tools, clock: Clock) -> None:
    clock.move(days=1)
    wanted = TakeSlot(programme_key="long-shelf", air_date=date(2026, 11, 27))
    assert take_slot(wanted, sat(tools, "Ada Fenwick"), tools).part == 10


def test_what_somebody_has_is_not_taken(tools: Tools) -> None:
    wanted = TakeSlot(programme_key="courier-hour", air_date=TODAY)
    with pytest.raises(Conflict, match="Tomas Vale has The Courier Hour now"):
        take_slot(wanted, sat(tools, "Ada Fenwick"), tools)
    assert tools.database.messages() == ()


@pytest.mark.parametrize(
    ("programme", "day"),
    [("field-and-lane", date(2026, 12, 2)), ("courier-hour", date(2026, 11, 29))],
)
def test_what_is_not_short_is_not_taken(tools: Tools, programme: str, day: date) -> None:
    before = tools.database.load_station()
    with pytest.raises(Conflict, match="See what else is short"):
        take_slot(TakeSlot(programme_key=programme, air_date=day), sat(tools, "Ada Fenwick"), tools)
    assert tools.database.load_station() == before


def test_what_is_on_the_air_already_is_not_taken(tools: Tools, clock: Clock) -> None:
    clock.move(hours=2, minutes=40)  # 17:00
    with pytest.raises(Conflict, match="its time has come"):
        take_slot(FIELD, sat(tools, "Ada Fenwick"), tools)


def test_nothing_is_taken_in_practice_or_without_a_programme(tools: Tools) -> None:
    with pytest.raises(NotAllowed):
        take_slot(FIELD, replace(sat(tools, "Ada Fenwick"), practice=True), tools)
    with pytest.raises(NotFound):
        take_slot(TakeSlot(programme_key="none", air_date=TODAY), sat(tools, "Ada Fenwick"), tools)
