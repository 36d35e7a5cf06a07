"""The pages' own reasoning, without a browser: states, keys, guide, words, places."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.mark.parametrize(
    "name",
    ["standing", "sent_back", "keys", "guide", "edges", "programme", "stand_texts", "places_heard"],
)
def test_the_stand_reasons_rightly(node: Path, name: str) -> None:
    done = subprocess.run(
        [node, "--test", HERE / f"{name}.test.mjs"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout
    assert "# pass 0\n" not in done.stdout
