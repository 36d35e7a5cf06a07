"""Laws of the ledger's lines: what is written is read, and what is torn is seen."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quietleaf.booth.edits import (
    DECISIONS,
    REMARK_KINDS,
    Again,
    ArticleStarted,
    Cut,
    Decided,
    Edit,
    Happening,
    Opened,
    Patch,
    Remarked,
    StateSet,
    TakeRolled,
    TakeSealed,
    Undo,
)
from quietleaf.booth.ledger import line_of_edit, read_ledger
from quietleaf.booth.reading import READING_STATES, ReadingFacts
from quietleaf.booth.replay import Standing
from quietleaf.errors import Damaged
from tests.readings import standings

WHOLE = st.integers(0, 1 << 60)
HEX = st.text("0123456789abcdef", min_size=64, max_size=64)
ANYTHING: st.SearchStrategy[Happening] = st.one_of(
    st.builds(
        Opened,
        facts=st.builds(
            ReadingFacts,
            reading_id=st.text(),
            programme_key=st.text(),
            programme_title=st.text(),
            publication=st.text(),
            issue_date=st.dates(),
            readers=st.lists(st.text()).map(tuple),
            air_date=st.none() | st.dates(),
        ),
    ),
    st.builds(TakeRolled, take=WHOLE, sample_rate_hz=WHOLE),
    st.builds(
        TakeSealed, take=WHOLE, sample_rate_hz=WHOLE, samples=WHOLE, sha256=HEX, origin=st.text()
    ),
    st.builds(
        Again,
        take=WHOLE,
        mark=WHOLE,
        back_take=WHOLE,
        back_sample=WHOLE,
        resume=WHOLE,
        lead_in=WHOLE,
    ),
    st.builds(TakeRolled, take=WHOLE, sample_rate_hz=WHOLE, read_for=WHOLE, first_take=WHOLE),
    st.builds(
        Patch,
        read_for=WHOLE,
        begin=st.tuples(WHOLE, WHOLE),
        until=st.tuples(WHOLE, WHOLE),
        start=st.tuples(WHOLE, WHOLE),
        stop=st.tuples(WHOLE, WHOLE),
    ),
    st.builds(Cut, take=WHOLE, start=WHOLE, stop=WHOLE),
    st.builds(ArticleStarted, take=WHOLE, sample=WHOLE, title=st.text()),
    st.builds(
        Decided,
        start=st.tuples(WHOLE, WHOLE),
        stop=st.tuples(WHOLE, WHOLE),
        finding=st.text(),
        decision=st.sampled_from(DECISIONS),
        remark=st.sampled_from(REMARK_KINDS),
        note=st.text(),
    ),
    st.builds(Remarked, place=st.tuples(WHOLE, WHOLE), text=st.text()),
    st.builds(Undo, of=WHOLE),
    st.builds(StateSet, state=st.sampled_from(READING_STATES), note=st.text()),
)
EDITS = st.builds(
    Edit,
    number=st.just(1),
    edit_id=st.text(min_size=1),
    author=st.text(),
    at=st.datetimes(timezones=st.just(UTC)),
    revision=WHOLE,
    what=ANYTHING,
)


@given(EDITS)
def test_an_entry_comes_back_as_it_was(edit: Edit) -> None:
    line = line_of_edit(edit)
    assert line.count(b"\n") == 1
    assert line.endswith(b"}\n")
    text = read_ledger(line, "it")
    assert text.edits == (edit,)
    assert text.whole_bytes == len(line)


@given(standings())
def test_a_ledger_comes_back_as_it_was(standing: Standing) -> None:
    data = b"".join(line_of_edit(edit) for edit in standing.edits)
    assert read_ledger(data, "it").edits == standing.edits


@given(st.lists(EDITS, min_size=1, max_size=4), st.data())
def test_a_torn_end_is_left_out(edits: list[Edit], data: st.DataObject) -> None:
    lines = _numbered(edits)
    whole = b"".join(lines)
    kept = data.draw(st.integers(0, len(whole)))
    filled = whole[:kept] + b"\0" * data.draw(st.integers(0, 40))
    text = read_ledger(filled, "it")
    count = sum(len(b"".join(lines[: n + 1])) <= kept for n in range(len(lines)))
    assert len(text.edits) == count
    assert text.whole_bytes == len(b"".join(lines[:count]))


@given(st.lists(EDITS, min_size=1, max_size=4), st.data())
def test_one_changed_bit_is_never_read(edits: list[Edit], data: st.DataObject) -> None:
    lines = _numbered(edits)
    bad = data.draw(st.integers(0, len(lines) - 1))
    at = data.draw(st.integers(0, len(lines[bad]) - 1))
    changed = bytearray(lines[bad])
    changed[at] ^= 1 << data.draw(st.integers(0, 7))
    ledger = b"".join([*lines[:bad], bytes(changed), *lines[bad + 1 :]])
    if bad == len(lines) - 1:
        assert len(read_ledger(ledger, "it").edits) == bad
    else:
        with pytest.raises(Damaged, match="not as it was written"):
            read_ledger(ledger, "it")


def _numbered(edits: list[Edit]) -> list[bytes]:
    return [line_of_edit(replace(edit, number=n)) for n, edit in enumerate(edits, start=1)]
