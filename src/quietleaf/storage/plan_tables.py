"""The tables of the plan: read when it has changed, written where it has changed.

A plan of years has tens of thousands of assignments. It has a number that each change raises, so
that who has read it once asks for the number alone; and a change writes the rows that differ.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, update

from quietleaf.errors import NotFound
from quietleaf.planning.assignment import with_keys
from quietleaf.planning.check_station import check_names_and_ties
from quietleaf.planning.station import Station
from quietleaf.storage.database_part import DatabasePart, Transaction
from quietleaf.storage.plan_rows import PLAN_PARTS, PlanPart, row_of_station, station_of_rows
from quietleaf.storage.schema import tables

_ROWS_AT_ONCE = 500


class PlanTables(DatabasePart):
    """The plan."""

    def __init__(self, asking: Transaction, writing: Transaction) -> None:
        super().__init__(asking, writing)
        # Replaced in one step by whoever reads the plan: no lock is needed.
        self._read: tuple[int, Station] | None = None

    def save(self, station: Station) -> None:
        """Keep all that is planned, in place of what was planned before."""
        kept = replace(station, assignments=with_keys(station.assignments))
        with self._writing() as connection:
            number = _number(connection) or 0
            for part in reversed(PLAN_PARTS):
                connection.execute(delete(part.table))
            connection.execute(delete(tables.STATION))
            head = {**row_of_station(kept), "plan_number": number + 1}
            connection.execute(insert(tables.STATION), [head])
            for part in PLAN_PARTS:
                _insert(connection, part, part.things(kept), 0)

    def load(self) -> Station:
        """Give all that is planned.

        Raises
        ------
        NotFound
            If nothing was ever planned here.
        """
        with self._asking() as connection:
            return self._load(connection)

    def change(self, change: Callable[[Station], Station]) -> Station:
        """Change what is planned; what `change` refuses leaves all as it was."""
        with self._writing() as connection:
            before = self._load(connection)
            after = change(before)
            after = replace(after, assignments=with_keys(after.assignments))
            check_names_and_ties(after)
            number = _number(connection) or 0
            if after != before:
                _write_difference(connection, before, after)
                number += 1
        self._read = number, after
        return after

    def _load(self, connection: Connection) -> Station:
        number, read = _number(connection), self._read
        if number is None:
            raise NotFound(
                "database/no-station",
                "No station is set up here yet. Give it its file of programmes and readers first.",
            )
        if read is None or read[0] != number:
            found = {"station": connection.execute(select(tables.STATION)).all()}
            for part in PLAN_PARTS:
                rows = select(part.table).order_by(part.table.c.position)
                found[part.table.name] = connection.execute(rows).all()
            read = number, station_of_rows(found)
            self._read = read
        return read[1]


def _number(connection: Connection) -> int | None:
    number: int | None = connection.execute(select(tables.STATION.c.plan_number)).scalar()
    return number


def _write_difference(connection: Connection, before: Station, after: Station) -> None:
    """Write what differs: rows that are gone go, new ones come last, others change in place."""
    for part in reversed(PLAN_PARTS):
        gone = {*_keyed(part, before)} - {*_keyed(part, after)}
        _delete(connection, part, list(gone))
    head = row_of_station(after)
    number = tables.STATION.c.plan_number
    connection.execute(update(tables.STATION).values({**head, "plan_number": number + 1}))
    for part in PLAN_PARTS:
        _write_part(connection, part, _keyed(part, before), _keyed(part, after))


def _write_part(
    connection: Connection, part: PlanPart, before: dict[str, Any], after: dict[str, Any]
) -> None:
    stay = [key for key in before if key in after]
    begins_alike = stay == list(after)[: len(stay)]
    columns = part.table.c
    for place, (key, thing) in enumerate(after.items()):
        row: dict[str, Any] = {}
        if key in before and before[key] is not thing and before[key] != thing:
            row = part.row_of(thing)
        if not begins_alike and key in before:
            row = {**row, "position": place}
        if row:
            connection.execute(update(part.table).where(columns[part.key] == key).values(row))
    if begins_alike:
        last = connection.execute(select(func.max(columns.position))).scalar()
        new = [thing for key, thing in after.items() if key not in before]
        _insert(connection, part, new, 0 if last is None else last + 1)
    else:
        for place, (key, thing) in enumerate(after.items()):
            if key not in before:
                _insert(connection, part, [thing], place)


def _keyed(part: PlanPart, station: Station) -> dict[str, Any]:
    return {part.key_of(thing): thing for thing in part.things(station)}


def _insert(connection: Connection, part: PlanPart, things: Any, position: int) -> None:
    rows = [
        {**part.row_of(thing), "position": place} for place, thing in enumerate(things, position)
    ]
    if rows:
        connection.execute(insert(part.table), rows)


def _delete(connection: Connection, part: PlanPart, keys: list[str]) -> None:
    for first in range(0, len(keys), _ROWS_AT_ONCE):
        some = keys[first : first + _ROWS_AT_ONCE]
        connection.execute(delete(part.table).where(part.table.c[part.key].in_(some)))
