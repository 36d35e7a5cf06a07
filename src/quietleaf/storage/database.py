"""The database: what is planned, and an index of the reading folders. SQLite or PostgreSQL."""

from __future__ import annotations

import json
import sqlite3
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Any, Self

from sqlalchemy import (
    Connection,
    Engine,
    Select,
    create_engine,
    delete,
    event,
    func,
    insert,
    select,
    update,
)
from sqlalchemy.engine import make_url
from sqlalchemy.engine.interfaces import IsolationLevel
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError

from quietleaf.booth.reading import ReadingState
from quietleaf.errors import Conflict, Invalid, NotFound, Unavailable
from quietleaf.planning.message import Message
from quietleaf.planning.station import Station
from quietleaf.storage import rows
from quietleaf.storage.account_tables import AccountTables
from quietleaf.storage.disk import refusing
from quietleaf.storage.factor_tables import FactorTables
from quietleaf.storage.index_rows import ReadingRow
from quietleaf.storage.person_tables import PersonTables, erased_sums, without_erased
from quietleaf.storage.plan_tables import PlanTables
from quietleaf.storage.schema import tables
from quietleaf.storage.schema.steps import take_next_step
from quietleaf.storage.tokens import Token, TokenPurpose

FILE = "quietleaf.sqlite"
_BUSY_WAIT_S = 10.0
_ROWS_AT_ONCE = 500
_POSTGRES_LOCK = 0x71756C66
"""A number of our own: who writes holds it until the transaction ends."""


def database_url(data: Path, url: str = "") -> str:
    """Give the URL of a station's database: its own, or SQLite in the data folder.

    Examples
    --------
    >>> database_url(Path("station"))
    'sqlite:///station/quietleaf.sqlite'
    """
    return url or f"sqlite:///{data / FILE}"


