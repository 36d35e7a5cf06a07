"""Whatever is done to the bytes of a file: it is read, or refused in a sentence with a code.

In a process of its own, within limits of memory and of computing time: `tests.hostile`. A failure
names the kind and the number of the mutation, which makes it again.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from tests.hostile import KINDS

ROOT = Path(__file__).parents[2]
SUMMED = ("vorbis", "opus")
"""Each page has its checksum: next to nothing that is changed is read."""


def hostile(first: int, count: int) -> dict[str, Counter[str]]:
    """Work through so many mutations of all kinds, and give what became of each kind's."""
    command = [sys.executable, "-W", "error", "-m", "tests.hostile", "all", str(first), str(count)]
    done = subprocess.run(
        command,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-4_000:]
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    return {line["kind"]: Counter(line["told"]) for line in lines}


def check_kinds(told: dict[str, Counter[str]], count: int) -> None:
    assert told.keys() == KINDS.keys()
    assert sum(kind.total() for kind in told.values()) == count
    for name, kind in told.items():
        # Were all refused, or none, the mutations would say nothing.
        assert 0.02 < kind["read"] / kind.total() < 0.9 or name in SUMMED, (name, kind)
        assert kind["read"] < kind.total()


def test_ten_thousand_hostile_files() -> None:
    check_kinds(hostile(0, 10_000), 10_000)


@pytest.mark.long
@pytest.mark.parametrize("batch", range(20))
def test_a_million_hostile_files(batch: int) -> None:
    check_kinds(hostile(10_000 + batch * 50_000, 50_000), 50_000)
