"""One suite for every database: SQLite in a file, and PostgreSQL."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.operations import Operations
from sqlalchemy import Column, Connection, Integer, create_engine, inspect, text

from quietleaf.booth.reading import HandIn
from quietleaf.errors import Conflict, Invalid, NotFound, Unavailable
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.booth import Booth
from quietleaf.planning.message import Message
from quietleaf.planning.outlet import Outlet
from quietleaf.planning.programme import HOUR_SLOT_S, HOUR_WINDOW, Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import MasterRow, ReadingRow
from quietleaf.storage.schema import steps, tables
from quietleaf.storage.schema.steps import STEPS, Step
from quietleaf.storage.tokens import Token

PROGRAMME = Programme(
    key="harbour-morning",
    title="Harbour Morning",
    publication="The Harbour Lantern",
    slot_s=HOUR_SLOT_S,
    window=HOUR_WINDOW,
    opening_words="This is {programme}, read by {reader}.",
    closing_words="That was {programme} – “until tomorrow”.",
    weekdays=(0, 1, 3, 4),
    air_times=(time(9, 0), time(18, 30)),
)
REQUEST = Programme(
    key="one-listener",
    title="For one listener",
    publication="Kelp",
    slot_s=None,
    window=None,
    opening_words="",
    closing_words="",
    serial=True,
    review="whole",
    other_reviewer=True,
)
STATION = Station(
    name="Gull Quay Reading Service",
    note="Invented.",
    zone="Europe/London",
    originator="GULL QUAY",
    place="Gull Quay",
    publications=(
        Publication(key="lantern", title="The Harbour Lantern", kind="newspaper", appears="daily"),
        Publication(
            key="kelp", title="Kelp", kind="book", appears="once", author="O. Weir", year=1931
        ),
    ),
    programmes=(REQUEST, PROGRAMME),
    readers=("Zoë Quill", "Ada Lark", "Łucja Weir"),
    assignments=(
        Assignment(
            programme_key="harbour-morning",
            issue_date=date(2026, 11, 25),
            air_date=date(2026, 11, 26),
            readers=("Zoë Quill", "Ada Lark"),
            key="harbour-tonight",
            booth="attic",
            reads_at=datetime(2026, 11, 25, 14, 30, tzinfo=UTC),
        ),
        Assignment(
            programme_key="one-listener",
            issue_date=date(2026, 11, 24),
            air_date=None,
            part=3,
            key="one-listener-7",
        ),
    ),
    booths=(Booth(key="cellar", name="Cellar"), Booth(key="attic", name="Attic – “quiet”")),
    tidy_list=("Paper in the tray", "Headphones hung up"),
    outlets=(
        Outlet(key="telephone", form="telephone", loudness_lufs=-21.0, high_hz=3_400.0),
        Outlet(key="feed", form="mp3", loudness_lufs=-16.0, dual_mono=True),
    ),
)
MOMENT = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
WAVE = MasterRow(
    kind="wave",
    path="masters/harbour-morning.wav",
    bytes=5_000_000_000,
    sha256="ab" * 32,
    facts={"loudness_lufs": -23.0, "fits": None, "words": ["é", "–"]},
)
ROW = ReadingRow(
    reading_id="r7",
    programme_key="harbour-morning",
    programme_title="Harbour Morning",
    publication="The Harbour Lantern",
    issue_date=date(2026, 11, 25),
    readers=("Zoë Quill",),
    air_date=date(2026, 11, 26),
    folder="readings/harbour-morning/2026-11-25-r7",
    state="handed in",
    revision=3,
    takes=1,
    duration_s=3391.900000000001,
    assignment_key="harbour-tonight",
    hand_in=HandIn(place_page="7", recap="Zoë – “so far”.", tidied=("Paper in the tray",)),
    masters=(replace(WAVE, kind="plan", path="masters/plan.json", facts={}), WAVE),
)


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "sqlite":
        return database_url(tmp_path / "new" / "station")
    return str(request.getfixturevalue("postgres"))


@pytest.fixture
def database(url: str) -> Iterator[Database]:
    with Database(url) as opened:
        yield opened


def test_a_station_comes_back_as_it_was_saved(database: Database) -> None:
    with pytest.raises(NotFound, match="No station is set up here yet"):
        database.load_station()
    database.save_station(STATION)
    assert database.load_station() == STATION
    smaller = replace(STATION, readers=(), assignments=(), publications=(), name="Other")
    database.save_station(smaller)
    assert database.load_station() == smaller


def test_a_station_that_does_not_hold_together_leaves_the_old_one(database: Database) -> None:
    database.save_station(STATION)
    twice = replace(STATION, name="Other", readers=("Ada", "Ada"))
    with pytest.raises(Invalid, match="names something twice"):
        database.save_station(twice)
    orphan = replace(STATION, name="Other", programmes=())
    with pytest.raises(Invalid, match="names something twice"):
        database.save_station(orphan)
    assert database.load_station() == STATION


def test_a_change_keeps_the_rest_and_gives_new_assignments_their_key(database: Database) -> None:
    database.save_station(STATION)
    new = Assignment(
        programme_key="harbour-morning", issue_date=date(2026, 11, 26), air_date=date(2026, 11, 27)
    )
    after = database.change_station(
        lambda station: replace(station, assignments=(*station.assignments, new))
    )
    assert after.assignments[-1] == replace(new, key="harbour-morning-2026-11-27")
    assert database.load_station() == after
    assert after.assignments[:-1] == STATION.assignments


CHANGES: dict[str, Callable[[Station], Station]] = {
    "one more at the end": lambda old: replace(old, readers=(*old.readers, "Noa Reed")),
    "one in the middle gone": lambda old: replace(
        old,
        readers=(old.readers[0], *old.readers[2:]),
        assignments=(replace(old.assignments[0], readers=("Zoë Quill",)), *old.assignments[1:]),
    ),
    "one in the middle otherwise": lambda old: replace(
        old,
        assignments=(replace(old.assignments[0], booth=None, reads_at=None), *old.assignments[1:]),
    ),
    "the first under another name": lambda old: replace(
        old,
        readers=("Zoë Marsh", *old.readers[1:]),
        assignments=(replace(old.assignments[0], readers=("Zoë Marsh",)), *old.assignments[1:]),
    ),
    "the first retired": lambda old: replace(
        old, readers=old.readers[1:], retired=(old.readers[0],)
    ),
    "and back again": lambda old: replace(old, readers=(*old.readers, *old.retired), retired=()),
    "turned about": lambda old: replace(
        old, programmes=old.programmes[::-1], assignments=old.assignments[::-1]
    ),
    "a programme that others hang on": lambda old: replace(
        old, programmes=(replace(PROGRAMME, title="Harbour Evening"), *old.programmes[1:])
    ),
    "one before the others": lambda old: replace(
        old, booths=(Booth(key="roof", name="Roof"), *old.booths)
    ),
    "what it says of itself": lambda old: replace(old, name="Gull Quay", tidy_list=()),
    "a programme gone with its turn": lambda old: replace(
        old,
        programmes=tuple(one for one in old.programmes if one.key != "one-listener"),
        assignments=tuple(one for one in old.assignments if one.programme_key != "one-listener"),
    ),
}


def test_who_has_read_the_plan_sees_each_change_by_whomever(database: Database, url: str) -> None:
    database.save_station(STATION)
    with Database(url) as other:
        assert other.load_station() == STATION
        for what, change in CHANGES.items():
            expected = change(database.load_station())
            assert database.change_station(change) == expected, what
            # One that had read the plan before, and one that reads it from the rows alone.
            assert other.load_station() == expected, what
            with Database(url) as fresh:
                assert fresh.load_station() == expected, what
        other.save_station(STATION)
        assert database.load_station() == STATION


def test_a_plan_that_did_not_change_is_not_read_again(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    database.save_station(STATION)
    first = database.load_station()
    database.change_station(lambda station: replace(station, name=station.name))
    assert database.load_station().programmes is first.programmes


def test_readings_are_found_by_reader_and_state(database: Database) -> None:
    other = replace(ROW, reading_id="r8", readers=("ZOË QUILL", "100% Ada"), state="cleared")
    database.replace_index([ROW, other])
    assert database.readings(reader="Zoë Quill") == (ROW,)
    assert database.readings(reader="100% Ada") == (other,)
    assert database.readings(reader="Quill") == ()
    assert database.readings(state="cleared") == (other,)
    assert database.reading_ids() == ("r8", "r7")
    assert database.reading_ids(reader="Zoë Quill") == ("r7",)
    assert database.reading_ids(reader="100% Ada", state="handed in") == ()
    assert database.readings_of(["r8", "gone", "r7"]) == (other, ROW)


def test_who_was_erased_does_not_come_back_into_the_index(database: Database) -> None:
    database.save_station(STATION)
    database.index_reading(replace(ROW, readers=("Zoë Quill", "Ada Lark")))
    database.keep_pace("Zoë Quill", 150.0, MOMENT)
    for _ in range(2):  # asked for again, it does no more
        database.people.remember_erased("Zoë Quill", MOMENT)
        database.people.erase("Zoë Quill")
    assert database.reading("r7").readers == ("a former reader", "Ada Lark")
    database.replace_index([ROW])
    assert database.reading("r7").readers == ("a former reader",)
    assert database.pace("Zoë Quill") is None
    assert database.people.is_erased("Zoë Quill")
    assert not database.people.is_erased("Ada Lark")


def test_a_change_that_is_refused_leaves_all_as_it_was(database: Database) -> None:
    database.save_station(STATION)
    with pytest.raises(Invalid, match="not among the station's booths"):
        database.change_station(lambda station: replace(station, booths=()))
    assert database.load_station() == STATION


def test_changes_at_one_time_are_all_kept(database: Database) -> None:
    database.save_station(STATION)

    def add(number: int) -> None:
        database.change_station(
            lambda station: replace(station, readers=(*station.readers, f"Reader {number}"))
        )

    threads = [threading.Thread(target=add, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(database.load_station().readers) >= {f"Reader {number}" for number in range(8)}


def test_all_rows_are_copied_into_a_database_that_is_empty(
    database: Database, tmp_path: Path
) -> None:
    database.save_station(STATION)
    database.index_reading(ROW)
    with Database(database_url(tmp_path / "copy")) as copy:
        database.copy_into(copy)
        assert copy.load_station() == STATION
        assert copy.readings() == (ROW,)
        with pytest.raises(Conflict, match="nothing is written over"):
            database.copy_into(copy)


def test_a_copy_goes_back_into_any_database(database: Database, tmp_path: Path) -> None:
    with Database(database_url(tmp_path / "copy")) as copy:
        copy.save_station(STATION)
        copy.index_reading(ROW)
        copy.copy_into(database)
    assert (database.load_station(), database.readings()) == (STATION, (ROW,))


def test_a_token_is_found_by_its_checksum_and_ends_once(database: Database) -> None:
    link = Token(
        sha256="ab" * 32,
        purpose="link",
        reader="Zoë Quill",
        made_at=MOMENT,
        expires_at=MOMENT + timedelta(days=14),
    )
    booth = Token(sha256="cd" * 32, purpose="booth", booth="attic", made_at=MOMENT)
    database.add_token(link)
    database.add_token(booth)
    assert database.token("ab" * 32) == link
    assert database.tokens(purpose="link") == (link,)
    assert database.tokens(purpose="booth", booth="cellar") == ()
    with pytest.raises(NotFound, match="lets nobody in"):
        database.token("ef" * 32)
    assert database.end_token("ab" * 32, MOMENT + timedelta(days=1))
    assert not database.end_token("ab" * 32, MOMENT + timedelta(days=2))
    assert database.token("ab" * 32).ended_at == MOMENT + timedelta(days=1)
    assert not database.token("ab" * 32).is_live(MOMENT)
    assert database.token("cd" * 32).is_live(MOMENT + timedelta(days=4000))


def test_a_message_is_open_until_it_is_seen(database: Database) -> None:
    def message(number: int) -> Message:
        return Message(
            message_id=f"m{number}",
            kind="help",
            at=MOMENT + timedelta(microseconds=number),
            booth="attic",
            reader="Łucja Weir",
            assignment_key=None,
            reading_id="r7",
            text="“Bitte” – help",
            seen_at=None,
        )

    for number in (2, 0, 1):
        database.add_message(message(number))
    assert database.messages() == (message(0), message(1), message(2))
    database.see_message("m1", MOMENT + timedelta(seconds=5))
    database.see_message("m1", MOMENT + timedelta(seconds=9))
    assert database.message("m1").seen_at == MOMENT + timedelta(seconds=5)
    assert database.messages(open_only=True) == (message(0), message(2))
    assert database.messages(since=message(2).at) == (message(2),)
    with pytest.raises(NotFound, match="no such message"):
        database.message("m9")


def test_the_last_pace_measured_is_the_one_that_counts(database: Database) -> None:
    assert database.pace("Zoë Quill") is None
    database.keep_pace("Zoë Quill", 141.5, MOMENT)
    database.keep_pace("Zoë Quill", 150.25, MOMENT)
    assert database.pace("Zoë Quill") == 150.25


def test_a_database_of_the_first_step_keeps_its_assignments(
    url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    if url.startswith("sqlite"):
        Path(url.removeprefix("sqlite:///")).parent.mkdir(parents=True)
    with engine.begin() as connection:
        steps.take_next_step(connection, STEPS[:1])
        connection.execute(text("INSERT INTO station VALUES (1, 'S', '', 'UTC', 'S', '')"))
        connection.execute(
            text(
                "INSERT INTO programmes (key, position, title, publication, opening_words, "
                "closing_words, weekdays, air_times, serial) "
                "VALUES ('hour', 0, 'Hour', 'Post', '', '', '[]', '[]', false)"
            )
        )
        for position in (0, 1):
            connection.execute(
                text(
                    "INSERT INTO assignments (position, programme_key, issue_date, readers) "
                    f"VALUES ({position}, 'hour', '2026-11-25', '[\"Ada\"]')"
                )
            )
    engine.dispose()
    with Database(url) as database:
        keys = [assignment.key for assignment in database.load_station().assignments]
        assert keys == ["hour-2026-11-25", "hour-2026-11-25-2"]
        assert database.load_station().assignments[1].issue_date == date(2026, 11, 25)
        (programme,) = database.load_station().programmes
        assert (programme.review, programme.other_reviewer) == ("things to hear", False)


def test_a_reading_is_indexed_in_place_of_what_was_known(database: Database) -> None:
    with pytest.raises(NotFound, match="no reading r7 in the index"):
        database.reading("r7")
    database.index_reading(ROW)
    assert database.reading("r7") == ROW
    cleared = replace(ROW, state="cleared", revision=4, masters=(WAVE,), air_date=None)
    database.index_reading(cleared)
    assert database.readings() == (cleared,)


def test_readings_are_found_by_programme_issue_and_air_date(database: Database) -> None:
    later = replace(ROW, reading_id="r8", issue_date=date(2026, 11, 26), air_date=None)
    other = replace(ROW, reading_id="a-1", programme_key="harbour", masters=())
    for row in (later, ROW, other):
        database.index_reading(row)
    assert database.readings() == (other, ROW, later)
    assert database.readings(programme_key="harbour-morning") == (ROW, later)
    assert database.readings(issue_date=date(2026, 11, 25)) == (other, ROW)
    assert database.readings(air_date=date(2026, 11, 26), programme_key="harbour") == (other,)
    assert database.readings(programme_key="nobody") == ()


def test_the_index_is_replaced_whole_or_not_at_all(database: Database) -> None:
    database.index_reading(ROW)
    others = [replace(ROW, reading_id=f"n{n:04d}", masters=(WAVE,)) for n in range(1_200)]
    database.replace_index(others)
    assert database.readings() == tuple(others)
    with pytest.raises(Invalid, match="names something twice"):
        database.replace_index([ROW, ROW])
    assert database.readings() == tuple(others)
    database.replace_index([])
    assert database.readings() == ()


def test_what_was_saved_is_there_when_it_is_opened_again(url: str) -> None:
    with Database(url) as first:
        first.save_station(STATION)
    with Database(url) as second:
        assert second.load_station() == STATION


def test_two_that_start_at_once_make_the_tables_once(url: str) -> None:
    opened: list[Database] = []
    threads = [threading.Thread(target=lambda: opened.append(Database(url))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(opened) == 4
    for database in opened:
        database.index_reading(ROW)
        assert database.readings() == (ROW,)
        database.close()


def test_many_threads_write_in_turn(database: Database) -> None:
    def write(first: int) -> None:
        # A refusal in a thread is a warning, and so fails the test.
        for n in range(first, first + 8):
            database.index_reading(replace(ROW, reading_id=f"n{n}"))
            database.index_reading(replace(ROW, takes=n))

    threads = [threading.Thread(target=write, args=(first,)) for first in range(0, 32, 8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(database.readings()) == 33


def test_the_steps_make_the_tables_that_are_queried(url: str) -> None:
    Database(url).close()
    engine = create_engine(url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, tables.METADATA) == []
    engine.dispose()


def test_a_step_that_fails_leaves_nothing_of_itself(
    url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def half_done(operations: Operations) -> None:
        operations.create_table("half", Column("id", Integer, primary_key=True))
        operations.execute("SELECT * FROM nowhere")

    Database(url).close()
    failing = (*STEPS, Step(number=len(STEPS) + 1, name="half", take=half_done))
    real = steps.take_next_step

    def with_failing(connection: Connection) -> bool:
        return real(connection, failing)

    monkeypatch.setattr("quietleaf.storage.database.take_next_step", with_failing)
    with pytest.raises(Unavailable, match="did not do what was asked"):
        Database(url)
    monkeypatch.undo()
    engine = create_engine(url)
    assert "half" not in inspect(engine).get_table_names()
    engine.dispose()
    with Database(url) as database:
        database.save_station(STATION)


def test_a_database_of_a_newer_version_is_left_alone(url: str) -> None:
    Database(url).close()
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(text("INSERT INTO schema_steps VALUES (99, 'later')"))
    engine.dispose()
    with pytest.raises(Invalid, match="used by a newer Quietleaf"):
        Database(url)


@pytest.mark.parametrize("url", ["", "station.sqlite", "mysql://host/name", "oracle://x"])
def test_a_url_of_another_kind_is_refused(url: str) -> None:
    with pytest.raises(Invalid, match="A database is named like"):
        Database(url)


def test_a_database_that_is_away_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "no.sqlite").mkdir()
    with pytest.raises(Unavailable, match="did not do what was asked"):
        Database(f"sqlite:///{tmp_path / 'no.sqlite'}")


def test_a_file_that_is_no_database_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "no.sqlite").write_bytes(b"a letter to the editor" * 100)
    with pytest.raises(Unavailable, match="did not do what was asked"):
        Database(f"sqlite:///{tmp_path / 'no.sqlite'}")


def test_sqlite_syncs_fully_and_writes_ahead(tmp_path: Path) -> None:
    with Database(database_url(tmp_path)) as database:
        database.save_station(STATION)
        with database._asking() as connection:
            pragmas = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                for name in ("journal_mode", "synchronous", "foreign_keys")
            }
    assert pragmas == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_sqlite_waits_for_another_that_makes_the_tables(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = database_url(tmp_path)
    # Another program is at work in a new file; it ends when ours begins to wait for it.
    other = sqlite3.connect(url.removeprefix("sqlite:///"), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    waits: list[float] = []

    def wait(seconds: float) -> None:
        waits.append(seconds)
        other.execute("COMMIT")
        other.close()

    monkeypatch.setattr(
        "quietleaf.storage.database.time", SimpleNamespace(monotonic=lambda: 0.0, sleep=wait)
    )
    with Database(url) as database:
        database.save_station(STATION)
    assert len(waits) == 1


def test_sqlite_does_not_wait_for_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    url = database_url(tmp_path)
    other = sqlite3.connect(url.removeprefix("sqlite:///"), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    ticks = iter(range(0, 1_000, 4))
    monkeypatch.setattr(
        "quietleaf.storage.database.time",
        SimpleNamespace(monotonic=lambda: next(ticks), sleep=lambda _: None),
    )
    with pytest.raises(Unavailable, match="did not do what was asked"):
        Database(url)
    other.close()
