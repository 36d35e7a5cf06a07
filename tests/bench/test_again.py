"""The bench of *Again*, run small, without a limit on time."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests import helpers


@pytest.mark.long
@pytest.mark.bench
def test_presses_are_counted(node: Path) -> None:
    try:
        helpers.find_browser()
    except helpers.HelperMissing as missing:
        pytest.skip(str(missing))
    done = subprocess.run(
        [sys.executable, "-m", "bench", "again", "--length", "10", "--rounds", "1"],
        cwd=helpers.ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "again: 2 presses" in done.stdout