class Database:
    """A station's database; made and brought up to date when it is opened.

    Use it as a context, or ``close`` it. Any thread may ask.

    Attributes
    ----------
    accounts : AccountTables
        Accounts, their sessions and the audit list.
    people : PersonTables
        What is kept under one person's name.
    factors : FactorTables
        Second factors and recovery codes.

    Parameters
    ----------
    url : str
        ``sqlite:///path`` or ``postgresql://user@host/name``.

    Raises
    ------
    Invalid
        If the URL is neither, the driver is not installed, or a newer Quietleaf used it.
    Unavailable
        If the database does not answer.
    """

    def __init__(self, url: str) -> None:
        self._engine = _engine(url)
        self.accounts = AccountTables(self._asking, self._writing)
        self.people = PersonTables(self._asking, self._writing)
        self._plan = PlanTables(self._asking, self._writing)
        self.factors = FactorTables(self._asking, self._writing)
        try:
            taken = True
            while taken:
                with self._writing() as connection:
                    taken = take_next_step(connection)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Let go of every connection."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def save_station(self, station: Station) -> None:
        """Keep all that is planned, in place of what was planned before, in one transaction.

        Raises
        ------
        Invalid
            If two things have one name, or an assignment names no programme.
        """
        self._plan.save(station)

    def load_station(self) -> Station:
        """Give all that is planned.

        Raises
        ------
        NotFound
            If nothing was ever planned here.
        """
        return self._plan.load()

    def change_station(self, change: Callable[[Station], Station]) -> Station:
        """Change what is planned, in one transaction: two who change it take turns.

        Parameters
        ----------
        change : callable
            Gives the station as it shall be for the station as it is; whatever it refuses leaves
            all as it was.

        Raises
        ------
        NotFound
            If nothing was ever planned here.
        Invalid
            If a name would stand for nothing, or for two things.
        """
        return self._plan.change(change)

    def add_token(self, token: Token) -> None:
        """Keep what lets somebody in."""
        with self._writing() as connection:
            connection.execute(insert(tables.TOKENS), [rows.row_of_token(token)])

    def token(self, sha256: str) -> Token:
        """Find a token by its checksum, live or not.

        Raises
        ------
        NotFound
            If none was ever made.
        """
        table = tables.TOKENS
        with self._asking() as connection:
            found = connection.execute(select(table).where(table.c.sha256 == sha256)).first()
        if found is None:
            raise NotFound(
                "token/unknown",
                "This address lets nobody in: no such link was made at this station. Ask the desk "
                "for a new one.",
            )
        return rows.token_of_row(found)

    def tokens(
        self,
        *,
        purpose: TokenPurpose,
        booth: str | None = None,
        reader: str | None = None,
        reading: str | None = None,
        account: str | None = None,
    ) -> tuple[Token, ...]:
        """Give the tokens of a purpose that meet all that is said, live and ended, oldest first."""
        table = tables.TOKENS
        query = select(table).where(table.c.purpose == purpose)
        for column, wanted in (
            (table.c.booth, booth),
            (table.c.reader, reader),
            (table.c.reading, reading),
            (table.c.account, account),
        ):
            if wanted is not None:
                query = query.where(column == wanted)
        with self._asking() as connection:
            found = connection.execute(query.order_by(table.c.made_at)).all()
        return tuple(rows.token_of_row(row) for row in found)

    def end_token(self, sha256: str, at: datetime) -> bool:
        """End a token; of two who end it, one is told True."""
        table = tables.TOKENS
        with self._writing() as connection:
            ended = connection.execute(
                update(table)
                .where(table.c.sha256 == sha256, table.c.ended_at.is_(None))
                .values(ended_at=rows.text_of_moment(at))
            )
        return bool(ended.rowcount)

    def add_message(self, message: Message) -> None:
        """Keep a message to the desk."""
        with self._writing() as connection:
            connection.execute(insert(tables.MESSAGES), [rows.row_of_message(message)])

    def message(self, message_id: str) -> Message:
        """Give one message.

        Raises
        ------
        NotFound
            If there is none of that id.
        """
        table = tables.MESSAGES
        with self._asking() as connection:
            found = connection.execute(select(table).where(table.c.message_id == message_id))
            row = found.first()
        if row is None:
            raise NotFound("message/unknown", "There is no such message to the desk.")
        return rows.message_of_row(row)

    def messages(
        self, *, open_only: bool = False, since: datetime | None = None
    ) -> tuple[Message, ...]:
        """Give messages to the desk, oldest first: those not seen yet, or from a moment on."""
        table = tables.MESSAGES
        query = select(table)
        if open_only:
            query = query.where(table.c.seen_at.is_(None))
        if since is not None:
            query = query.where(table.c.at >= rows.text_of_moment(since))
        with self._asking() as connection:
            found = connection.execute(query.order_by(table.c.at, table.c.message_id)).all()
        return tuple(rows.message_of_row(row) for row in found)

    def see_message(self, message_id: str, at: datetime) -> None:
        """Keep when a message was first seen."""
        table = tables.MESSAGES
        with self._writing() as connection:
            connection.execute(
                update(table)
                .where(table.c.message_id == message_id, table.c.seen_at.is_(None))
                .values(seen_at=rows.text_of_moment(at))
            )

    def pace(self, reader: str) -> float | None:
        """Give a reader's pace in words a minute; None where none was measured."""
        table = tables.PACES
        with self._asking() as connection:
            found = connection.execute(
                select(table.c.words_per_min).where(table.c.reader == reader)
            )
            pace: float | None = found.scalar()
        return pace

    def keep_pace(self, reader: str, words_per_min: float, at: datetime) -> None:
        """Keep a reader's pace, in place of the one before."""
        table = tables.PACES
        with self._writing() as connection:
            connection.execute(delete(table).where(table.c.reader == reader))
            connection.execute(
                insert(table),
                [
                    {
                        "reader": reader,
                        "words_per_min": words_per_min,
                        "measured_at": rows.text_of_moment(at),
                    }
                ],
            )

    def index_reading(self, row: ReadingRow) -> None:
        """Keep what a reading's folder says, in place of what was known of it."""
        with self._writing() as connection:
            readings = tables.READINGS
            connection.execute(delete(readings).where(readings.c.reading_id == row.reading_id))
            _insert_readings(connection, [row])

    def replace_index(self, index: Iterable[ReadingRow]) -> None:
        """Keep these readings and no others, in one transaction.

        Raises
        ------
        Invalid
            If two have one id.
        """
        with self._writing() as connection:
            connection.execute(delete(tables.READINGS))
            _insert_readings(connection, list(index))

    def readings(
        self,
        *,
        programme_key: str | None = None,
        issue_date: date | None = None,
        air_date: date | None = None,
        assignment_key: str | None = None,
        reader: str | None = None,
        state: ReadingState | None = None,
    ) -> tuple[ReadingRow, ...]:
        """Give the readings that meet all that is said, by issue date, programme and id."""
        query = _met(
            select(tables.READINGS),
            reader,
            programme_key=programme_key,
            issue_date=issue_date,
            air_date=air_date,
            assignment_key=assignment_key,
            state=state,
        )
        found = self._readings(query)
        return tuple(row for row in found if reader is None or reader in row.readers)

    def reading_ids(
        self,
        *,
        programme_key: str | None = None,
        air_date: date | None = None,
        reader: str | None = None,
        state: ReadingState | None = None,
    ) -> tuple[str, ...]:
        """Give the ids of readings that meet all that is said, the latest issue first.

        For lists that come in pages: `readings_of` gives those of one page.
        """
        table = tables.READINGS
        key = (table.c.issue_date, table.c.programme_key, table.c.reading_id)
        query = _met(
            select(*key, table.c.readers),
            reader,
            programme_key=programme_key,
            air_date=air_date,
            state=state,
        )
        with self._asking() as connection:
            found = connection.execute(query).all()
        named = found if reader is None else [row for row in found if reader in json.loads(row[3])]
        return tuple(row[2] for row in sorted(named, key=lambda row: row[:3], reverse=True))

    def came_in(self, since: datetime, most: int) -> tuple[ReadingRow, ...]:
        """Give the readings that were handed in after a moment, the last first, so many at most."""
        table = tables.READINGS
        query = (
            select(table.c.reading_id)
            .where(table.c.came_in_at > rows.text_of_moment(since))
            .order_by(table.c.came_in_at.desc(), table.c.reading_id)
            .limit(most)
        )
        with self._asking() as connection:
            ids = [row.reading_id for row in connection.execute(query)]
        return self.readings_of(ids)

    def readings_of(self, ids: Sequence[str]) -> tuple[ReadingRow, ...]:
        """Give the readings of these ids, in their order; one that is gone is left out."""
        table = tables.READINGS
        found = self._readings(select(table).where(table.c.reading_id.in_(ids)))
        of = {row.reading_id: row for row in found}
        return tuple(of[one] for one in ids if one in of)

    def read_s(self, since: date) -> float:
        """Say how many seconds were read of issues from a day on."""
        table = tables.READINGS
        query = select(func.sum(table.c.duration_s)).where(table.c.issue_date >= since)
        with self._asking() as connection:
            return float(connection.execute(query).scalar() or 0.0)

    def reading(self, reading_id: str) -> ReadingRow:
        """Give one reading.

        Raises
        ------
        NotFound
            If the index does not have it.
        """
        table = tables.READINGS
        found = self._readings(select(table).where(table.c.reading_id == reading_id))
        if not found:
            raise NotFound(
                "database/no-reading",
                f"There is no reading {reading_id} in the index. If its folder is there, "
                "quietleaf rebuild finds it.",
            )
        return found[0]

    def _readings(self, query: Select[Any]) -> tuple[ReadingRow, ...]:
        readings, masters = tables.READINGS, tables.MASTERS
        ids = query.with_only_columns(readings.c.reading_id)
        with self._asking() as connection:
            found = connection.execute(query).all()
            made = connection.execute(select(masters).where(masters.c.reading_id.in_(ids))).all()
        made_of = defaultdict(list)
        # Sorted here, not by the database: each sorts letters by rules of its own.
        for master in sorted(made, key=lambda row: row.kind):
            made_of[master.reading_id].append(master)
        read = [rows.reading_of_row(row, made_of[row.reading_id]) for row in found]
        return tuple(
            sorted(read, key=lambda row: (row.issue_date, row.programme_key, row.reading_id))
        )

    def copy_into(self, other: Database) -> None:
        """Copy every row as it is at one moment into a database that has no station yet.

        Raises
        ------
        Conflict
            If the other has a station.
        """
        with self._asking("REPEATABLE READ") as reading, other._writing() as writing:
            if writing.execute(select(tables.STATION)).first() is not None:
                raise Conflict(
                    "database/taken",
                    "The database has a station already, and nothing is written over it.",
                )
            for table in tables.METADATA.sorted_tables:
                if table is tables.SCHEMA_STEPS:
                    continue
                found = reading.execute(select(table)).mappings()
                for rows_now in found.partitions(_ROWS_AT_ONCE):
                    writing.execute(insert(table), [dict(row) for row in rows_now])

    @contextmanager
    def _asking(self, isolation: IsolationLevel | None = None) -> Iterator[Connection]:
        with _answering(), self._engine.connect() as connection:
            if isolation is not None and connection.dialect.name == "postgresql":
                # SQLite gives no less than one moment.
                connection.execution_options(isolation_level=isolation)
            with connection.begin():
                yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        """Write in a transaction; writers take turns, so that none finds the ground changed."""
        with _answering(), self._engine.connect() as connection:
            writing = connection.execution_options(quietleaf_writes=True)
            with writing.begin():
                if writing.dialect.name == "postgresql":
                    writing.execute(select(func.pg_advisory_xact_lock(_POSTGRES_LOCK)))
                yield writing


