"""Numbered steps, forward only, each in a transaction, the same for SQLite and PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from alembic.migration import MigrationContext
from alembic.operations import Operations
from sqlalchemy import Connection, func, insert, select

from quietleaf.errors import Invalid
from quietleaf.storage.schema import (
    step_0001,
    step_0002,
    step_0003,
    step_0004,
    step_0005,
    step_0006,
    step_0007,
    step_0008,
    step_0009,
    step_0010,
    step_0011,
    step_0012,
)
from quietleaf.storage.schema.tables import SCHEMA_STEPS


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One change of the tables."""

    number: int
    name: str
    take: Callable[[Operations], None]


STEPS = (
    Step(number=1, name=step_0001.NAME, take=step_0001.take),
    Step(number=2, name=step_0002.NAME, take=step_0002.take),
    Step(number=3, name=step_0003.NAME, take=step_0003.take),
    Step(number=4, name=step_0004.NAME, take=step_0004.take),
    Step(number=5, name=step_0005.NAME, take=step_0005.take),
    Step(number=6, name=step_0006.NAME, take=step_0006.take),
    Step(number=7, name=step_0007.NAME, take=step_0007.take),
    Step(number=8, name=step_0008.NAME, take=step_0008.take),
    Step(number=9, name=step_0009.NAME, take=step_0009.take),
    Step(number=10, name=step_0010.NAME, take=step_0010.take),
    Step(number=11, name=step_0011.NAME, take=step_0011.take),
    Step(number=12, name=step_0012.NAME, take=step_0012.take),
)


def take_next_step(connection: Connection, steps: tuple[Step, ...] = STEPS) -> bool:
    """Take the first step that has not been taken, in the connection's transaction.

    Two that start at once must take turns: the transaction is one that writes.

    Returns
    -------
    bool
        False if all had been taken.

    Raises
    ------
    Invalid
        If a newer Quietleaf has taken steps that this one does not know.
    """
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
