"""The bench of streams, small: it runs, and its figures are figures. No limit on time."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench import streams


@pytest.mark.bench
def test_a_few_streams(tmp_path: Path) -> None:
    figures = streams.measure(tmp_path, length_s=1.0, streams=3)
    assert figures.lost == 0
    assert 0.0 < figures.ours.median_s <= figures.ours.p99_s <= figures.ours.longest_s
    assert figures.bare.median_s > 0.0
    assert figures.ours.processor_s > 0.0
    assert any("of 48 kHz" in line for line in streams.report(figures))
