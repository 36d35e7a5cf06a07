"""The page about the reading folder tells the truth: its code reads what Quietleaf writes."""

from __future__ import annotations

import hashlib
import json
import re
import struct
from dataclasses import fields
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given

from quietleaf.booth.edits import (
    Again,
    ArticleStarted,
    Cut,
    HandedIn,
    Happening,
    Opened,
    Undo,
)
from quietleaf.booth.ledger import line_of_edit
from quietleaf.booth.reading import HandIn, ReadingFacts
from quietleaf.booth.replay import Standing, timeline
from quietleaf.storage.take_header import take_header
from tests.patched import patched
from tests.readings import AT, folder_with, noise, standings

PAGE = (Path(__file__).parents[2] / "docs" / "reading-folder.md").read_text(encoding="utf-8")


def code_of_the_page() -> dict[str, Any]:
    names: dict[str, Any] = {}
    for block in re.findall(r"^```python\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL):
        exec(block, names)
    return names


CODE = code_of_the_page()


def test_its_code_reads_a_take_a_ledger_and_a_programme(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(3_000), noise(501), sample_rate_hz=44_100)
    for what in (
        Cut(take=1, start=5, stop=10),
        Again(take=2, mark=100, back_take=1, back_sample=2_000, resume=300),
        ArticleStarted(take=2, sample=310, title="Gezeiten – “é”"),
        Undo(of=4),
        Undo(of=7),
    ):
        folder.append(what, author="Ada", at=AT)
    entries = CODE["read_ledger"](folder.path / "ledger.jsonl")
    assert [entry["number"] for entry in entries] == list(range(1, 9))
    assert [entry["id"] for entry in entries] == [edit.edit_id for edit in folder.ledger()]
    assert CODE["programme"](entries) == [(1, 0, 5), (1, 10, 2_000), (2, 300, 501)]
    for number in (1, 2):
        rate, samples = CODE["read_take"](str(folder.take_path(number)))
        assert rate == 44_100
        sealed = entries[number]
        assert len(samples) == 3 * sealed["samples"]
        assert hashlib.sha256(samples).hexdigest() == sealed["sha256"]


def test_its_code_stops_at_a_torn_end(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(3_000))
    with (folder.path / "ledger.jsonl").open("ab") as file:
        file.write(b'{"crc32":"00000000","number":3}\n')
    assert len(CODE["read_ledger"](folder.path / "ledger.jsonl")) == 2
    with folder.take_path(1).with_suffix(".sums").open("ab") as file:
        file.write(b"0000000005 00000000\n00000")
    assert len(CODE["read_take"](str(folder.take_path(1)))[1]) == 9_000


@given(standings() | patched())
def test_its_programme_is_ours(standing: Standing) -> None:
    by_page = CODE["programme"]([json.loads(line_of_edit(edit)) for edit in standing.edits])
    ours = [(span.take, span.start, span.stop) for span in timeline(standing).spans]
    assert by_page == ours


@pytest.mark.parametrize("kind", get_args(Happening))
def test_every_kind_and_member_is_on_the_page(kind: type) -> None:
    rows = dict(re.findall(r"^\| `([\w-]+)` \| (.*)$", PAGE, re.MULTILINE))
    names = {
        "Opened": "opened",
        "TakeRolled": "roll",
        "TakeSealed": "take",
        "Again": "again",
        "Patch": "patch",
        "Cut": "cut",
        "ArticleStarted": "article",
        "WordsBegun": "words",
        "SoundMissing": "missing",
        "RoomChecked": "room",
        "HandedIn": "hand-in",
        "Decided": "decision",
        "Remarked": "observation",
        "PlanDecided": "plan",
        "Undo": "undo",
        "StateSet": "state",
    }
    members = [field.name for field in fields(HandIn if kind is HandedIn else kind)]
    if kind is Opened:
        members = [field.name for field in fields(ReadingFacts)]
    for member in members:
        assert f"`{member}`" in rows[names[kind.__name__]]


def test_its_table_of_the_header_is_right() -> None:
    rows = re.findall(r"^\| (\d+) \| (\d+) \| (.*?) \|$", PAGE, re.MULTILINE)
    offset = 0
    plain, large = take_header(44_100, 5), take_header(44_100, 1 << 31)
    for start, size, _ in rows:
        assert int(start) == offset
        offset += int(size)
    assert offset == len(plain) == len(large) == 80
    for start, name, in_rf64 in [(0, b"RIFF", b"RF64"), (12, b"JUNK", b"ds64")]:
        assert plain[start : start + 4] == name
        assert large[start : start + 4] == in_rf64
    assert large[4:8] == large[76:80] == b"\xff" * 4
    assert struct.unpack("<QQQI", large[20:48]) == (72 + (3 << 31), 3 << 31, 1 << 31, 0)
