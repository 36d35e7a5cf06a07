"""A reading's folder: its name, its entries, its takes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from quietleaf.booth.edits import Again, ArticleStarted, Cut, StateSet, Undo
from quietleaf.booth.ledger import line_of_edit
from quietleaf.booth.timeline import Span
from quietleaf.errors import Conflict, Damaged, Invalid, NotFound
from quietleaf.storage.reading_folder import (
    LEDGER,
    ReadingFolder,
    create_reading,
    find_reading,
    reading_paths,
)
from tests.readings import AT, FACTS, create_rolling, folder_with, noise


def test_a_new_reading_lies_where_its_programme_and_issue_say(tmp_path: Path) -> None:
    folder = create_reading(tmp_path, FACTS, AT, "Ada")
    assert folder.path == tmp_path / "readings/harbour-morning/2026-11-25-r7"
    assert sorted(path.name for path in folder.path.iterdir()) == [
        LEDGER,
        "masters",
        "measures",
        "takes",
    ]
    opened = ReadingFolder(folder.path)
    assert opened.facts == FACTS
    assert (opened.state, opened.revision, opened.takes()) == ("assigned", 1, ())
    assert opened.timeline().spans == ()


def test_a_reading_is_made_once(tmp_path: Path) -> None:
    create_reading(tmp_path, FACTS, AT, "Ada")
    with pytest.raises(Conflict, match="Reading r7 is there already"):
        create_reading(tmp_path, FACTS, AT, "Ada")


@pytest.mark.parametrize("name", ["", "..", "a/b", "Harbour", "a--b", "-a", "a b", "a\n", "ä"])
def test_a_name_that_could_lead_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    for facts in (replace(FACTS, programme_key=name), replace(FACTS, reading_id=name)):
        with pytest.raises(Invalid, match="lower-case letters, digits and hyphens"):
            create_reading(tmp_path, facts, AT, "Ada")
    assert list(tmp_path.iterdir()) == []


def test_a_local_time_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Invalid, match="in UTC"):
        create_reading(tmp_path, FACTS, datetime(2026, 11, 25, 9), "Ada")  # noqa: DTZ001
    assert reading_paths(tmp_path) == []


def test_a_take_brought_in_joins_and_is_handed_in(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(500))
    folder.append(StateSet(state="handed in", note=""), author="Ada", at=AT)
    found = find_reading(tmp_path, "r7")
    assert found.state == "handed in"
    assert found.takes() == folder.takes()
    assert found.timeline().spans == (Span(take=1, start=0, stop=500),)
    with found.open_take(1) as reader:
        assert (reader.read(0, 500)[:, 0] == noise(500)).all()


def test_a_take_that_rolls_can_be_marked_taken_again_and_resumed(tmp_path: Path) -> None:
    folder = create_rolling(tmp_path)
    with folder.resume(1) as writer:
        writer.append(bytes(3 * 1_000))
        writer.sync()
        folder.append(
            Again(take=1, mark=600, back_take=1, back_sample=300, resume=800), author="Ada", at=AT
        )
        mark = ArticleStarted(take=1, sample=900, title="Tides")
        folder.append(mark, author="Ada", at=AT)
        spans = ReadingFolder(folder.path).timeline().spans
        assert spans[-1] == Span(take=1, start=800, stop=1_000)
    with folder.resume(1) as writer:
        assert writer.durable_samples == 1_000
        folder.seal(writer, origin="a test", author="Ada", at=AT)
    with pytest.raises(Conflict, match="Take 1 is complete; begin a new one"):
        folder.resume(1)
    assert folder.roll(48_000, author="Ada", at=AT).path.name == "0002.wav"


def test_a_take_begun_and_never_entered_is_begun_anew(tmp_path: Path) -> None:
    folder = create_reading(tmp_path, FACTS, AT, "Ada")
    with folder.next_take(44_100) as writer:
        writer.append(bytes(300))
    with folder.next_take(48_000) as writer:
        assert writer.sync() == 0
    assert writer.path.name == "0001.wav"


def test_asking_twice_enters_once(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100))
    first = folder.append(Cut(take=1, start=0, stop=5), author="Ada", at=AT, edit_id="one")
    other = ReadingFolder(folder.path)
    other.append(Undo(of=first.number), author="Ada", at=AT)
    later = datetime(2026, 11, 25, 12, tzinfo=UTC)
    again = folder.append(Cut(take=1, start=0, stop=5), author="Ada", at=later, edit_id="one")
    assert again == first
    assert folder.revision == 4


def test_no_edit_changes_a_take(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100), noise(57))
    before = {path: path.read_bytes() for path in (folder.path / "takes").iterdir()}
    assert len(before) == 4
    for what in (
        Cut(take=1, start=0, stop=100),
        Again(take=2, mark=20, back_take=1, back_sample=50, resume=40),
        ArticleStarted(take=2, sample=41, title="Tides"),
        Undo(of=5),
        Undo(of=7),
        Undo(of=2),
        StateSet(state="handed in", note=""),
    ):
        folder.append(what, author="Ada", at=AT)
        folder.timeline()
    assert {path: path.read_bytes() for path in (folder.path / "takes").iterdir()} == before


def test_a_take_that_is_not_what_the_ledger_says_is_damage(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(100), noise(57))
    for suffix in ("wav", "sums"):
        (folder.path / f"takes/0002.{suffix}").replace(folder.path / f"takes/0001.{suffix}")
    with pytest.raises(Damaged, match=r"was 100 samples at 48000 Hz .* the disk has 57"):
        folder.open_take(1)


def test_what_is_not_there_is_said_so(tmp_path: Path) -> None:
    folder = create_reading(tmp_path, FACTS, AT, "Ada")
    with pytest.raises(NotFound, match="has no take 1"):
        folder.open_take(1)
    with pytest.raises(NotFound, match="no reading r8"):
        find_reading(tmp_path, "r8")
    opened = folder.ledger()[0]
    (folder.path / LEDGER).write_bytes(line_of_edit(replace(opened, what=Undo(of=1))))
    with pytest.raises(Damaged, match="does not begin with what the reading is for"):
        find_reading(tmp_path, "r7")
    (folder.path / LEDGER).write_bytes(b"")
    with pytest.raises(Damaged, match="has no whole line"):
        ReadingFolder(folder.path)


def test_a_folder_put_elsewhere_is_damage(tmp_path: Path) -> None:
    folder = create_reading(tmp_path, FACTS, AT, "Ada")
    moved = folder.path.rename(folder.path.with_name("2026-11-26-r7"))
    with pytest.raises(Damaged, match="belongs at readings/harbour-morning/2026-11-25-r7"):
        ReadingFolder(moved).check_place(tmp_path)
