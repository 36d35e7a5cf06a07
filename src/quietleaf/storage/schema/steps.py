"""Numbered steps, forward only, each in a transaction, the same for SQLite and PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from alembic.migration import MigrationContext
from alembic.operations import Operations
from sqlalchemy import Connection, func, insert, select, text

from quietleaf.errors import Invalid
from quietleaf.storage.schema import step_0001
from quietleaf.storage.schema.tables import SCHEMA_STEPS

_POSTGRES_LOCK = 0x71756C66
"""A number of our own, so that two that start at once take the steps one after the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One change of the tables."""

    number: int
    name: str
    take: Callable[[Operations], None]


STEPS = (Step(number=1, name=step_0001.NAME, take=step_0001.take),)


def take_next_step(connection: Connection, steps: tuple[Step, ...] = STEPS) -> bool:
    """Take the first step that has not been taken, in the connection's transaction.

    Returns
    -------
    bool
        False if all had been taken.

    Raises
    ------
    Invalid
        If a newer Quietleaf has taken steps that this one does not know.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _POSTGRES_LOCK})
    SCHEMA_STEPS.create(connection, checkfirst=True)
    taken = connection.execute(select(func.max(SCHEMA_STEPS.c.number))).scalar() or 0
    if taken > steps[-1].number:
        raise Invalid(
            "database/newer",
            f"This database has been used by a newer Quietleaf (step {taken}; this one knows "
            f"{steps[-1].number}). Start that one.",
        )
    for step in steps:
        if step.number > taken:
            step.take(Operations(MigrationContext.configure(connection)))
            connection.execute(insert(SCHEMA_STEPS).values(number=step.number, name=step.name))
            return True
    return False
