"""The drill: a station is backed up while somebody records, restored, and compared to the byte."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from quietleaf.cli.main import main
from quietleaf.errors import Conflict, Damaged, Invalid, NotFound
from quietleaf.storage import backup_store, data_files, sealing
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.back_up import back_up
from quietleaf.work.rebuild_index import rebuild_index
from quietleaf.work.restore import RestoreBackup, restore
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station, finish_reading
from tests.handing_in import RATE_HZ, READER, add_take, booth_reading
from tests.signals import speech_like

PASSPHRASE = "lantern ferry kelp quay"


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station with a finished reading and one in the booth."""
    made = example_station(tmp_path / "station")
    finish_reading(made, bring_reading(made))
    booth_reading(made, seconds=3.0)
    yield made
    made.database.close()


@pytest.fixture(autouse=True)
def smaller(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a take of seconds have several pieces, and a passphrase cost less time."""
    monkeypatch.setattr(sealing, "SCRYPT_N", 1 << 10)
    monkeypatch.setattr(data_files, "PIECE_BYTES", 1 << 16)


def request(folder: Path, data: Path, passphrase: str | None = None) -> RestoreBackup:
    return RestoreBackup(folder=folder, passphrase=passphrase, name=None, data=data, database="")


def contents(data: Path) -> dict[str, bytes]:
    """Give every file but the database's own."""
    return {
        path.relative_to(data).as_posix(): path.read_bytes()
        for path in data.rglob("*")
        if path.is_file() and not path.name.startswith("quietleaf.sqlite")
    }


def everything(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


@pytest.mark.parametrize("passphrase", [None, PASSPHRASE])
def test_a_restored_station_is_the_same_to_the_last_byte(
    tools: Tools, tmp_path: Path, passphrase: str | None
) -> None:
    kept, back = tmp_path / "kept", tmp_path / "back"
    made = back_up(kept, passphrase, tools)
    assert made.new_bytes == made.size_bytes > 500_000
    restored = restore(request(kept, back, passphrase))
    assert (restored.name, restored.files) == (made.name, made.files)
    assert contents(back) == contents(tools.data)
    with Database(database_url(back)) as database:
        assert database.load_station() == tools.database.load_station()
        assert database.readings() == tools.database.readings()
        report = rebuild_index(replace(tools, data=back, database=database))
    assert (report.equal, report.differences, report.damaged) == (True, (), ())
    there = everything(kept)
    assert (b"Ada Fenwick" in there, b"RIFF" in there) == (passphrase is None, passphrase is None)


def test_while_somebody_records_no_more_is_named_than_is_there(
    tools: Tools, tmp_path: Path
) -> None:
    kept = tmp_path / "kept"
    folder = booth_reading(tools, "marrowby-in-five")
    with folder.roll(RATE_HZ, author=READER, at=NOW) as writer:
        writer.append(pcm24_of_samples(speech_like(7, 2.0)))
        writer.sync()
        back_up(kept, None, tools)
        # It was not synced when the copy was made: nobody was told that it is safe.
        writer.append(pcm24_of_samples(speech_like(8, 2.0)))
        restore(request(kept, tmp_path / "first"))
        first = ReadingFolder(tmp_path / "first" / folder.path.relative_to(tools.data))
        assert [take.samples for take in first.takes()] == [RATE_HZ, None]
        writer.sync()
        folder.seal(writer, origin="a test", author=READER, at=NOW)
    later = replace(tools, clock=lambda: NOW + timedelta(hours=1))
    again = back_up(kept, None, later)
    # The rest of one take, its ledger and sums, and the plan: the others are there already.
    assert 2 * 3 * RATE_HZ < again.new_bytes < 0.5 * again.size_bytes
    restore(request(kept, tmp_path / "second"))
    assert contents(tmp_path / "second") == contents(tools.data)


def test_what_has_not_changed_is_not_read_again(tools: Tools, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    first = back_up(kept, PASSPHRASE, tools)
    before = {path: path.stat().st_mtime_ns for path in kept.rglob("pieces/*/*")}
    back_up(kept, PASSPHRASE, replace(tools, clock=lambda: NOW + timedelta(days=1)))
    after = {path: path.stat().st_mtime_ns for path in kept.rglob("pieces/*/*")}
    assert before.items() <= after.items()
    assert len(after) - len(before) <= 10  # the copy of the database
    old = replace(request(kept, tmp_path / "old", PASSPHRASE), name=first.name)
    assert restore(old).name == first.name


def test_a_backup_that_is_stopped_leaves_the_one_before(tools: Tools, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    first = back_up(kept, None, tools)
    add_take(booth_reading(tools, "marrowby-in-five"), 2.0)
    wanted = len(contents(tools.data))

    def stop(step: str, done: float) -> None:
        if done > 0.6:
            raise KeyboardInterrupt

    later = replace(tools, clock=lambda: NOW + timedelta(hours=1))
    with pytest.raises(KeyboardInterrupt):
        back_up(kept, None, replace(later, progress=stop))
    assert restore(request(kept, tmp_path / "before")).name == first.name
    back_up(kept, None, later)
    restore(request(kept, tmp_path / "after"))
    assert len(contents(tmp_path / "after")) == wanted
    assert not list(tools.data.glob(".*"))


@pytest.mark.parametrize("passphrase", [None, PASSPHRASE])
def test_a_changed_bit_is_found_and_nothing_is_shown(
    tools: Tools, tmp_path: Path, passphrase: str | None
) -> None:
    kept = tmp_path / "kept"
    back_up(kept, passphrase, tools)
    pieces = sorted(kept.rglob("pieces/*/*"))
    for path in (pieces[0], pieces[-1], *kept.glob("listings/*")):
        there = path.read_bytes()
        path.write_bytes(there[:-1] + bytes([there[-1] ^ 1]))
        with pytest.raises(Damaged):
            restore(request(kept, tmp_path / "back", passphrase))
        path.write_bytes(there)
    pieces[0].unlink()
    with pytest.raises(Damaged, match="missing"):
        restore(request(kept, tmp_path / "back", passphrase))
    assert not list(tmp_path.glob("*back*"))


def test_a_listing_that_leads_outside_is_refused(tools: Tools, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    back_up(kept, None, tools)
    with backup_store.BackupStore(kept, None, is_new=False) as store:
        name, _ = store.put(b"evil")
        for number, path in enumerate(("../evil", "/evil", "a//b", "readings/../../evil", "")):
            file = backup_store.ListedFile(path=path, size_bytes=4, changed_ns=0, pieces=(name,))
            store.keep(NOW + timedelta(hours=1 + number), [file])
            with pytest.raises(Damaged):
                store.files(store.taken()[-1])


def test_a_listing_of_other_shapes_is_refused(tools: Tools, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    back_up(kept, None, tools)
    good = backup_store.ListedFile(path="a", size_bytes=0, changed_ns=0, pieces=())
    with backup_store.BackupStore(kept, None, is_new=False) as store:
        others: tuple[dict[str, Any], ...] = ({"size_bytes": -1}, {"pieces": ([],)}, {"path": None})
        for number, changes in enumerate(others):
            store.keep(NOW + timedelta(hours=1 + number), [replace(good, **changes)])
            with pytest.raises(Damaged, match="cannot be read"):
                store.files(store.taken()[-1])


def test_refusals_say_what_to_do(tools: Tools, tmp_path: Path) -> None:
    kept, sealed = tmp_path / "kept", tmp_path / "sealed"
    with pytest.raises(Invalid, match="another disk"):
        back_up(tools.data / "kept", None, tools)
    with pytest.raises(Invalid, match="12 letters"):
        back_up(sealed, "short", tools)
    with pytest.raises(Invalid, match="other things"):
        back_up(tools.data.parent, None, tools)
    with pytest.raises(NotFound, match="no backup in"):
        restore(request(kept, tmp_path / "back"))
    back_up(kept, None, tools)
    back_up(sealed, PASSPHRASE, tools)
    with pytest.raises(Invalid, match="not encrypted"):
        restore(request(kept, tmp_path / "back", PASSPHRASE))
    with pytest.raises(Invalid, match="--passphrase-file"):
        restore(request(sealed, tmp_path / "back"))
    with pytest.raises(Invalid, match="not the passphrase"):
        restore(request(sealed, tmp_path / "back", PASSPHRASE + "s"))
    with pytest.raises(Conflict, match="nothing is written over"):
        restore(request(kept, tools.data))
    with pytest.raises(NotFound, match="there are: 2026-11-25T14-20-00Z"):
        restore(replace(request(kept, tmp_path / "back"), name="2026-11-24T00-00-00Z"))
    about = json.loads((kept / "backup.json").read_text())
    (kept / "backup.json").write_text(json.dumps(about | {"schema": "quietleaf/backup/2"}))
    with pytest.raises(Invalid, match="knows quietleaf/backup/1"):
        back_up(kept, None, tools)
    with (
        backup_store.BackupStore(sealed, PASSPHRASE, is_new=False),
        pytest.raises(Conflict, match="Somebody else"),
    ):
        back_up(sealed, PASSPHRASE, tools)


def test_at_the_terminal(tools: Tools, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept, back, secret = tmp_path / "kept", tmp_path / "back", tmp_path / "secret"
    secret.write_text(f"{PASSPHRASE}\n", encoding="utf-8")
    sealed = ["--passphrase-file", str(secret)]
    assert main(["backup", str(kept), "--data", str(tools.data), *sealed]) == 0
    assert capsys.readouterr().out.startswith("Backup 20")
    assert main(["restore", str(kept), "--data", str(back), *sealed]) == 0
    assert "quietleaf rebuild" in capsys.readouterr().out
    assert contents(back) == contents(tools.data)
    secret.write_text("", encoding="utf-8")
    assert main(["restore", str(kept), "--data", str(tmp_path / "more"), *sealed]) == 2
    assert "first line" in capsys.readouterr().err
    assert main(["rebuild", "--data", str(back)]) == 0
