"""A station of the first schema step is brought up to date by opening it, and used as any other."""

from __future__ import annotations

import re
import shutil
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import Connection, create_engine, inspect

from quietleaf.booth.edits import StateSet
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.reading_folder import find_reading
from quietleaf.storage.schema.steps import STEPS, take_next_step
from quietleaf.work.accounts import add_account
from quietleaf.work.back_up import back_up
from quietleaf.work.enrol_booth import booth_of, enrol_booth, make_enrolment
from quietleaf.work.messages import tell_desk
from quietleaf.work.open_reading import open_reading
from quietleaf.work.plan_booth import add_booth
from quietleaf.work.plan_reader import change_reader
from quietleaf.work.rebuild_index import rebuild_index
from quietleaf.work.see_day import see_day
from quietleaf.work.see_reading import see_reading
from quietleaf.work.sign_in import Doorkeeper, sign_in, signed_in
from quietleaf.work.sit_down import sit_at_booth, sitting_of
from quietleaf.work.tools import Tools
from tests.stations import STATION, WEDNESDAY

FIRST = Path(__file__).parent / "first_station"
SQL = (FIRST / "station.sql").read_text(encoding="utf-8")
TABLES = ("station", "publications", "programmes", "readers", "assignments", "readings", "masters")
"""In the order in which they can be filled."""
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
PASSWORD = "gulls over the quay"


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Give the database of a station as it was then; its folders lie in ``tmp_path``."""
    shutil.copytree(FIRST / "readings", tmp_path / "readings")
    if request.param == "sqlite":
        with sqlite3.connect(tmp_path / "quietleaf.sqlite") as file:
            file.executescript(SQL)
        file.close()
        return database_url(tmp_path)
    address = str(request.getfixturevalue("postgres"))
    engine = create_engine(address)
    with engine.begin() as connection:
        take_next_step(connection, STEPS[:1])
        for statement in rows_then():
            connection.exec_driver_sql(statement)
    engine.dispose()
    return address


@pytest.fixture
def tools(url: str, tmp_path: Path) -> Iterator[Tools]:
    with Database(url) as database:
        yield Tools(data=tmp_path, database=database, clock=lambda: NOW)


def rows_then() -> list[str]:
    found = {
        table: re.findall(rf'^INSERT INTO "{table}" .*;$', SQL, re.MULTILINE) for table in TABLES
    }
    assert all(found.values())
    return [statement for table in TABLES for statement in found[table]]


def test_the_first_step_still_makes_the_tables_of_then(tmp_path: Path) -> None:
    def shapes(connection: Connection) -> dict[str, object]:
        looked = inspect(connection)
        return {
            name: (
                [str({**one, "type": str(one["type"])}) for one in looked.get_columns(name)],
                looked.get_pk_constraint(name)["constrained_columns"],
                sorted(str(one["name"]) for one in looked.get_indexes(name)),
                [one["referred_table"] for one in looked.get_foreign_keys(name)],
            )
            for name in looked.get_table_names()
        }

    with sqlite3.connect(tmp_path / "then.sqlite") as file:
        file.executescript(SQL)
    file.close()
    then = create_engine(f"sqlite:///{tmp_path / 'then.sqlite'}")
    now = create_engine(f"sqlite:///{tmp_path / 'now.sqlite'}")
    with then.connect() as before, now.begin() as after:
        take_next_step(after, STEPS[:1])
        assert shapes(before) == shapes(after)
    then.dispose()
    now.dispose()


def test_what_was_planned_and_read_is_all_there(tools: Tools) -> None:
    keys = ("hour-2026-11-25", "request-2026-11-19")
    wanted = replace(
        STATION,
        assignments=tuple(
            replace(one, key=key) for one, key in zip(STATION.assignments, keys, strict=True)
        ),
    )
    assert tools.database.load_station() == wanted
    (row,) = tools.database.readings()
    assert (row.reading_id, row.state, row.revision, row.takes) == ("r1", "in the booth", 3, 1)
    assert row.masters[0].path == "masters/plan.json"
    report = rebuild_index(tools)
    assert (report.readings, report.damaged, report.differences, report.equal) == (1, (), (), True)
    assert see_reading("r1", tools).airs_at == datetime(2026, 11, 25, 19, tzinfo=UTC)


def test_it_is_used_as_any_other(tools: Tools, tmp_path: Path) -> None:
    day = see_day(WEDNESDAY, tools)
    assert ("Tomas Vale",) in [slot.readers for slot in day.slots]
    booth = add_booth("Cellar", tools)
    browser = enrol_booth(make_enrolment(booth.key, tools), tools)[1]
    assert booth_of(browser, tools) == booth
    sitting = sitting_of(sit_at_booth("Ada Fenwick", browser, tools), tools)
    tell_desk("help", sitting, tools, text="The lamp is out.")
    assert tools.database.messages(open_only=True)[0].text == "The lamp is out."
    opened = open_reading("request-2026-11-19", sitting, tools)
    assert opened is not None
    assert len(tools.database.readings()) == 2
    folder = find_reading(tools.data, "r1")
    folder.append(StateSet(state="handed in", note=""), author="Desk", at=NOW)
    assert rebuild_index(tools).damaged == ()
    assert tools.database.reading("r1").state == "handed in"
    change_reader("Ada Fenwick", "Ada Fenwick-Lowe", tools)
    add_account("Ida", ["steward", "desk"], PASSWORD, tools)
    account = signed_in(sign_in("Ida", PASSWORD, "127.0.0.1", Doorkeeper(), tools), tools)
    assert account is not None
    assert account.roles == ("desk", "steward")
    back_up(tmp_path.with_name("kept"), None, tools)


def test_it_is_brought_up_to_date_once(url: str) -> None:
    for _ in range(2):
        Database(url).close()
    engine = create_engine(url)
    with engine.connect() as connection:
        found = connection.exec_driver_sql("SELECT number, name FROM schema_steps ORDER BY number")
        assert [tuple(row) for row in found] == [(step.number, step.name) for step in STEPS]
    engine.dispose()


def test_the_folder_of_then_reads_as_it_did() -> None:
    folder = find_reading(FIRST, "r1")
    assert folder.facts.issue_date == date(2026, 11, 25)
    assert [mark.title for mark in folder.timeline().articles] == ["Ferries – “late”"]
    with folder.open_take(1) as take:
        assert take.info.frames == 100
        assert not take.read(0, 100).any()
