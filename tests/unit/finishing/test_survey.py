"""The survey: its law of blocks, and its figures against plain arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.signal import sosfilt

from quietleaf.finishing.high_pass import start_high_pass, step_high_pass
from quietleaf.finishing.survey import (
    FRAME_SAMPLES,
    Survey,
    start_survey,
    step_survey,
    survey_result,
)
from tests.voices import RATE_HZ, reading


def survey_of(samples: NDArray[np.float64], cuts: tuple[int, ...] = ()) -> Survey:
    memory = start_survey()
    for part in np.split(samples, sorted(cuts)):
        step_survey(memory, part)
    return survey_result(memory)


SAMPLES = reading(sentences=1).samples()[: 3 * RATE_HZ]
WHOLE = survey_of(SAMPLES)


@given(st.lists(st.integers(0, SAMPLES.size), max_size=6))
def test_any_cutting_into_blocks_gives_the_same(cuts: list[int]) -> None:
    parted = survey_of(SAMPLES, tuple(cuts))
    assert parted.samples == WHOLE.samples
    np.testing.assert_allclose(parted.power, WHOLE.power, rtol=1e-6)
    np.testing.assert_allclose(parted.k_power, WHOLE.k_power, rtol=1e-6)
    assert np.array_equal(parted.peak, WHOLE.peak)
    assert parted.dc == pytest.approx(WHOLE.dc, rel=1e-9, abs=1e-15)
    assert parted.raw_power == pytest.approx(WHOLE.raw_power, rel=1e-9)


def test_frames_are_mean_squares_of_5_ms() -> None:
    filtered = step_high_pass(start_high_pass(RATE_HZ), SAMPLES)
    # ITU-R BS.1770-5, Annex 1, Tables 1 and 2.
    weighting = [
        [
            1.53512485958697,
            -2.69169618940638,
            1.19839281085285,
            1,
            -1.69065929318241,
            0.73248077421585,
        ],
        [1.0, -2.0, 1.0, 1, -1.99004745483398, 0.99007225036621],
    ]
    weighted = sosfilt(weighting, filtered)
    frames = SAMPLES.size // FRAME_SAMPLES
    for got, sound in ((WHOLE.power, filtered), (WHOLE.k_power, weighted)):
        wanted = np.mean(sound[: frames * FRAME_SAMPLES].reshape(frames, -1) ** 2, axis=1)
        np.testing.assert_allclose(got, wanted, rtol=1e-5, atol=1e-14)
    greatest = np.abs(filtered[: frames * FRAME_SAMPLES]).reshape(frames, -1).max(axis=1)
    np.testing.assert_allclose(WHOLE.peak, greatest, rtol=1e-6)


def test_dc_and_rumble_are_measured() -> None:
    time_s = np.arange(SAMPLES.size) / RATE_HZ
    rumble = 0.1 * np.sin(2 * np.pi * 15.0 * time_s)
    found = survey_of(SAMPLES + 0.02 + rumble)
    assert found.dc == pytest.approx(0.02 + WHOLE.dc, abs=1e-4)
    removed = found.raw_power - found.high_passed_power
    assert 10 * np.log10(removed / (0.1**2 / 2)) == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("samples", [0, 1, FRAME_SAMPLES - 1])
def test_less_than_a_frame_has_no_frames(samples: int) -> None:
    found = survey_of(np.ones(samples))
    assert found.samples == samples
    assert found.power.size == found.k_power.size == 0