def _met(query: Select[Any], reader: str | None, **wanted: Any) -> Select[Any]:
    """Ask for the readings that meet all that is said; of a reader, for those that look like it.

    The list of readers is JSON: what differs from the name by capitals is left out afterwards.
    """
    columns = tables.READINGS.c
    for name, value in wanted.items():
        if value is not None:
            query = query.where(columns[name] == value)
    if reader is not None:
        query = query.where(columns.readers.contains(rows.text_of_name(reader), autoescape=True))
    return query


def _insert_readings(connection: Connection, index: list[ReadingRow]) -> None:
    named = without_erased(index, erased_sums(connection))
    if named:
        connection.execute(insert(tables.READINGS), [rows.row_of_reading(row) for row in named])
    masters = [rows.row_of_master(row.reading_id, made) for row in index for made in row.masters]
    if masters:
        connection.execute(insert(tables.MASTERS), masters)


@contextmanager
def _answering() -> Iterator[None]:
    try:
        yield
    except IntegrityError as fault:
        raise Invalid(
            "database/rows",
            "What was to be kept names something twice, or something that is not there "
            f"({fault.orig}). All is as it was before.",
        ) from fault
    except DBAPIError as fault:
        raise Unavailable(
            "database/away",
            f"The database did not do what was asked ({fault.orig}). "
            "See that it is running and has room, then try again.",
        ) from fault


