"""K-weighting: stable at every rate, and near the published response."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import freqz

from quietleaf.errors import AudioUnfit
from quietleaf.sound.kweighting import high_pass_denominator, k_gain_db, k_weighting

RATES_HZ = (8_000, 11_025, 12_000, 16_000, 22_050, 24_000, 32_000, 44_100, 64_000, 96_000, 192_000)


@pytest.mark.parametrize("sample_rate_hz", [*RATES_HZ, 48_000])
def test_poles_lie_inside_the_circle(sample_rate_hz: int) -> None:
    weighting = k_weighting(sample_rate_hz)
    for denominator in (weighting.shelf[3:], weighting.high_pass):
        assert np.abs(np.roots([1.0, *denominator])).max() < 1.0


@pytest.mark.parametrize("sample_rate_hz", RATES_HZ)
def test_other_rates_respond_as_48_khz(sample_rate_hz: int) -> None:
    frequency_hz = np.geomspace(20.0, min(0.45 * sample_rate_hz, 20_000.0), 200)
    ours = k_gain_db(k_weighting(sample_rate_hz), frequency_hz)
    published = k_gain_db(k_weighting(48_000), frequency_hz)
    assert np.abs(ours - published).max() < 0.01


def test_gain_is_that_of_the_filter() -> None:
    weighting = k_weighting(44_100)
    frequency_hz = np.array([30.0, 997.0, 12_000.0])
    _, shelf = freqz(weighting.shelf[:3], [1.0, *weighting.shelf[3:]], worN=frequency_hz, fs=44_100)
    _, high_pass = freqz(
        [1.0, -2.0, 1.0], [1.0, *weighting.high_pass], worN=frequency_hz, fs=44_100
    )
    gain_db = 20.0 * np.log10(np.abs(shelf * high_pass))
    assert k_gain_db(weighting, frequency_hz).tolist() == pytest.approx(gain_db.tolist(), abs=1e-6)


def test_high_pass_is_3_db_down_at_its_corner() -> None:
    denominator = high_pass_denominator(80.0, 0.5**0.5, 48_000)
    gain = (denominator[0] - denominator[1] + denominator[2]) / 4.0
    _, response = freqz(gain * np.array([1.0, -2.0, 1.0]), denominator, worN=[80.0], fs=48_000)
    assert 20.0 * np.log10(np.abs(response[0])) == pytest.approx(-3.01, abs=0.01)


def test_a_rate_below_8_khz_is_refused() -> None:
    with pytest.raises(AudioUnfit, match="at least 8000 samples a second; this recording has 7999"):
        k_weighting(7_999)
