"""Going back to an earlier version: a new record, and nothing is written over."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from quietleaf.booth.edits import StateSet
from quietleaf.errors import Conflict, Damaged, NotFound
from quietleaf.storage.finishing_marks import FinishingMark, write_mark
from quietleaf.storage.index_rows import master_row, read_made, reading_row, version_in_use
from quietleaf.storage.index_rows import write_made as write
from quietleaf.storage.new_file import write_text_file
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.versions import MadeVersion, read_versions, version_to_text
from quietleaf.work.rebuild_index import rebuild_index
from quietleaf.work.see_reading import find_made_file
from quietleaf.work.told_index import index_as_it_is
from quietleaf.work.tools import Tools
from quietleaf.work.use_version import use_version
from tests.finished import FACTS, NOW, bring_reading, example_station

ID = FACTS.reading_id


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        yield made


@pytest.fixture
def folder(tools: Tools) -> ReadingFolder:
    """A reading that was finished twice; of what is made there is a plan alone."""
    folder = bring_reading(tools)
    for number in (1, 2):
        end = "" if number == 1 else f"-{number}"
        plan = folder.path / "masters" / f"plan{end}.json"
        write_text_file(plan, f'{{"number": {number}}}\n')
        rows = (master_row("plan", plan, {}),)
        version = MadeVersion(
            number=number, at=NOW, by="Ida", revision=folder.revision, again=None, masters=rows
        )
        write_text_file(plan.with_name(f"version{end}.json"), version_to_text(version))
        write(folder, rows, number)
    tools.database.index_reading(reading_row(folder))
    return folder


def files(folder: ReadingFolder) -> dict[str, bytes]:
    return {
        path.name: path.read_bytes()
        for path in (folder.path / "masters").iterdir()
        if path.name != "made.json"
    }


def test_the_earlier_one_is_in_use_again_and_everything_is_there(
    tools: Tools, folder: ReadingFolder
) -> None:
    before = files(folder)
    again = use_version(ID, 1, 2, "Tom", tools)
    assert (again.number, again.by, again.again) == (3, "Tom", 1)
    assert version_in_use(folder.path) == 3
    assert [row.path for row in read_made(folder.path)] == ["masters/plan.json"]
    assert {name: data for name, data in files(folder).items() if name in before} == before
    assert [one.number for one in read_versions(folder.path)] == [3, 2, 1]
    # Forward again, and back: each is one more record, and names the first whose files it has.
    assert use_version(ID, 2, 3, "", tools).again == 2
    assert use_version(ID, 3, 4, "", tools).again == 1
    assert tools.database.reading(ID) == reading_row(folder)
    assert rebuild_index(tools).differences == ()


def test_files_of_every_version_can_be_asked_for(tools: Tools, folder: ReadingFolder) -> None:
    use_version(ID, 1, 2, "Tom", tools)
    for name in ("plan.json", "plan-2.json"):
        assert find_made_file(ID, name, tools).name == name
    for name in ("version.json", "made.json", "../ledger.jsonl"):
        with pytest.raises(NotFound):
            find_made_file(ID, name, tools)


def test_somebody_elses_version_in_the_meantime_is_told(
    tools: Tools, folder: ReadingFolder
) -> None:
    use_version(ID, 1, 2, "Tom", tools)
    before = files(folder)
    with pytest.raises(Conflict, match="version 3 is in use by now"):
        use_version(ID, 1, 2, "Ida", tools)
    with pytest.raises(NotFound, match="no version 9"):
        use_version(ID, 9, 3, "Ida", tools)
    assert files(folder) == before


def test_what_is_being_finished_keeps_the_number_that_it_will_have(
    tools: Tools, folder: ReadingFolder
) -> None:
    write_mark(folder.path, FinishingMark(asked_at=NOW, by="Tom"))
    before = files(folder)
    with pytest.raises(Conflict, match="is being finished"):
        use_version(ID, 1, 2, "Ida", tools)
    assert files(folder) == before
    write_mark(folder.path, FinishingMark(asked_at=NOW, by="Tom", ending="stopped", ended_at=NOW))
    assert use_version(ID, 1, 2, "Ida", tools).number == 3


def test_one_that_stopped_before_the_index_was_told_is_in_use_all_the_same(
    tools: Tools, folder: ReadingFolder
) -> None:
    write(folder, read_versions(folder.path)[-1].masters, 1)
    row = index_as_it_is(folder, tools)
    assert [one.path for one in row.masters] == ["masters/plan.json"]
    assert row == tools.database.reading(ID) == reading_row(folder)


def test_what_is_cleared_stays_and_what_is_damaged_is_not_used(
    tools: Tools, folder: ReadingFolder
) -> None:
    (folder.path / "masters" / "plan.json").write_text("{}\n")
    with pytest.raises(Damaged, match=r"plan\.json of version 1 is not as it was made"):
        use_version(ID, 1, 2, "Ida", tools)
    folder.append(StateSet(state="cleared", note=""), author="Desk", at=NOW)
    with pytest.raises(Conflict, match="Return it first"):
        use_version(ID, 1, 2, "Ida", tools)


@pytest.mark.parametrize("broken", ["{", "[]", "{}", '{"at": 1, "by": "", "masters": []}'])
def test_a_record_that_was_tampered_with_is_refused_in_a_sentence(
    folder: ReadingFolder, broken: str
) -> None:
    (folder.path / "masters" / "version-2.json").write_text(broken)
    with pytest.raises(Damaged, match="is not as it was written"):
        read_versions(folder.path)
