"""What the page of handing in reasons, without a browser: drafts, and what is still to be sent."""

from __future__ import annotations

import subprocess
from pathlib import Path


def test_handing_in_reasons_rightly(node: Path) -> None:
    tests = Path(__file__).with_name("hand_in.test.mjs")
    done = subprocess.run([node, "--test", tests], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    assert " pass 6\n" in done.stdout
