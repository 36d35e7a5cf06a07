"""A ledger whose writing stops anywhere in a line: the entry is wholly there, or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from quietleaf.booth.edits import ArticleStarted, Cut, Undo
from quietleaf.errors import Conflict, Unavailable
from quietleaf.storage import disk
from quietleaf.storage.reading_folder import (
    LEDGER,
    ReadingFolder,
    create_reading,
    new_reading,
    reading_paths,
    sweep_unfinished,
)
from quietleaf.storage.take_reader import TakeReader
from tests.faults.stopping import Stopped, StoppingDisk, runs_until_it_succeeds
from tests.readings import AT, FACTS, folder_with, noise, sealed

CUT = Cut(take=1, start=10, stop=20)
SHARES = tuple(n / 16 for n in range(17))


def test_an_entry_is_wholly_there_or_not_at_all(tmp_path: Path) -> None:
    def run(stopping: StoppingDisk, place: Path) -> None:
        # The reading is made while the disk is whole; only the entry can stop.
        with pytest.MonkeyPatch.context() as whole:
            for name, call in REAL.items():
                whole.setattr(disk, name, call)
            folder = folder_with(place, noise(100))
        folder.append(CUT, author="Ada", at=AT, edit_id="mine")

    runs = runs_until_it_succeeds(run, tmp_path, SHARES)
    outcomes = set()
    for _, place in runs:
        (path,) = reading_paths(place)
        folder = ReadingFolder(path)
        assert folder.revision in (2, 3)
        outcomes.add(folder.revision)
        # Asking again enters it once.
        entered = folder.append(CUT, author="Ada", at=AT, edit_id="mine")
        assert (entered.number, entered.what) == (3, CUT)
        assert ReadingFolder(path).ledger() == folder.ledger()
        assert folder.append(Undo(of=3), author="Ada", at=AT).number == 4
        assert (path / LEDGER).read_bytes().count(b"\n") == 4
    assert outcomes == {2, 3}


def test_an_entry_that_was_confirmed_is_on_the_disk(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100))
    watching = StoppingDisk(10_000, 0.0)
    with pytest.MonkeyPatch.context() as patch:
        watching.put_in(patch)
        folder.append(CUT, author="Ada", at=AT)
    ledger = folder.path / LEDGER
    assert watching.synced == {ledger: ledger.read_bytes()}


def test_a_torn_end_makes_room_for_a_shorter_entry(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100))
    ledger = folder.path / LEDGER
    whole = ledger.read_bytes()
    ledger.write_bytes(whole + b'{"crc32":"' + b"?" * 1_000)
    folder.append(CUT, author="Ada", at=AT)
    lines = ledger.read_bytes()
    assert lines.startswith(whole)
    assert lines.count(b"\n") == 3
    assert lines.endswith(b"}\n")


def test_a_new_reading_is_wholly_there_or_not_at_all(tmp_path: Path) -> None:
    def run(stopping: StoppingDisk, place: Path) -> None:
        folder_with(place, noise(100))

    runs = runs_until_it_succeeds(run, tmp_path, (0.0, 0.4, 1.0))
    outcomes = set()
    for _, place in runs:
        paths = reading_paths(place)
        outcomes.add(len(paths))
        for path in paths:
            folder = ReadingFolder(path)
            assert folder.revision == 2
            with folder.open_take(1) as reader:
                assert (reader.read(0, 100)[:, 0] == noise(100)).all()
        left = list((place / "readings").glob("*/.opening-*"))
        assert len(left) + len(paths) == 1
        assert sweep_unfinished(place) == len(left)
        assert reading_paths(place) == paths
        if not paths:
            folder_with(place, noise(100))
            assert len(reading_paths(place)) == 1
    assert outcomes == {0, 1}


def test_what_a_stop_left_does_not_stand_in_the_way(tmp_path: Path) -> None:
    stopping = StoppingDisk(6, 1.0)
    with pytest.MonkeyPatch.context() as patch:
        stopping.put_in(patch)
        with pytest.raises(Stopped):
            folder_with(tmp_path, noise(100))
    assert list((tmp_path / "readings").glob("*/.opening-*"))
    assert create_reading(tmp_path, FACTS, AT, "Ada").revision == 1


def test_a_refusal_while_it_is_made_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        stopped_by_hand(tmp_path)
    assert list((tmp_path / "readings" / FACTS.programme_key).iterdir()) == []


def stopped_by_hand(data: Path) -> None:
    with new_reading(data, FACTS, at=AT, author="Ada") as folder:
        folder.next_take(48_000).append(bytes(300))
        raise KeyboardInterrupt


def test_a_sweep_leaves_alone_what_is_being_made(tmp_path: Path) -> None:
    with new_reading(tmp_path, FACTS, at=AT, author="Ada") as folder:
        assert sweep_unfinished(tmp_path) == 0
        folder.append(sealed(1, 0), author="Ada", at=AT)
    assert reading_paths(tmp_path) == [folder.path]


def test_a_second_writer_is_told_to_wait(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100))
    held = disk.open_to_write(folder.path / LEDGER)
    disk.lock(held, folder.path / LEDGER)
    try:
        with pytest.raises(Conflict, match=r"Somebody else is writing ledger.jsonl of 2026-11-25"):
            folder.append(CUT, author="Ada", at=AT)
    finally:
        os.close(held)
    assert folder.append(CUT, author="Ada", at=AT).number == 3


def test_a_take_has_one_writer(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100))
    with folder.next_take(48_000) as writer:
        with pytest.raises(Conflict, match=r"Somebody else is writing 0002.wav"):
            ReadingFolder(folder.path).next_take(48_000)
        writer.append(bytes(30))
        assert writer.sync() == 10
        # Reading it meanwhile is free.
        with TakeReader(writer.path) as reader:
            assert reader.info.frames == 10


def test_two_who_saw_the_same_revision_do_not_both_decide(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100))
    other = ReadingFolder(folder.path)
    folder.append(CUT, author="Ada", at=AT)
    with pytest.raises(Conflict, match="Ada made entry 3 meanwhile"):
        other.append(CUT, author="Tom", at=AT)
    # What a reader does meanwhile is a fact, and is taken.
    mark = ArticleStarted(take=1, sample=50, title="Tides")
    assert other.append(mark, author="Tom", at=AT, revision=2).number == 4
    other.reload()
    assert other.append(CUT, author="Tom", at=AT).number == 5


def test_a_full_disk_refuses_an_entry_and_keeps_the_ledger(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_with(tmp_path, noise(100))
    real = os.pwrite
    room = [7]

    def full(file: int, data: bytes, offset: int) -> int:
        if not room:
            raise OSError(28, "No space left on device")
        return real(file, data[: room.pop()], offset)

    monkeypatch.setattr(os, "pwrite", full)
    with pytest.raises(Unavailable, match="is full"):
        folder.append(CUT, author="Ada", at=AT)
    monkeypatch.undo()
    assert ReadingFolder(folder.path).revision == 2
    assert folder.append(CUT, author="Ada", at=AT).number == 3


REAL = {
    name: getattr(disk, name)
    for name in ("open_to_write", "write_at", "cut_to", "sync", "sync_folder", "move")
}
