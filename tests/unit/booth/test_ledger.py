"""Lines of a ledger: the checksum by hand, and what is not a line."""

from __future__ import annotations

import json
import zlib

import pytest

from quietleaf.booth.edits import Cut
from quietleaf.booth.ledger import line_of_edit, read_ledger
from quietleaf.errors import Damaged, Invalid
from tests.readings import sealed, standing_of

LINES = [
    line_of_edit(edit) for edit in standing_of(sealed(1, 9), Cut(take=1, start=0, stop=5)).edits
]


def with_sum(members: bytes) -> bytes:
    return b'{"crc32":"%08x",%s\n' % (zlib.crc32(members), members)


def test_a_line_is_json_and_its_sum_covers_the_rest() -> None:
    for number, line in enumerate(LINES, start=1):
        members = json.loads(line)
        assert members["number"] == number
        assert int(members["crc32"], 16) == zlib.crc32(line[20:-1])


def test_an_empty_ledger_has_no_entries() -> None:
    assert read_ledger(b"", "it").edits == ()


def test_a_missing_line_is_damage() -> None:
    with pytest.raises(Damaged, match="Line 2 of it is not as it was written"):
        read_ledger(LINES[0] + LINES[2], "it")


def test_a_line_end_that_was_damaged_does_not_hide_the_entry_behind_it() -> None:
    run_together = LINES[1][:-1] + b"J" + LINES[2]
    with pytest.raises(Damaged, match="Line 2 of it is not as it was written"):
        read_ledger(LINES[0] + run_together, "it")


def test_a_doubled_line_is_damage() -> None:
    with pytest.raises(Damaged, match="Line 2 of it"):
        read_ledger(LINES[0] + LINES[0], "it")


def test_a_whole_line_that_is_no_entry_is_damage() -> None:
    with pytest.raises(Damaged, match="is no entry of a ledger"):
        read_ledger(with_sum(b'"number":1,"kind":"undo"}'), "it")
    with pytest.raises(Damaged, match="is no entry of a ledger"):
        read_ledger(with_sum(b'"number":1}'), "it")
    with pytest.raises(Damaged, match="is no entry of a ledger"):
        read_ledger(LINES[0] + with_sum(LINES[1][20:-1].replace(b":9,", b':"9",')), "it")


def test_brackets_without_end_are_no_line() -> None:
    assert read_ledger(with_sum(b'"a":' + b"[" * 100_000), "it").edits == ()


def test_an_entry_of_a_newer_kind_is_refused_with_the_way_out() -> None:
    newer = LINES[0] + with_sum(b'"number":2,"kind":"weave"}')
    with pytest.raises(Invalid, match="Entry 2 of it was written by a newer Quietleaf"):
        read_ledger(newer, "it")


def test_half_a_character_is_refused() -> None:
    edit = standing_of(sealed(1, 9)).edits[-1]
    broken = type(edit)(
        number=2, edit_id="x", author="\ud800", at=edit.at, revision=1, what=edit.what
    )
    with pytest.raises(Invalid, match="half a character"):
        line_of_edit(broken)
