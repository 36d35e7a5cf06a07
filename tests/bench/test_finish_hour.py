"""The bench of `quietleaf finish`, run small, without a limit on time."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench import finish_hour
from tests import helpers


@pytest.mark.bench
def test_the_bench_of_finish_runs(ffmpeg: Path, tmp_path: Path) -> None:
    assert ffmpeg == helpers.find_ffmpeg()
    figures = finish_hour.measure(tmp_path, length_s=20.0, rounds=1)
    assert figures.ratio > 0.0
    assert figures.memory_mb > 0.0
    lines = finish_hour.report(figures)
    assert "asked for: 0.7 at most" in "\n".join(lines)
    assert not (tmp_path / "out").exists()
