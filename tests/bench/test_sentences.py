"""The judge of sentence starts: without recordings it says so, with them its places are quiet."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench import sentences
from bench.sentence_takes import known_takes
from quietleaf.listening.sentence_starts import sentence_starts
from tests import helpers


def test_without_recordings_it_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("QUIETLEAF_RECORDINGS", raising=False)
    monkeypatch.setattr(helpers, "ROOT", tmp_path / "checkout")
    lines = sentences.report(sentences.measure(tmp_path))
    assert len(lines) == 1
    assert "not judged" in lines[0]


@pytest.mark.bench
def test_real_readings(recordings: Path) -> None:
    rows = tuple(
        sentences.judge(take, sentence_starts(take.samples, take.sample_rate_hz))
        for take in known_takes(recordings)
    )
    assert min(row.quiet for row in rows) == 1.0
    mean = sentences.mean_of("mean", rows)
    # What was reached when this was written, less a little.
    assert mean.first >= 0.88
    assert mean.two >= 0.94
