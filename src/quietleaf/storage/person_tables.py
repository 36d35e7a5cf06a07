"""What all tables keep under one person's name, and taking it out of them in one transaction.

Who was erased is remembered by the checksum of the name alone, so that what their readings' folders
still say does not bring the name back into the index.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection, delete, insert, or_, select, update

from quietleaf.planning.message import Message
from quietleaf.planning.person import FORMER_READER
from quietleaf.storage import rows
from quietleaf.storage.database_part import DatabasePart
from quietleaf.storage.index_rows import ReadingRow
from quietleaf.storage.schema import tables
from quietleaf.storage.tokens import Token


class PersonTables(DatabasePart):
    """What is kept about a person."""

    def messages(self, name: str) -> tuple[Message, ...]:
        """Give what somebody told the desk, the oldest first."""
        table = tables.MESSAGES
        query = select(table).where(table.c.reader == name).order_by(table.c.at)
        with self._asking() as connection:
            return tuple(rows.message_of_row(row) for row in connection.execute(query))

    def tokens(self, name: str) -> tuple[Token, ...]:
        """Give everything by which somebody came in, or programs for them, the oldest first."""
        table = tables.TOKENS
        mine = or_(table.c.reader == name, table.c.account == name)
        with self._asking() as connection:
            found = connection.execute(select(table).where(mine).order_by(table.c.made_at))
            return tuple(rows.token_of_row(row) for row in found)

    def is_erased(self, name: str) -> bool:
        """Say whether somebody of this name was erased."""
        with self._asking() as connection:
            return _sum_of(name) in erased_sums(connection)

    def named_as_kept(self, index: Iterable[ReadingRow]) -> list[ReadingRow]:
        """Give rows of the index as they are kept: without the names of who was erased."""
        with self._asking() as connection:
            return without_erased(index, erased_sums(connection))

    def remember_erased(self, name: str, at: datetime) -> None:
        """Let nothing that is written from now on bring a name back into the index."""
        table = tables.ERASED
        with self._writing() as connection:
            if _sum_of(name) not in erased_sums(connection):
                row = {"sha256": _sum_of(name), "at": rows.text_of_moment(at)}
                connection.execute(insert(table), [row])

    def erase(self, name: str) -> None:
        """Take a name out of everything but the plan and the audit list."""
        readings, messages = tables.READINGS, tables.MESSAGES
        listed = readings.c.readers.contains(rows.text_of_name(name), autoescape=True)
        with self._writing() as connection:
            for table, column in (
                (tables.TOKENS, tables.TOKENS.c.reader),
                (tables.TOKENS, tables.TOKENS.c.account),
                (tables.PACES, tables.PACES.c.reader),
                (tables.FACTORS, tables.FACTORS.c.account),
                (tables.RECOVERY_CODES, tables.RECOVERY_CODES.c.account),
                (tables.ACCOUNTS, tables.ACCOUNTS.c.name),
            ):
                connection.execute(delete(table).where(column == name))
            connection.execute(
                update(messages)
                .where(messages.c.reader == name)
                .values(reader=FORMER_READER, text="")
            )
            found = connection.execute(
                select(readings.c.reading_id, readings.c.readers).where(listed)
            ).all()
            for row in found:
                named = [FORMER_READER if one == name else one for one in json.loads(row.readers)]
                connection.execute(
                    update(readings)
                    .where(readings.c.reading_id == row.reading_id)
                    .values(readers=json.dumps(named, ensure_ascii=False))
                )


def erased_sums(connection: Connection) -> frozenset[str]:
    """Give the checksums of the names that were erased."""
    return frozenset(connection.execute(select(tables.ERASED.c.sha256)).scalars())


def without_erased(index: Iterable[ReadingRow], sums: frozenset[str]) -> list[ReadingRow]:
    """Put the neutral word in place of names that were erased."""
    return [
        replace(
            row,
            readers=tuple(FORMER_READER if _sum_of(one) in sums else one for one in row.readers),
        )
        if sums
        else row
        for row in index
    ]


def _sum_of(name: str) -> str:
    return hashlib.sha256(name.encode()).hexdigest()
