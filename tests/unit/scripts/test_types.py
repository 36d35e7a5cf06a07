"""The types that the pages' scripts say in their comments hold together."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

CONFIGS = Path(__file__).parents[3] / "scripts" / "typecheck"


@pytest.mark.parametrize("where", ["page", "worker", "worklet"])
def test_types_hold(typescript: list[str], where: str) -> None:
    done = subprocess.run(
        [*typescript, "--project", str(CONFIGS / f"{where}.json")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
