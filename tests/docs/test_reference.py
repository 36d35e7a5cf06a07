"""The reference page is what the code says; every setting, command and refusal stands in it."""

import subprocess
import sys
from pathlib import Path

from quietleaf.cli.main import COMMANDS
from quietleaf.settings import SETTINGS

ROOT = Path(__file__).parent.parent.parent


def test_the_reference_is_as_the_code_has_it() -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "make_reference.py"), "--check"], check=False
    )
    assert done.returncode == 0, "write it again: python scripts/make_reference.py"


def test_every_command_and_setting_is_documented() -> None:
    page = (ROOT / "docs" / "reference.md").read_text("utf-8")
    assert all(f"### quietleaf {name}" in page for name in COMMANDS)
    assert all(f"`QUIETLEAF_{setting.name.upper()}`" in page for setting in SETTINGS)
