"""Rows of the plan become records here, and records rows, by hand."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import time
from typing import Any

from sqlalchemy import Row, Table

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.booth import Booth
from quietleaf.planning.outlet import Outlet
from quietleaf.planning.programme import Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.storage.rows import moment_of_text, text_of_moment
from quietleaf.storage.schema import tables
from quietleaf.units import Window

Values = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPart:
    """One kind of thing in the plan, and its table.

    Attributes
    ----------
    key : str
        Column that names a row.
    things : callable
        Gives them, in their order.
    key_of : callable
        Names one.
    row_of : callable
        Writes one as a row, but for its position.
    """

    table: Table
    key: str
    things: Callable[[Station], Sequence[Any]]
    key_of: Callable[[Any], str]
    row_of: Callable[[Any], Values]


def row_of_station(station: Station) -> Values:
    """Write what the station says of itself as a row."""
    return {
        "id": 1,
        "name": station.name,
        "note": station.note,
        "zone": station.zone,
        "originator": station.originator,
        "place": station.place,
        "tidy_list": json.dumps(station.tidy_list, ensure_ascii=False),
        "outlets": json.dumps([asdict(one) for one in station.outlets]),
    }


def station_of_rows(found: Mapping[str, Sequence[Row[Any]]]) -> Station:
    """Read all that is planned from each table's rows."""
    (head,) = found["station"]
    return Station(
        name=head.name,
        note=head.note,
        zone=head.zone,
        originator=head.originator,
        place=head.place,
        tidy_list=tuple(json.loads(head.tidy_list)),
        outlets=tuple(Outlet(**one) for one in json.loads(head.outlets)),
        booths=tuple(Booth(key=row.key, name=row.name) for row in found["booths"]),
        publications=tuple(
            Publication(
                key=row.key,
                title=row.title,
                kind=row.kind,
                appears=row.appears,
                author=row.author,
                publisher=row.publisher,
                year=row.year,
            )
            for row in found["publications"]
        ),
        programmes=tuple(_programme_of_row(row) for row in found["programmes"]),
        readers=tuple(row.name for row in found["readers"] if not row.retired),
        retired=tuple(row.name for row in found["readers"] if row.retired),
        assignments=tuple(
            Assignment(
                programme_key=row.programme_key,
                issue_date=row.issue_date,
                air_date=row.air_date,
                readers=tuple(json.loads(row.readers)),
                part=row.part,
                key=row.key,
                booth=row.booth,
                reads_at=moment_of_text(row.reads_at),
            )
            for row in found["assignments"]
        ),
    )


def _row_of_publication(publication: Publication) -> Values:
    return {
        "key": publication.key,
        "title": publication.title,
        "kind": publication.kind,
        "appears": publication.appears,
        "author": publication.author,
        "publisher": publication.publisher,
        "year": publication.year,
    }


def _row_of_programme(programme: Programme) -> Values:
    window = programme.window
    return {
        "key": programme.key,
        "title": programme.title,
        "publication": programme.publication,
        "slot_s": programme.slot_s,
        "window_shortest_s": None if window is None else window.shortest_s,
        "window_longest_s": None if window is None else window.longest_s,
        "opening_words": programme.opening_words,
        "closing_words": programme.closing_words,
        "weekdays": json.dumps(programme.weekdays),
        "air_times": json.dumps([at.isoformat() for at in programme.air_times]),
        "serial": programme.serial,
        "review": programme.review,
        "other_reviewer": programme.other_reviewer,
    }


def _row_of_assignment(assignment: Assignment) -> Values:
    return {
        "key": assignment.key,
        "programme_key": assignment.programme_key,
        "issue_date": assignment.issue_date,
        "air_date": assignment.air_date,
        "readers": json.dumps(assignment.readers, ensure_ascii=False),
        "part": assignment.part,
        "booth": assignment.booth,
        "reads_at": None if assignment.reads_at is None else text_of_moment(assignment.reads_at),
    }


def _programme_of_row(row: Row[Any]) -> Programme:
    window = (
        None
        if row.window_shortest_s is None
        else Window(shortest_s=row.window_shortest_s, longest_s=row.window_longest_s)
    )
    return Programme(
        key=row.key,
        title=row.title,
        publication=row.publication,
        slot_s=row.slot_s,
        window=window,
        opening_words=row.opening_words,
        closing_words=row.closing_words,
        weekdays=tuple(json.loads(row.weekdays)),
        air_times=tuple(time.fromisoformat(at) for at in json.loads(row.air_times)),
        serial=row.serial,
        review=row.review,
        other_reviewer=row.other_reviewer,
    )


PLAN_PARTS = (
    PlanPart(
        table=tables.PUBLICATIONS,
        key="key",
        things=lambda station: station.publications,
        key_of=lambda publication: publication.key,
        row_of=_row_of_publication,
    ),
    PlanPart(
        table=tables.PROGRAMMES,
        key="key",
        things=lambda station: station.programmes,
        key_of=lambda programme: programme.key,
        row_of=_row_of_programme,
    ),
    PlanPart(
        table=tables.READERS,
        key="name",
        things=lambda station: [
            *((name, False) for name in station.readers),
            *((name, True) for name in station.retired),
        ],
        key_of=lambda reader: reader[0],
        row_of=lambda reader: {"name": reader[0], "retired": reader[1]},
    ),
    PlanPart(
        table=tables.BOOTHS,
        key="key",
        things=lambda station: station.booths,
        key_of=lambda booth: booth.key,
        row_of=lambda booth: {"key": booth.key, "name": booth.name},
    ),
    PlanPart(
        table=tables.ASSIGNMENTS,
        key="key",
        things=lambda station: station.assignments,
        key_of=lambda assignment: assignment.key,
        row_of=_row_of_assignment,
    ),
)
"""In the order in which their rows can be put in."""
