"""The index made again from the folders alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.booth.edits import StateSet
from quietleaf.cli.main import main
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import master_row, reading_row, write_made
from quietleaf.storage.reading_folder import LEDGER, ReadingFolder, create_reading
from quietleaf.work.rebuild_index import rebuild_index
from quietleaf.work.tools import Tools
from tests.readings import AT, FACTS, create_rolling, folder_with, noise


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    with Database(database_url(tmp_path)) as database:
        yield Tools(data=tmp_path, database=database, clock=lambda: AT)


def with_readings(tools: Tools) -> list[ReadingFolder]:
    folders = [folder_with(tools.data, noise(480 * n), name=f"r{n}") for n in range(1, 5)]
    made = folders[0].path / "masters" / "plan.json"
    made.write_text("{}")
    write_made(folders[0], (master_row("plan", made, {"cuts": 2}),))
    return folders


def test_it_says_what_the_folders_say(tools: Tools) -> None:
    folders = with_readings(tools)
    report = rebuild_index(tools)
    assert (report.readings, report.equal, report.damaged) == (4, True, ())
    assert report.differences[0] == (
        "Reading r1 was not in the index (readings/harbour-morning/2026-11-25-r1)."
    )
    assert len(report.differences) == 4
    assert tools.database.readings() == tuple(reading_row(folder) for folder in folders)
    assert rebuild_index(tools).differences == ()


def test_a_lost_database_comes_back_equal(tools: Tools) -> None:
    with_readings(tools)
    rebuild_index(tools)
    before = tools.database.readings()
    tools.database.close()
    for path in tools.data.glob("quietleaf.sqlite*"):
        path.unlink()
    with Database(database_url(tools.data)) as fresh:
        report = rebuild_index(replace(tools, database=fresh))
        assert report.equal
        assert fresh.readings() == before


def test_every_difference_is_named(tools: Tools) -> None:
    folders = with_readings(tools)
    rebuild_index(tools)
    row = tools.database.reading("r2")
    tools.database.index_reading(replace(row, state="cleared", duration_s=9.5))
    tools.database.index_reading(replace(row, reading_id="gone", folder="readings/x/y"))
    tools.database.index_reading(replace(tools.database.reading("r1"), masters=()))
    folders[2].append(StateSet(state="handed in", note=""), author="Ada", at=AT)
    assert rebuild_index(tools).differences == (
        "Reading gone was in the index and has no readable folder (readings/x/y).",
        "Reading r1: the index had other masters than the folder.",
        "Reading r2: the index had state as 'cleared'; the folder has 'in the booth'.",
        "Reading r2: the index had duration as 9.5; the folder has 0.02.",
        "Reading r3: the index had state as 'in the booth'; the folder has 'handed in'.",
        "Reading r3: the index had revision as 2; the folder has 3.",
        "Reading r3: the index had another moment at which it came in.",
    )


def test_damaged_folders_are_named_and_do_not_stop_the_others(tools: Tools) -> None:
    folders = with_readings(tools)
    ledger = folders[0].path / LEDGER
    ledger.write_bytes(b"x" + ledger.read_bytes()[1:])
    folders[1].take_path(1).unlink()
    folders[2].path.rename(folders[2].path.with_name("2026-11-25-elsewhere"))
    (tools.data / "readings/harbour-morning/notes").mkdir()
    report = rebuild_index(tools)
    assert (report.readings, report.equal) == (1, True)
    assert [row.reading_id for row in tools.database.readings()] == ["r4"]
    assert len(report.damaged) == 4
    for sentence, words in zip(
        report.damaged,
        ("belongs at", "Line 1 of", "There is no", "There is no"),
        strict=True,
    ):
        assert sentence.startswith("readings/harbour-morning/")
        assert words in sentence


def test_a_reading_whose_master_is_damaged_is_indexed_without_it(tools: Tools) -> None:
    folders = with_readings(tools)
    (folders[0].path / "masters" / "plan.json").unlink()
    report = rebuild_index(tools)
    assert (report.readings, report.equal) == (4, True)
    assert len(report.damaged) == 1
    assert "Finish the reading again" in report.damaged[0]
    assert tools.database.reading("r1").masters == ()


def test_two_folders_of_one_reading_are_told_apart(tools: Tools) -> None:
    folder_with(tools.data, noise(480))
    other = replace(FACTS, programme_key="harbour-evening")
    create_reading(tools.data, other, AT, "Ada")
    report = rebuild_index(tools)
    assert report.readings == 1
    assert "Keep one of them" in report.damaged[0]


def test_the_folders_are_only_read(tools: Tools) -> None:
    folders = with_readings(tools)
    files = [path for folder in folders for path in folder.path.rglob("*") if path.is_file()]
    before = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in files}
    rebuild_index(tools)
    assert {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in files} == before


def test_a_take_that_still_rolls_is_in_the_index_as_far_as_it_was_confirmed(tools: Tools) -> None:
    folder = create_rolling(tools.data, 48_000)
    with folder.resume(1) as writer:
        writer.append(bytes(3 * 24_000))
        writer.sync()
        assert rebuild_index(tools).equal
    assert tools.database.reading("r7").duration_s == 0.5
    assert tools.database.reading("r7").state == "in the booth"


def test_what_a_stop_left_half_made_goes(tools: Tools) -> None:
    (tools.data / "readings/harbour-morning/.opening-2026-11-25-r9/takes").mkdir(parents=True)
    assert rebuild_index(tools).unfinished == 1
    assert list((tools.data / "readings/harbour-morning").iterdir()) == []


def test_a_station_without_readings_has_an_empty_index(tools: Tools) -> None:
    report = rebuild_index(tools)
    assert (report.readings, report.equal, report.differences) == (0, True, ())


def test_the_command_prints_what_it_found(tools: Tools, capsys: pytest.CaptureFixture[str]) -> None:
    folders = with_readings(tools)
    assert main(["rebuild", "--data", str(tools.data)]) == 0
    printed = capsys.readouterr().out.splitlines()
    assert printed[-1] == (
        "Readings: 4. Differences to the index before: 4. The index now says what the folders say."
    )
    folders[1].take_path(1).unlink()
    assert main(["rebuild", "--data", str(tools.data)]) == 5
    out, err = capsys.readouterr()
    assert "Reading r2 was in the index and has no readable folder" in out
    assert err == (
        "Folders with damage: 1. They are named above; what cannot be read is not in the index.\n"
    )


def test_an_index_that_does_not_come_back_equal_is_damage(
    tools: Tools, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_readings(tools)
    monkeypatch.setattr(Database, "replace_index", lambda _database, _rows: None)
    assert not rebuild_index(tools).equal
    assert main(["rebuild", "--data", str(tools.data)]) == 5
