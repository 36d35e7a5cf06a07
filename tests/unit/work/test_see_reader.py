"""What became of what a reader read before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from quietleaf.booth.reading import ReadingState
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import create_reading
from quietleaf.work.messages import own_message, see_message, tell_desk
from quietleaf.work.open_reading import open_reading
from quietleaf.work.see_reader import see_reader
from quietleaf.work.tools import Tools
from tests.coming import Clock, coming_station, handed_in, record, sat
from tests.finished import NOW

HOUR = "courier-hour-2026-11-25"


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def tools(tmp_path: Path, clock: Clock) -> Iterator[Tools]:
    with coming_station(tmp_path, clock) as made:
        yield made


@pytest.mark.parametrize("state", ["handed in", "cleared", "placed", "aired", "returned"])
def test_each_state_is_shown_with_its_time_on_the_air(tools: Tools, state: ReadingState) -> None:
    handed_in(tools, HOUR, "Tomas Vale", state=state, note="A door banged.")
    seen = see_reader("Tomas Vale", tools)
    (reading,) = seen.readings
    assert reading.state == state
    assert reading.airs_at == datetime(2026, 11, 25, 19, 0, tzinfo=ZoneInfo("Europe/London"))
    assert not reading.is_over
    assert reading.note == ("A door banged." if state == "returned" else "")
    assert seen.handed_in == (0 if state == "returned" else 1)


def test_once_its_time_has_come_it_is_over(tools: Tools, clock: Clock) -> None:
    handed_in(tools, HOUR, "Tomas Vale")
    clock.move(hours=4, minutes=40)
    assert see_reader("Tomas Vale", tools).readings[0].is_over


def test_only_what_this_reader_handed_in_is_there(tools: Tools) -> None:
    handed_in(tools, "long-shelf-2026-11-25", "Imke Rowan")
    record(open_reading(HOUR, sat(tools, "Tomas Vale"), tools).folder, tools)
    assert see_reader("Tomas Vale", tools).readings == ()
    (shelf,) = see_reader("Imke Rowan", tools).readings
    assert (shelf.part, shelf.duration_s) == (9, 1.0)


def test_late_sound_is_the_desks_and_counts_for_nothing(tools: Tools) -> None:
    folder = handed_in(tools, HOUR, "Tomas Vale")
    late = create_reading(
        tools.data, replace(folder.facts, reading_id="late-0a1b2c3d"), NOW, "Tomas Vale"
    )
    row = replace(reading_row(late), state="handed in")
    tools.database.index_reading(row)
    assert see_reader("Tomas Vale", tools).handed_in == 1


def test_a_message_is_seen_once_and_by_its_sender_alone(tools: Tools, clock: Clock) -> None:
    sitting = sat(tools, "Tomas Vale")
    message = tell_desk("help", sitting, tools)
    assert message.seen_at is None
    clock.move(minutes=2)
    seen = see_message(message.message_id, tools)
    assert seen.seen_at == clock()
    clock.move(minutes=2)
    assert see_message(message.message_id, tools) == seen
    assert own_message(message.message_id, sitting, tools) == seen
    assert own_message(message.message_id, sat(tools, "Ada Fenwick"), tools) is None


def test_a_message_names_the_reading_that_is_open_and_no_practice(tools: Tools) -> None:
    sitting = replace(sat(tools, "Tomas Vale"), reading="readings:x1")
    assert tell_desk("help", sitting, tools).reading_id == "x1"
    practising = replace(sitting, reading="practice:p1")
    assert tell_desk("help", practising, tools).reading_id is None
