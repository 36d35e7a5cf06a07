"""The bench of the stand's page, run small, without a limit on time."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests import helpers


@pytest.mark.bench
def test_minutes_at_the_stand(node: Path) -> None:
    try:
        helpers.find_browser()
    except helpers.HelperMissing as missing:
        pytest.skip(str(missing))
    # Its own process, since the tests' browser keeps an event loop in this one.
    done = subprocess.run(
        [sys.executable, "-m", "bench", "stand", "--length", "120", "--rounds", "1"],
        cwd=helpers.ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "2 minutes of reading" in done.stdout
    memory = next(line for line in done.stdout.splitlines() if "memory" in line)
    assert len(memory.split()) == 1 + 6 + 1
