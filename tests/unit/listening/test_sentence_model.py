"""The reader's model: what it learns of a reader, and the laws of a likelihood."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.listening.sentence_model import LIKELY, ReaderMemory, likelihood_of


def read(usual_s: float, inner_s: float, seed: int, count: int = 60) -> list[tuple[bool, float]]:
    """Let a reader pause: every third or fourth pause is between sentences."""
    draw = np.random.default_rng(seed)
    reader = ReaderMemory()
    said = []
    for index in range(count):
        ends = index % 7 in (2, 6)
        pause_s = (usual_s if ends else inner_s) * float(np.exp(0.15 * draw.normal()))
        said.append((ends, likelihood_of(reader, pause_s, 2.0 + float(draw.random()))))
    return said


@pytest.mark.parametrize(("usual_s", "inner_s"), [(0.4, 0.16), (0.7, 0.25), (1.1, 0.4)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_fast_and_slow_readers_are_learned(usual_s: float, inner_s: float, seed: int) -> None:
    late = read(usual_s, inner_s, seed)[25:]
    right = [ends == (likelihood >= LIKELY) for ends, likelihood in late]
    assert np.mean(right) >= 0.9


def test_a_longer_pause_is_likelier() -> None:
    reader = ReaderMemory()
    for pause_s in (0.3, 0.8, 0.25, 0.9, 0.3):
        likelihood_of(reader, pause_s, 2.0)
    kept = reader.cells.copy()
    found = []
    for pause_s in (0.02, 0.1, 0.2, 0.4, 0.6, 0.9, 1.5, 60.0):
        reader.cells = kept.copy()
        found.append(likelihood_of(reader, pause_s, 2.0))
        assert reader.cells.sum() == pytest.approx(1.0)
        assert (reader.cells > 0.0).all()
    assert found == sorted(found)
    assert 0.0 < found[0] < found[-1] < 1.0


def test_a_page_that_is_turned_teaches_nothing() -> None:
    reader = ReaderMemory()
    kept = reader.cells.copy()
    assert likelihood_of(reader, 4.0, 2.0) > LIKELY
    np.testing.assert_array_equal(reader.cells, kept)


def test_nothing_odd_breaks_it() -> None:
    reader = ReaderMemory()
    for pause_s, speech_s in [(0.0, 0.0), (1e6, 1e6), (0.1, 0.0), (3.0, 7_200.0)] * 50:
        assert 0.0 <= likelihood_of(reader, pause_s, speech_s) <= 1.0
    assert np.isfinite(reader.cells).all()
