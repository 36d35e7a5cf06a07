"""The bench of hearing, small: it runs, and its figures are figures. No limit on time."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench import hear_hour


@pytest.mark.bench
def test_a_short_hour(tmp_path: Path, ffmpeg: Path) -> None:
    figures = hear_hour.measure(tmp_path, length_s=20.0, rounds=1)
    assert figures.ours_s > 0.0
    assert figures.ffmpeg_s > 0.0
    assert 1.0 < figures.one_mb < hear_hour.MEMORY_MB_MOST
    # Ten times 20 s fill what is kept of the last minute; ten hours are for `make bench`.
    assert figures.memory_ratio < 1.3
    assert any("ffmpeg version" in line for line in hear_hour.report(figures))
