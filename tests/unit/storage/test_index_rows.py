"""Rows of the index: what a folder says, and what was made from it."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.booth.edits import Cut, StateSet
from quietleaf.errors import Damaged, NotFound
from quietleaf.storage.index_rows import (
    MasterRow,
    master_row,
    read_made,
    reading_row,
    write_made,
)
from quietleaf.storage.reading_folder import ReadingFolder
from tests.readings import AT, FACTS, folder_with, noise


def folder_with_master(data: Path) -> tuple[ReadingFolder, MasterRow]:
    folder = folder_with(data, noise(48_000))
    path = folder.path / "masters" / "programme.mp3"
    path.write_bytes(b"sound" * 1_000)
    made = master_row("mp3", path, {"loudness_lufs": -23.0, "words": "né"})
    write_made(folder, (made,))
    return folder, made


def test_a_row_says_what_the_folder_says(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(48_000), noise(24_000))
    folder.append(Cut(take=1, start=0, stop=12_000), author="Ada", at=AT)
    folder.append(StateSet(state="handed in", note=""), author="Ada", at=AT)
    row = reading_row(folder)
    assert row.folder == "readings/harbour-morning/2026-11-25-r7"
    assert (row.duration_s, row.takes, row.revision) == (1.25, 2, 5)
    assert (row.state, row.readers, row.air_date) == ("handed in", FACTS.readers, FACTS.air_date)
    assert row.masters == ()


def test_what_was_made_is_told_by_the_folder(tmp_path: Path) -> None:
    folder, made = folder_with_master(tmp_path)
    assert made.path == "masters/programme.mp3"
    assert made.bytes == 5_000
    assert made.sha256 == hashlib.sha256(b"sound" * 1_000).hexdigest()
    assert reading_row(folder).masters == (made,)
    write_made(folder, ())
    assert reading_row(folder).masters == ()


def test_a_master_that_is_missing_or_of_another_size_is_damage(tmp_path: Path) -> None:
    folder, made = folder_with_master(tmp_path)
    path = folder.path / made.path
    path.write_bytes(b"sound")
    with pytest.raises(Damaged, match=r"programme\.mp3 is not as it was made"):
        read_made(folder.path)
    path.unlink()
    with pytest.raises(Damaged, match="Finish the reading again"):
        reading_row(folder)


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"[]",
        b'{"masters": [{}]}',
        b"\xff",
        b'{"masters": 5}',
        b'{"masters": [{"kind": "", "path": "", "bytes": Infinity}]}',
        b'{"x":' * 50_000,
    ],
)
def test_a_list_that_cannot_be_read_is_damage(tmp_path: Path, text: bytes) -> None:
    folder, _ = folder_with_master(tmp_path)
    (folder.path / "masters" / "made.json").write_bytes(text)
    with pytest.raises(Damaged, match="Delete it and finish the reading again"):
        read_made(folder.path)


@pytest.mark.parametrize(
    "path", ["masters/../ledger.jsonl", "/etc/hostname", "ledger.jsonl", "masters/"]
)
def test_a_list_that_leads_out_of_the_masters_is_damage(tmp_path: Path, path: str) -> None:
    folder, made = folder_with_master(tmp_path)
    write_made(folder, (replace(made, path=path),))
    with pytest.raises(Damaged, match="Delete it and finish the reading again"):
        read_made(folder.path)


def test_a_take_that_is_missing_is_said_so(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100))
    folder.take_path(1).unlink()
    with pytest.raises(NotFound, match=r"There is no .*0001\.wav"):
        reading_row(folder)
