"""Step 2: booths, tokens, messages, paces; assignments get a key, a booth and a time."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "booths and who may enter, messages to the desk, keys of assignments"


def take(operations: Operations) -> None:
    """Make the new tables, and give every assignment that is there its key."""
    operations.create_table(
        "booths",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
    )
    operations.add_column(
        "station", sa.Column("tidy_list", sa.Text, nullable=False, server_default="[]")
    )
    _rebuild_assignments(operations)
    operations.create_table(
        "tokens",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("purpose", sa.Text, nullable=False),
        sa.Column("booth", sa.Text),
        sa.Column("reader", sa.Text),
        sa.Column("reading", sa.Text),
        sa.Column("made_at", sa.Text, nullable=False),
        sa.Column("expires_at", sa.Text),
        sa.Column("ended_at", sa.Text),
    )
    operations.create_table(
        "messages",
        sa.Column("message_id", sa.Text, primary_key=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("booth", sa.Text),
        sa.Column("reader", sa.Text, nullable=False),
        sa.Column("assignment_key", sa.Text),
        sa.Column("reading_id", sa.Text),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("seen_at", sa.Text),
    )
    operations.create_table(
        "paces",
        sa.Column("reader", sa.Text, primary_key=True),
        sa.Column("words_per_min", sa.Double, nullable=False),
        sa.Column("measured_at", sa.Text, nullable=False),
    )
    operations.add_column("readings", sa.Column("assignment_key", sa.Text))
    operations.add_column("readings", sa.Column("hand_in", sa.Text))
    for table, column in (
        ("tokens", "reader"),
        ("tokens", "booth"),
        ("messages", "seen_at"),
        ("readings", "assignment_key"),
    ):
        operations.create_index(f"ix_{table}_{column}", table, [column])


def _rebuild_assignments(operations: Operations) -> None:
    """Make the table anew with its key, since SQLite cannot give a table another primary key."""
    before = sa.table(
        "assignments",
        sa.column("position", sa.Integer),
        sa.column("programme_key", sa.Text),
        sa.column("issue_date", sa.Date),
        sa.column("air_date", sa.Date),
        sa.column("readers", sa.Text),
        sa.column("part", sa.Integer),
    )
    found = operations.get_bind().execute(sa.select(before).order_by(before.c.position))
    rows = [dict(row._mapping) for row in found]
    operations.drop_table("assignments")
    assignments = operations.create_table(
        "assignments",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("programme_key", sa.Text, sa.ForeignKey("programmes.key"), nullable=False),
        sa.Column("issue_date", sa.Date, nullable=False),
        sa.Column("air_date", sa.Date),
        sa.Column("readers", sa.Text, nullable=False),
        sa.Column("part", sa.Integer),
        sa.Column("booth", sa.Text),
        sa.Column("reads_at", sa.Text),
    )
    taken: set[str] = set()
    for row in rows:
        first = key = f"{row['programme_key']}-{row['air_date'] or row['issue_date']}"
        number = 1
        while key in taken:
            number += 1
            key = f"{first}-{number}"
        taken.add(key)
        row["key"] = key
    if rows:
        operations.bulk_insert(assignments, rows)
    operations.create_index("ix_assignments_programme_key", "assignments", ["programme_key"])
    operations.create_index("ix_assignments_air_date", "assignments", ["air_date"])
