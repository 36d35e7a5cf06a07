"""Step 1: what is planned, and the index of readings and masters."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "what is planned, and the index of readings"


def take(operations: Operations) -> None:
    """Make the first tables."""
    operations.create_table(
        "station",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("zone", sa.Text, nullable=False),
        sa.Column("originator", sa.Text, nullable=False),
        sa.Column("place", sa.Text, nullable=False),
    )
    operations.create_table(
        "publications",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("appears", sa.Text, nullable=False),
        sa.Column("author", sa.Text, nullable=False),
        sa.Column("publisher", sa.Text, nullable=False),
        sa.Column("year", sa.Integer),
    )
    operations.create_table(
        "programmes",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("publication", sa.Text, nullable=False),
        sa.Column("slot_s", sa.Double),
        sa.Column("window_shortest_s", sa.Double),
        sa.Column("window_longest_s", sa.Double),
        sa.Column("opening_words", sa.Text, nullable=False),
        sa.Column("closing_words", sa.Text, nullable=False),
        sa.Column("weekdays", sa.Text, nullable=False),
        sa.Column("air_times", sa.Text, nullable=False),
        sa.Column("serial", sa.Boolean, nullable=False),
    )
    operations.create_table(
        "readers",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("position", sa.Integer, nullable=False),
    )
    operations.create_table(
        "assignments",
        sa.Column("position", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("programme_key", sa.Text, sa.ForeignKey("programmes.key"), nullable=False),
        sa.Column("issue_date", sa.Date, nullable=False),
        sa.Column("air_date", sa.Date),
        sa.Column("readers", sa.Text, nullable=False),
        sa.Column("part", sa.Integer),
    )
    operations.create_table(
        "readings",
        sa.Column("reading_id", sa.Text, primary_key=True),
        sa.Column("programme_key", sa.Text, nullable=False),
        sa.Column("programme_title", sa.Text, nullable=False),
        sa.Column("publication", sa.Text, nullable=False),
        sa.Column("issue_date", sa.Date, nullable=False),
        sa.Column("readers", sa.Text, nullable=False),
        sa.Column("air_date", sa.Date),
        sa.Column("folder", sa.Text, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("takes", sa.Integer, nullable=False),
        sa.Column("duration_s", sa.Double, nullable=False),
    )
    operations.create_table(
        "masters",
        sa.Column(
            "reading_id",
            sa.Text,
            sa.ForeignKey("readings.reading_id", ondelete="CASCADE"),
            primary_key=True,
        ),
        sa.Column("kind", sa.Text, primary_key=True),
        sa.Column("path", sa.Text, nullable=False),
        sa.Column("bytes", sa.BigInteger, nullable=False),
        sa.Column("sha256", sa.Text, nullable=False),
        sa.Column("facts", sa.Text, nullable=False),
    )
    for table, column in (
        ("assignments", "programme_key"),
        ("assignments", "air_date"),
        ("readings", "programme_key"),
        ("readings", "issue_date"),
        ("readings", "air_date"),
    ):
        operations.create_index(f"ix_{table}_{column}", table, [column])
