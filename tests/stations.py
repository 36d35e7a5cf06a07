"""A small station for tests: one hour on weekdays, one story, one request."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.programme import HOUR_SLOT_S, HOUR_WINDOW, Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.units import Window

WEDNESDAY = date(2026, 11, 25)

HOUR = Programme(
    key="hour",
    title="The Hour",
    publication="The Post",
    slot_s=HOUR_SLOT_S,
    window=HOUR_WINDOW,
    opening_words="This is {programme}, read by {reader}.",
    closing_words="That was {programme}.",
    weekdays=(0, 1, 2, 3, 4),
    air_times=(time(19, 0),),
)
STORY = Programme(
    key="story",
    title="The Story",
    publication="A Lantern",
    slot_s=1800.0,
    window=Window(shortest_s=1620.0, longest_s=1680.0),
    opening_words="Part {part}.",
    closing_words="",
    weekdays=(2,),
    air_times=(time(9, 30), time(23, 45)),
    serial=True,
)
REQUEST = Programme(
    key="request",
    title="A Request",
    publication="A Lantern",
    slot_s=None,
    window=None,
    opening_words="",
    closing_words="",
)
STATION = Station(
    name="A Service",
    note="Invented.",
    zone="Europe/London",
    originator="A Service",
    programmes=(HOUR, STORY, REQUEST),
    readers=("Ada Fenwick", "Tomas Vale"),
    assignments=(
        Assignment(
            programme_key="hour",
            issue_date=WEDNESDAY,
            air_date=WEDNESDAY,
            readers=("Tomas Vale",),
            key="hour-2026-11-25",
        ),
        Assignment(
            programme_key="request",
            issue_date=date(2026, 11, 19),
            air_date=None,
            readers=("Ada Fenwick",),
            key="request-2026-11-19",
        ),
    ),
    publications=(
        Publication(key="post", title="The Post", kind="newspaper", appears="daily"),
        Publication(key="lantern", title="A Lantern", kind="book", appears="once"),
    ),
)


def with_programme(programme: Programme) -> Station:
    """Give the station with its hour changed."""
    return replace(STATION, programmes=(programme, STORY, REQUEST))
