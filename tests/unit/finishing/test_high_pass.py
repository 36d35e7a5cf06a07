"""The high-pass: the textbook filter, no step from DC, speech unharmed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, freqz_sos, sosfilt, sosfilt_zi

from quietleaf.finishing.high_pass import CORNER_HZ, start_high_pass, step_high_pass
from tests.voices import RATE_HZ, reading


def test_it_is_the_butterworth_filter_of_fourth_order() -> None:
    samples = np.random.default_rng(2).normal(size=30_000)
    sections = butter(4, CORNER_HZ, "highpass", fs=RATE_HZ, output="sos")
    wanted, _ = sosfilt(sections, samples, zi=sosfilt_zi(sections) * samples[0])
    got = step_high_pass(start_high_pass(RATE_HZ), samples)
    np.testing.assert_allclose(got, wanted, atol=1e-9)


def test_any_cutting_into_blocks_gives_the_same_bits() -> None:
    samples = np.random.default_rng(3).normal(size=5_000)
    whole = step_high_pass(start_high_pass(RATE_HZ), samples)
    memory = start_high_pass(RATE_HZ)
    cut = [step_high_pass(memory, part) for part in np.split(samples, [1, 7, 800, 4_999])]
    assert np.array_equal(np.concatenate(cut), whole)


def test_dc_goes_without_a_step() -> None:
    filtered = step_high_pass(start_high_pass(RATE_HZ), np.full(RATE_HZ, -0.3))
    assert np.abs(filtered).max() < 1e-12


@pytest.mark.parametrize(
    ("frequency_hz", "least_db", "most_db"),
    # Half power at the corner and 24 dB an octave below, by the definition of the filter.
    [(50.0, -3.1, -2.9), (25.0, -24.5, -23.5), (12.5, -49.0, -47.0), (100.0, -0.1, 0.0)],
)
def test_rumble_falls_and_voices_stay(frequency_hz: float, least_db: float, most_db: float) -> None:
    time_s = np.arange(4 * RATE_HZ) / RATE_HZ
    tone = np.sin(2 * np.pi * frequency_hz * time_s)
    late = step_high_pass(start_high_pass(RATE_HZ), tone)[2 * RATE_HZ :]
    level_db = 10 * np.log10(np.mean(late**2) / 0.5)
    assert least_db <= level_db <= most_db


def test_a_voice_keeps_its_level() -> None:
    samples = reading().samples()
    filtered = step_high_pass(start_high_pass(RATE_HZ), samples)
    change_db = 10 * np.log10(np.mean(filtered**2) / np.mean(samples**2))
    assert abs(change_db) < 0.1
    response = freqz_sos(
        butter(4, CORNER_HZ, "highpass", fs=RATE_HZ, output="sos"), [85], fs=RATE_HZ
    )
    assert 20 * np.log10(np.abs(response[1][0])) > -0.1
