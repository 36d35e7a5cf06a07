"""The room check's reasoning in the browser, and that both sides know the same test sound."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np

from quietleaf.listening.room_leak import leak_sweep

HERE = Path(__file__).parent
CORE = HERE.parents[2] / "src" / "quietleaf" / "web" / "static" / "scripts" / "core" / "room.js"


def test_the_room_check_reasons_rightly(node: Path) -> None:
    done = subprocess.run(
        [node, "--test", HERE / "room.test.mjs"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout
    assert "pass 5\n" in done.stdout


def test_the_page_plays_what_the_station_looks_for(node: Path) -> None:
    script = (
        f'import {{ testSweep }} from "{CORE.as_uri()}";'
        "process.stdout.write(new Uint8Array(testSweep(44100).buffer));"
    )
    done = subprocess.run(
        [node, "--input-type=module", "-e", script], capture_output=True, check=True
    )
    played = np.frombuffer(done.stdout, "<f4")
    assert np.abs(played - leak_sweep(44_100)).max() < 1e-6
