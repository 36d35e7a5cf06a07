"""Finishing again, stopped at any call of the disk: one version is in use, and it is whole."""

from __future__ import annotations

import shutil
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import read_made, reading_row, version_in_use
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.storage.versions import read_versions
from quietleaf.work import finish_programme as finishing
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.finish_sound import MadeMaster, finish_sound
from quietleaf.work.tools import Tools
from tests.faults.stopping import StoppingDisk, runs_until_it_succeeds
from tests.repaired import AT, FACTS, repaired_station


@dataclass(frozen=True)
class Kept:
    """A station with a finished reading, and what was made of its sound."""

    data: Path
    made: MadeMaster
    files: tuple[Path, Path]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Kept:
    data = tmp_path_factory.mktemp("station")
    caught: list[MadeMaster] = []

    def catching(*given: object) -> MadeMaster:
        made = finish_sound(*given)  # type: ignore[arg-type]
        caught.append(made)
        return made

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(finishing, "finish_sound", catching)
        with repaired_station(data):
            pass
    masters = find_reading(data, FACTS.reading_id).path / "masters"
    (wave,), (mp3,) = masters.glob("*.wav"), masters.glob("*.mp3")
    return Kept(data, caught[0], (wave, mp3))


def finish_again(kept: Kept, data: Path) -> None:
    """Finish a copy of it once more; its sound was made before, the files are copied."""

    def made_before(*given: object) -> MadeMaster:
        _, _, labels, folder, *_ = given
        assert isinstance(folder, Path)
        wave = folder / labels.wave_name  # type: ignore[attr-defined]
        mp3 = folder / labels.mp3_name  # type: ignore[attr-defined]
        for source, path in zip(kept.files, (wave, mp3), strict=True):
            shutil.copy(source, path)
        return replace(
            kept.made,
            wave=replace(kept.made.wave, path=wave),
            mp3=replace(kept.made.mp3, path=mp3),
        )

    with pytest.MonkeyPatch.context() as patch, Database(database_url(data)) as database:
        patch.setattr(finishing, "finish_sound", made_before)
        tools = Tools(data=data, database=database, clock=lambda: AT)
        finishing.finish_programme(FinishProgramme(source=FACTS.reading_id), tools)


def test_the_old_version_or_the_new_one_is_in_use_and_whole(kept: Kept, tmp_path: Path) -> None:
    def run(stopping: StoppingDisk, place: Path) -> None:
        stopping.calls = -10_000
        shutil.copytree(kept.data, place, dirs_exist_ok=True)
        stopping.calls = 0
        finish_again(kept, place)

    left = runs_until_it_succeeds(run, tmp_path, shares=(1.0,))
    used = []
    for _, place in left:
        folder: ReadingFolder = find_reading(place, FACTS.reading_id)
        used.append(version_in_use(folder.path))
        masters = read_made(folder.path)
        assert {row.kind for row in masters} == {"wave", "mp3", "plan", "report", "report-facts"}
        versions = {one.number: one for one in read_versions(folder.path)}
        assert versions[used[-1] or 0].masters == masters
        # The next one clears up, and is taken into use; so says the index.
        finish_again(kept, place)
        again = find_reading(place, FACTS.reading_id)
        assert version_in_use(again.path) not in (None, used[-1])
        assert not list((again.path / "masters").glob(".finishing-*"))
        with Database(database_url(place)) as database:
            assert database.reading(FACTS.reading_id) == reading_row(again)
    assert {1, 2} == set(used)
