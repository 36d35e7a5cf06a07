"""Rows become records here, and records rows, by hand."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import time
from typing import Any

from sqlalchemy import Row, Table

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.programme import Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.storage.index_rows import MasterRow, ReadingRow
from quietleaf.storage.schema import tables
from quietleaf.units import Window

Values = list[dict[str, Any]]


def rows_of_station(station: Station) -> list[tuple[Table, Values]]:
    """Write all that is planned as rows, in the order in which they can be put in."""
    return [
        (
            tables.STATION,
            [
                {
                    "id": 1,
                    "name": station.name,
                    "note": station.note,
                    "zone": station.zone,
                    "originator": station.originator,
                    "place": station.place,
                }
            ],
        ),
        (
            tables.PUBLICATIONS,
            [
                {
                    "key": publication.key,
                    "position": position,
                    "title": publication.title,
                    "kind": publication.kind,
                    "appears": publication.appears,
                    "author": publication.author,
                    "publisher": publication.publisher,
                    "year": publication.year,
                }
                for position, publication in enumerate(station.publications)
            ],
        ),
        (
            tables.PROGRAMMES,
            [
                _row_of_programme(position, programme)
                for position, programme in enumerate(station.programmes)
            ],
        ),
        (
            tables.READERS,
            [
                {"name": reader, "position": position}
                for position, reader in enumerate(station.readers)
            ],
        ),
        (
            tables.ASSIGNMENTS,
            [
                {
                    "position": position,
                    "programme_key": assignment.programme_key,
                    "issue_date": assignment.issue_date,
                    "air_date": assignment.air_date,
                    "readers": json.dumps(assignment.readers, ensure_ascii=False),
                    "part": assignment.part,
                }
                for position, assignment in enumerate(station.assignments)
            ],
        ),
    ]


def station_of_rows(found: Mapping[str, Sequence[Row[Any]]]) -> Station:
    """Read all that is planned from each table's rows."""
    (head,) = found["station"]
    return Station(
        name=head.name,
        note=head.note,
        zone=head.zone,
        originator=head.originator,
        place=head.place,
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
        readers=tuple(row.name for row in found["readers"]),
        assignments=tuple(
            Assignment(
                programme_key=row.programme_key,
                issue_date=row.issue_date,
                air_date=row.air_date,
                readers=tuple(json.loads(row.readers)),
                part=row.part,
            )
            for row in found["assignments"]
        ),
    )


def row_of_reading(reading: ReadingRow) -> dict[str, Any]:
    """Write a reading of the index as a row; its masters have their own."""
    return {
        "reading_id": reading.reading_id,
        "programme_key": reading.programme_key,
        "programme_title": reading.programme_title,
        "publication": reading.publication,
        "issue_date": reading.issue_date,
        "readers": json.dumps(reading.readers, ensure_ascii=False),
        "air_date": reading.air_date,
        "folder": reading.folder,
        "state": reading.state,
        "revision": reading.revision,
        "takes": reading.takes,
        "duration_s": reading.duration_s,
    }


def row_of_master(reading_id: str, master: MasterRow) -> dict[str, Any]:
    """Write a master of the index as a row."""
    return {
        "reading_id": reading_id,
        "kind": master.kind,
        "path": master.path,
        "bytes": master.bytes,
        "sha256": master.sha256,
        "facts": json.dumps(dict(master.facts), ensure_ascii=False, allow_nan=False),
    }


def reading_of_row(row: Row[Any], masters: Sequence[Row[Any]]) -> ReadingRow:
    """Read a reading of the index from its row and those of its masters."""
    return ReadingRow(
        reading_id=row.reading_id,
        programme_key=row.programme_key,
        programme_title=row.programme_title,
        publication=row.publication,
        issue_date=row.issue_date,
        readers=tuple(json.loads(row.readers)),
        air_date=row.air_date,
        folder=row.folder,
        state=row.state,
        revision=row.revision,
        takes=row.takes,
        duration_s=row.duration_s,
        masters=tuple(
            MasterRow(
                kind=master.kind,
                path=master.path,
                bytes=master.bytes,
                sha256=master.sha256,
                facts=json.loads(master.facts),
            )
            for master in masters
        ),
    )


def _row_of_programme(position: int, programme: Programme) -> dict[str, Any]:
    window = programme.window
    return {
        "key": programme.key,
        "position": position,
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
    )
