"""What is usual of a reader's pauses, and what is noticed."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.listening.reader_pauses import UNKNOWN, reader_pauses


@pytest.mark.parametrize("median_s", [0.36, 0.5, 0.7])
@pytest.mark.parametrize("sigma", [0.18, 0.35, 0.55])
def test_a_log_normal_reader_is_found_again(median_s: float, sigma: float) -> None:
    drawn = np.random.default_rng(4).lognormal(np.log(median_s), sigma, size=400)
    kept = drawn[(drawn >= 0.25) & (drawn <= 3.0)]
    known = reader_pauses(drawn)
    assert known.count == kept.size
    # Those that are too short to count make the others longer, by as much as they are many.
    assert known.median_s == pytest.approx(float(np.median(kept)), rel=1e-6)
    low, high = known.usual_s()
    assert np.mean((kept >= low) & (kept <= high)) == pytest.approx(0.8, abs=0.07)


def test_what_is_noticed_lies_outside_all_that_is_usual() -> None:
    for known in (UNKNOWN, reader_pauses([0.31] * 20), reader_pauses([0.3, 1.4] * 10)):
        low, high = known.usual_s()
        assert 0.12 <= known.shortest_s < low < known.median_s < high
        assert 1.2 <= known.longest_s <= 2.2
        assert known.longest_s > known.median_s


def test_pauses_that_are_none_between_sentences_do_not_count() -> None:
    assert reader_pauses([0.1] * 50 + [8.0] * 50) == UNKNOWN
