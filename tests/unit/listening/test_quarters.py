"""Quarters of frames: where they lie at odd rates, and what they read."""

import numpy as np
import pytest

from quietleaf.listening.quarters import quarter_powers
from quietleaf.listening.sound_frames import sound_frames


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000])
def test_a_click_is_in_the_quarter_that_it_lies_in(rate: int) -> None:
    samples = np.zeros(rate)
    at = round(0.50375 * rate)
    samples[at] = 0.5
    (chunk,) = sound_frames(samples, rate)
    assert np.argwhere(chunk.quarters_db > -120.0).tolist() == [[50, 1]]


def test_channels_add_up() -> None:
    draw = np.random.default_rng(3)
    left, right = draw.normal(size=(2, 4_001)).astype(np.float32)
    both = quarter_powers(np.stack([left, right]), -1, 0, 25, 16_000)
    apart = [quarter_powers(one[np.newaxis], -1, 0, 25, 16_000) for one in (left, right)]
    assert both == pytest.approx(apart[0] + apart[1], rel=1e-6)
    by_hand = np.mean(np.diff(left.astype(np.float64))[:40] ** 2)
    assert apart[0][0, 0] == pytest.approx(by_hand, rel=1e-5)
