"""What a station must hold: each thing amiss is said in one sentence."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time
from typing import Any

import pytest

from quietleaf.errors import Invalid
from quietleaf.planning.check_station import check_station
from quietleaf.planning.station import Station
from quietleaf.units import Window
from tests.stations import HOUR, STATION, STORY, WEDNESDAY, with_programme

ASSIGNED = STATION.assignments[0]


def test_a_station_that_holds_together_passes() -> None:
    check_station(STATION)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"key": "The Hour"}, "lower-case letters, digits and single hyphens.*'The Hour'"),
        ({"key": "../up"}, "names folders"),
        ({"key": "a" * 65}, "at most 64"),
        ({"title": " "}, "hour has no title"),
        ({"publication": "The Mail"}, "'The Mail', which is not among the station's publications"),
        ({"window": None}, "has a slot and no window"),
        ({"slot_s": None}, "has a window and no slot"),
        (
            {"window": Window(shortest_s=3360.0, longest_s=3601.0)},
            "has the window 56:00 to 1:00:01 in a slot of 1:00:00",
        ),
        ({"window": Window(shortest_s=3480.0, longest_s=3360.0)}, "begins with its shortest"),
        ({"slot_s": float("inf")}, "at most a day long; that of The Hour is not"),
        ({"air_times": (time(19, 0, 1),)}, "hours and minutes by the station's clock"),
        ({"air_times": (time(19, 0, tzinfo=UTC),)}, "hours and minutes by the station's clock"),
        ({"weekdays": ()}, "has air times and no weekdays"),
        ({"air_times": ()}, "has weekdays and no air times"),
        ({"slot_s": None, "window": None}, "is on the air and has no slot"),
        ({"weekdays": (1, 2, 7)}, "The Hour has 1, 2 and 7"),
        ({"air_times": (time(9), time(9))}, "the air time 09:00 2 times"),
        ({"closing_words": "By {raeder}."}, r"The Hour, closing words: .*have \{raeder\}"),
        ({"opening_words": "Part {part}."}, r"the blank \{part\} is for a serial"),
        ({"key": "story"}, "programmes has a name of its own; 'story' is there 2 times"),
    ],
)
def test_a_programme_that_does_not_hold_together_is_refused(
    change: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(Invalid, match=sentence):
        check_station(with_programme(replace(HOUR, **change)))


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"programme_key": "houre"}, "names the programme 'houre'; the station has hour, story"),
        ({"readers": ("Nobody Known",)}, "'Nobody Known', who is not among"),
        ({"air_date": date(2026, 11, 28)}, "for Saturday 28 November 2026, and is not on the air"),
        ({"air_date": None}, "has no air date, and the programme is on the air"),
        ({"part": 3}, "The Hour is no serial, and its assignment has part 3"),
        ({"programme_key": "story"}, "The Story is a serial, and its assignment has no part"),
    ],
)
def test_an_assignment_that_does_not_hold_together_is_refused(
    change: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(Invalid, match=sentence):
        check_station(replace(STATION, assignments=(replace(ASSIGNED, **change),)))


@pytest.mark.parametrize(
    ("station", "sentence"),
    [
        (replace(STATION, name=""), "needs the name of its service"),
        (replace(STATION, originator="Märrowby"), "at most 32 ASCII characters"),
        (replace(STATION, originator="A" * 33), "at most 32 ASCII characters"),
        (replace(STATION, readers=("Ada Fenwick",) * 2), "'Ada Fenwick' is there 2 times"),
        (replace(STATION, publications=STATION.publications * 2), "'post' is there 2 times"),
        (
            replace(
                STATION,
                assignments=(ASSIGNED, replace(ASSIGNED, key="k2", issue_date=date(2026, 1, 1))),
            ),
            "The Hour on Wednesday 25 November 2026 has 2",
        ),
    ],
)
def test_a_name_or_a_day_twice_is_refused(station: Station, sentence: str) -> None:
    with pytest.raises(Invalid, match=sentence):
        check_station(station)


def test_two_programmes_may_be_assigned_for_one_day() -> None:
    story = replace(ASSIGNED, key="k3", programme_key=STORY.key, part=3)
    assert story.air_date == WEDNESDAY
    check_station(replace(STATION, assignments=(ASSIGNED, story)))


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"issue_date": date(1, 1, 1)}, "from 1970 to 2199; .* says 0001-01-01"),
        ({"issue_date": date(2200, 1, 1)}, "says 2200-01-01"),
        ({"reads_at": datetime(9999, 12, 31, tzinfo=UTC)}, "says 9999-12-31"),
        ({"reads_at": datetime(2026, 11, 25)}, "names no zone"),  # noqa: DTZ001
        ({"part": 0}, "from 1 to 9999; .* says 0"),
        ({"part": 10**40}, "from 1 to 9999"),
    ],
)
def test_numbers_and_days_of_an_assignment_lie_within_reach(
    change: dict[str, Any], sentence: str
) -> None:
    assignments = (replace(ASSIGNED, **change), *STATION.assignments[1:])
    with pytest.raises(Invalid, match=sentence):
        check_station(replace(STATION, assignments=assignments))


@pytest.mark.parametrize("year", [1399, 2200, 10**40])
def test_no_book_came_out_before_printing_or_in_two_hundred_years(year: int) -> None:
    book = replace(STATION.publications[0], year=year)
    with pytest.raises(Invalid, match="between 1400 and 2199"):
        check_station(replace(STATION, publications=(book, *STATION.publications[1:])))
