"""The tables as they are after the last step; the steps make them, this file queries them."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Date,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    Table,
    Text,
)

METADATA = MetaData()

SCHEMA_STEPS = Table(
    "schema_steps",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
)
"""Which steps have been taken."""

STATION = Table(
    "station",
    METADATA,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("zone", Text, nullable=False),
    Column("originator", Text, nullable=False),
    Column("place", Text, nullable=False),
)
"""One row, id 1."""

PUBLICATIONS = Table(
    "publications",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("position", Integer, nullable=False),
    Column("title", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("appears", Text, nullable=False),
    Column("author", Text, nullable=False),
    Column("publisher", Text, nullable=False),
    Column("year", Integer),
)

PROGRAMMES = Table(
    "programmes",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("position", Integer, nullable=False),
    Column("title", Text, nullable=False),
    Column("publication", Text, nullable=False),
    Column("slot_s", Double),
    Column("window_shortest_s", Double),
    Column("window_longest_s", Double),
    Column("opening_words", Text, nullable=False),
    Column("closing_words", Text, nullable=False),
    Column("weekdays", Text, nullable=False),
    Column("air_times", Text, nullable=False),
    Column("serial", Boolean, nullable=False),
)
"""``weekdays`` and ``air_times`` are lists as JSON."""

READERS = Table(
    "readers",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("position", Integer, nullable=False),
)

ASSIGNMENTS = Table(
    "assignments",
    METADATA,
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("programme_key", Text, ForeignKey("programmes.key"), nullable=False, index=True),
    Column("issue_date", Date, nullable=False),
    Column("air_date", Date, index=True),
    Column("readers", Text, nullable=False),
    Column("part", Integer),
)
"""``readers`` is a list as JSON."""

READINGS = Table(
    "readings",
    METADATA,
    Column("reading_id", Text, primary_key=True),
    Column("programme_key", Text, nullable=False, index=True),
    Column("programme_title", Text, nullable=False),
    Column("publication", Text, nullable=False),
    Column("issue_date", Date, nullable=False, index=True),
    Column("readers", Text, nullable=False),
    Column("air_date", Date, index=True),
    Column("folder", Text, nullable=False),
    Column("state", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("takes", Integer, nullable=False),
    Column("duration_s", Double, nullable=False),
)
"""An index of the folders: no more than they say. ``readers`` is a list as JSON."""

MASTERS = Table(
    "masters",
    METADATA,
    Column(
        "reading_id",
        Text,
        ForeignKey("readings.reading_id", ondelete="CASCADE"),
        primary_key=True,
    ),
    Column("kind", Text, primary_key=True),
    Column("path", Text, nullable=False),
    Column("bytes", BigInteger, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("facts", Text, nullable=False),
)
"""An index too: what each folder's ``masters/made.json`` says. ``facts`` is JSON."""
