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
    false,
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
    Column("tidy_list", Text, nullable=False, server_default="[]"),
    Column("outlets", Text, nullable=False, server_default="[]"),
    Column("plan_number", Integer, nullable=False, server_default="0"),
)
"""One row, id 1. ``tidy_list`` is a list as JSON, ``outlets`` one of objects; each change of the
plan raises ``plan_number``."""

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
    Column("review", Text, nullable=False, server_default="things to hear"),
    Column("other_reviewer", Boolean, nullable=False, server_default=false()),
)
"""``weekdays`` and ``air_times`` are lists as JSON."""

READERS = Table(
    "readers",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("position", Integer, nullable=False),
    Column("retired", Boolean, nullable=False, server_default=false()),
)

ASSIGNMENTS = Table(
    "assignments",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("position", Integer, nullable=False),
    Column("programme_key", Text, ForeignKey("programmes.key"), nullable=False, index=True),
    Column("issue_date", Date, nullable=False),
    Column("air_date", Date, index=True),
    Column("readers", Text, nullable=False),
    Column("part", Integer),
    Column("booth", Text),
    Column("reads_at", Text),
)
"""``readers`` is a list as JSON; ``reads_at`` is ISO 8601 in UTC, as every moment here."""

BOOTHS = Table(
    "booths",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("position", Integer, nullable=False),
    Column("name", Text, nullable=False),
)

TOKENS = Table(
    "tokens",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("purpose", Text, nullable=False),
    Column("booth", Text, index=True),
    Column("reader", Text, index=True),
    Column("reading", Text),
    Column("made_at", Text, nullable=False),
    Column("expires_at", Text),
    Column("ended_at", Text),
    Column("account", Text, index=True),
    Column("name", Text, nullable=False, server_default=""),
    Column("scopes", Text, nullable=False, server_default="[]"),
    Column("used_at", Text),
)
"""Who may enter: never the secret itself. ``scopes`` is a list as JSON."""

ACCOUNTS = Table(
    "accounts",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("folded", Text, nullable=False, index=True, unique=True),
    Column("roles", Text, nullable=False),
    Column("password", Text, nullable=False),
    Column("made_at", Text, nullable=False),
    Column("ended_at", Text),
)
"""``folded`` is the name without capitals; ``roles`` a list as JSON."""

FACTORS = Table(
    "factors",
    METADATA,
    Column("account", Text, primary_key=True),
    Column("secret", Text, nullable=False),
    Column("begun_at", Text, nullable=False),
    Column("confirmed_at", Text),
    Column("last_step", BigInteger, nullable=False),
)

RECOVERY_CODES = Table(
    "recovery_codes",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("account", Text, nullable=False, index=True),
    Column("used_at", Text),
)
"""Checksums alone."""

DEEDS = Table(
    "deeds",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("at", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("about", Text, nullable=False),
    Column("token", Text, nullable=False, server_default=""),
)
"""The audit list: only ever added to."""

ERASED = Table(
    "erased",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("at", Text, nullable=False),
)
"""People who were erased: the checksum of the name, and when."""

MESSAGES = Table(
    "messages",
    METADATA,
    Column("message_id", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("booth", Text),
    Column("reader", Text, nullable=False),
    Column("assignment_key", Text),
    Column("reading_id", Text),
    Column("text", Text, nullable=False),
    Column("seen_at", Text, index=True),
)

PACES = Table(
    "paces",
    METADATA,
    Column("reader", Text, primary_key=True),
    Column("words_per_min", Double, nullable=False),
    Column("measured_at", Text, nullable=False),
)

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
    Column("assignment_key", Text, index=True),
    Column("hand_in", Text),
    Column("came_in_at", Text, index=True),
)
"""An index of the folders: no more than they say. ``readers`` is a list as JSON, ``hand_in`` an
object."""

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
