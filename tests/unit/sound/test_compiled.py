"""Compiled loops work wherever the package lies, and give what plain Python gives."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import quietleaf
from quietleaf.sound.compiled import kernel

SCRIPT = """
import numpy as np
from quietleaf.sound import true_peak
from quietleaf.sound.true_peak import chunk_peaks
print(true_peak.__file__, chunk_peaks(np.array([0.1, -0.5, 0.25, 0.2]), 2).tolist())
"""


@pytest.fixture
def package(tmp_path: Path) -> Path:
    """Copy the package's compiled rooms to a folder of their own; give that folder."""
    source = Path(quietleaf.__file__).parent
    copy = tmp_path / "place" / "quietleaf"
    shutil.copytree(source / "sound", copy / "sound", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("__init__.py", "errors.py"):
        shutil.copy(source / name, copy)
    return copy.parent


def run(place: Path, home: Path) -> str:
    """Run the script on the copy, with a home folder of its own."""
    environment = {"PYTHONPATH": str(place), "HOME": str(home), "PATH": os.environ["PATH"]}
    done = subprocess.run(
        [sys.executable, "-B", "-c", SCRIPT],
        check=True,
        capture_output=True,
        text=True,
        env=environment,
        cwd=home.parent,
    )
    assert str(place) in done.stdout
    return done.stdout


def test_compiled_code_is_kept_beside_the_module(package: Path, tmp_path: Path) -> None:
    assert "[0.5, 0.25]" in run(package, tmp_path / "home")
    assert list((package / "quietleaf" / "sound" / "__pycache__").glob("*_chunk_peaks*.nbc"))


def test_or_in_the_home_folder_where_the_package_cannot_be_written(
    package: Path, tmp_path: Path
) -> None:
    # A file in place of the folder keeps root out too.
    (package / "quietleaf" / "sound" / "__pycache__").write_text("")
    home = tmp_path / "home"
    home.mkdir()
    assert "[0.5, 0.25]" in run(package, home)
    assert list(home.rglob("*_chunk_peaks*.nbc"))


def test_or_nowhere(package: Path, tmp_path: Path) -> None:
    (package / "quietleaf" / "sound" / "__pycache__").write_text("")
    home = tmp_path / "home"
    home.write_text("")
    assert "[0.5, 0.25]" in run(package, home)


def test_a_loop_gives_what_plain_python_gives() -> None:
    def total(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
        result = 0.0
        for value in values:
            result += value * value
        return result

    values = np.random.default_rng(2).normal(size=1_000)
    assert kernel(total)(values) == total(values)