def _engine(url: str) -> Engine:
    try:
        parsed = make_url(url)
        if parsed.drivername == "postgresql":
            parsed = parsed.set(drivername="postgresql+psycopg")
        if parsed.drivername not in ("sqlite", "postgresql+psycopg"):
            raise ArgumentError
        if parsed.drivername == "sqlite" and parsed.database:
            folder = Path(parsed.database).parent
            with refusing(folder):
                folder.mkdir(parents=True, exist_ok=True)
        # What was to be kept is nobody's business where a fault is told.
        engine = create_engine(parsed, hide_parameters=True)
    except (ArgumentError, NoSuchModuleError):
        raise Invalid(
            "database/url",
            "A database is named like sqlite:///station/quietleaf.sqlite or "
            f"postgresql://user@host/name; {url!r} came.",
        ) from None
    except ModuleNotFoundError:
        raise Invalid(
            "database/driver",
            "PostgreSQL needs the extra quietleaf[postgres], which is not installed here.",
        ) from None
    if parsed.drivername == "sqlite":
        _prepare_sqlite(engine)
    return engine


def _prepare_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def _connected(connection: Any, _record: Any) -> None:
        # The driver must not begin transactions by itself: it would leave table changes outside.
        connection.isolation_level = None
        try:
            connection.execute(f"PRAGMA busy_timeout={int(_BUSY_WAIT_S * 1000)}").close()
            _write_ahead(connection)
            for pragma in ("synchronous=FULL", "foreign_keys=ON"):
                connection.execute(f"PRAGMA {pragma}").close()
        except BaseException:
            connection.close()
            raise

    @event.listens_for(engine, "begin")
    def _began(connection: Connection) -> None:
        writes = connection.get_execution_options().get("quietleaf_writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _write_ahead(connection: Any) -> None:
    """Change to the journal that lets readers read on, when nobody else is doing so."""
    end = time.monotonic() + _BUSY_WAIT_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL").close()
            return
        except sqlite3.OperationalError as fault:
            # This one does not wait for its turn by itself, whatever the time-out.
            busy = fault.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > end:
                raise
        time.sleep(0.01)
