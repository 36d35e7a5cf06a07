"""A process that records is killed by SIGKILL at a moment of chance: the confirmed is there."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest

from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.storage.takes import recover_take
from tests.faults.reading_takes import lengths
from tests.readings import AT, FACTS, create_rolling

CHILD = """
import itertools, sys
from pathlib import Path
from quietleaf.booth.edits import ArticleStarted
from quietleaf.storage.reading_folder import ReadingFolder
from tests.readings import AT, part_of_take

folder = ReadingFolder(Path(sys.argv[1]))
with folder.resume(1) as writer:
    for number in itertools.count():
        writer.append(part_of_take(number))
        samples = writer.sync()
        entry = 0
        if number % 3 == 0:
            mark = ArticleStarted(take=1, sample=samples, title=f"{number}")
            entry = folder.append(mark, author="Ada", at=AT).number
        print(samples, entry, flush=True)
"""


def kill_once(data: Path, after_lines: int, ffprobe: Path) -> None:
    """Kill a recording process after it confirmed so often, wherever it then is."""
    folder = create_rolling(data)
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder.path)],
        cwd=Path(__file__).parents[2],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    confirmed, entry = 0, 0
    for _, line in zip(range(after_lines), child.stdout, strict=False):
        confirmed, written = (int(word) for word in line.split())
        entry = max(entry, written)
    child.kill()
    rest = child.stdout.read()
    child.wait()
    child.stdout.close()
    for line in rest.splitlines():
        if line.count(" ") == 1 and rest.endswith("\n"):
            confirmed, written = (int(word) for word in line.split())
            entry = max(entry, written)
    path = folder.take_path(1)
    opened = lengths(path, ffprobe)
    assert len(set(opened.values())) == 1
    assert opened["wave"] >= confirmed
    stored = recover_take(path)
    assert stored.samples >= confirmed
    assert set(lengths(path, ffprobe).values()) == {stored.samples}
    found = find_reading(data, FACTS.reading_id)
    assert found.revision >= max(entry, 2)
    assert found.timeline().spans[-1].stop == stored.samples
    with ReadingFolder(folder.path).resume(1) as writer:
        seal = found.seal(writer, origin="a test", author="Ada", at=AT)
    assert seal.number == found.revision


def test_a_few_kills(tmp_path: Path, ffprobe: Path) -> None:
    rng = random.Random(20261125)
    for number in range(4):
        kill_once(tmp_path / f"{number}", rng.randint(1, 60), ffprobe)


@pytest.mark.long
def test_many_kills(tmp_path: Path, ffprobe: Path) -> None:
    rng = random.Random(500)
    for number in range(500):
        kill_once(tmp_path / f"{number}", rng.randint(1, 200), ffprobe)
