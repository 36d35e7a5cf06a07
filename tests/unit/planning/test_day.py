"""One day on the air: order, holes, and the two days on which clocks change."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from quietleaf.planning.day import nearest_assigned_day, slots_of_day
from tests.stations import HOUR, REQUEST, STATION, WEDNESDAY, with_programme

LONDON = ZoneInfo("Europe/London")


def test_slots_come_in_the_order_of_the_air_each_with_its_assignment_or_a_hole() -> None:
    slots = slots_of_day(STATION, WEDNESDAY, LONDON)
    assert [(f"{slot.starts_at:%H:%M}", slot.programme.key, slot.is_hole) for slot in slots] == [
        ("09:30", "story", True),
        ("19:00", "hour", False),
        ("23:45", "story", True),
    ]
    assert slots[1].assignment == STATION.assignments[0]


def test_an_assignment_that_names_nobody_is_a_hole() -> None:
    nobody = replace(STATION.assignments[0], readers=())
    slots = slots_of_day(replace(STATION, assignments=(nobody,)), WEDNESDAY, LONDON)
    assert all(slot.is_hole for slot in slots)


def test_a_slot_may_run_past_midnight() -> None:
    last = slots_of_day(STATION, WEDNESDAY, LONDON)[-1]
    assert last.ends_at.isoformat() == "2026-11-26T00:15:00+00:00"


def test_a_day_without_programmes_is_empty() -> None:
    assert slots_of_day(STATION, date(2026, 11, 28), LONDON) == ()


@pytest.mark.parametrize(
    ("day", "starts_at", "ends_at"),
    [
        # Great Britain's clocks go forward at 01:00 UTC on 29 March 2026, back on 25 October.
        (date(2026, 3, 29), "2026-03-29T02:30:00+01:00", "2026-03-29T03:30:00+01:00"),
        (date(2026, 10, 25), "2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00"),
    ],
)
def test_a_slot_at_the_change_of_clocks_airs_once_and_in_full(
    day: date, starts_at: str, ends_at: str
) -> None:
    night = replace(HOUR, weekdays=(6,), air_times=(time(1, 30),))
    (slot,) = slots_of_day(with_programme(night), day, LONDON)
    assert (slot.starts_at.isoformat(), slot.ends_at.isoformat()) == (starts_at, ends_at)
    # Two times in one zone subtract as their clocks read: compare what passed.
    assert slot.ends_at.astimezone(UTC) - slot.starts_at.astimezone(UTC) == timedelta(hours=1)


def test_slots_at_the_change_of_clocks_keep_the_order_of_the_air() -> None:
    # In spring 01:30 does not exist and airs at 02:30, after what is planned for 02:00.
    first = replace(HOUR, weekdays=(6,), air_times=(time(1, 30), time(2, 0)))
    slots = slots_of_day(with_programme(first), date(2026, 3, 29), LONDON)
    assert [f"{slot.starts_at:%H:%M}" for slot in slots] == ["02:00", "02:30"]


@pytest.mark.trade
def test_an_hour_is_read_to_56_to_58_minutes_by_default() -> None:
    """Common practice, no source."""
    assert HOUR.window is not None
    assert (HOUR.window.shortest_s, HOUR.window.longest_s) == (56 * 60, 58 * 60)


@pytest.mark.trade
def test_a_private_request_has_no_limit_of_length() -> None:
    """Common practice, no source."""
    assert REQUEST.slot_s is None
    assert REQUEST.window is None


def test_the_nearest_assigned_day_is_found_and_of_two_the_later() -> None:
    assert nearest_assigned_day(STATION, date(2026, 1, 1)) == WEDNESDAY
    assert nearest_assigned_day(replace(STATION, assignments=()), WEDNESDAY) is None
    before = replace(STATION.assignments[0], air_date=date(2026, 11, 23))
    both = replace(STATION, assignments=(before, *STATION.assignments))
    assert nearest_assigned_day(both, date(2026, 11, 24)) == WEDNESDAY
