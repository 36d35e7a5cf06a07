"""Going back to an earlier version, stopped anywhere: one or the other is in use, both whole."""

from __future__ import annotations

from pathlib import Path

from quietleaf.storage.index_rows import master_row, read_made, version_in_use, write_made
from quietleaf.storage.new_file import write_text_file
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.storage.versions import MadeVersion, read_versions, version_to_text
from quietleaf.work.use_version import use_version
from tests.faults.stopping import StoppingDisk, runs_until_it_succeeds
from tests.finished import FACTS, NOW, bring_reading, example_station


def finished_twice(folder: ReadingFolder) -> None:
    for number, name in ((1, "plan.json"), (2, "plan-2.json")):
        plan = folder.path / "masters" / name
        write_text_file(plan, f"{number}\n")
        rows = (master_row("plan", plan, {}),)
        version = MadeVersion(number=number, at=NOW, by="", revision=3, again=None, masters=rows)
        write_text_file(plan.with_name(name.replace("plan", "version")), version_to_text(version))
        write_made(folder, rows, number)


def test_one_or_the_other_version_is_in_use(tmp_path: Path) -> None:
    def run(stopping: StoppingDisk, place: Path) -> None:
        # What is there already is made with a disk that works.
        stopping.calls = -10_000
        tools = example_station(place)
        with tools.database:
            finished_twice(bring_reading(tools))
            stopping.calls = 0
            use_version(FACTS.reading_id, 1, 2, "Ida", tools)

    left = runs_until_it_succeeds(run, tmp_path, shares=(0.0, 1.0))
    assert left
    seen = set()
    for _, place in left:
        folder = find_reading(place, FACTS.reading_id)
        used = version_in_use(folder.path)
        seen.add(used)
        assert used in (2, 3)
        assert [row.path for row in read_made(folder.path)] == [
            "masters/plan-2.json" if used == 2 else "masters/plan.json"
        ]
        assert {one.number for one in read_versions(folder.path)} >= {1, 2}
    assert 2 in seen
