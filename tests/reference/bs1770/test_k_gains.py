"""ITU-R BS.1770-5: the published coefficients, and the gains that follow from them."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.sound.kweighting import k_gain_db, k_weighting
from quietleaf.sound.true_peak import interpolation_phases

GAINS_DB = {
    20: -13.275,
    31.5: -7.790,
    40: -5.567,
    50: -3.934,
    63: -2.664,
    80: -1.732,
    100: -1.133,
    125: -0.728,
    160: -0.435,
    200: -0.265,
    250: -0.153,
    315: -0.075,
    400: -0.015,
    500: 0.042,
    630: 0.134,
    800: 0.328,
    997: 0.691,
    1000: 0.698,
    1250: 1.342,
    1500: 2.036,
    2000: 3.071,
    3000: 3.808,
    4000: 3.968,
    5000: 4.013,
    6300: 4.032,
    8000: 4.039,
    10000: 4.042,
    12500: 4.043,
    16000: 4.043,
    20000: 4.043,
}


def test_coefficients_are_those_of_the_tables() -> None:
    weighting = k_weighting(48_000)
    assert weighting.shelf.tolist() == [
        1.53512485958697,
        -2.69169618940638,
        1.19839281085285,
        -1.69065929318241,
        0.73248077421585,
    ]
    assert weighting.high_pass.tolist() == [-1.99004745483398, 0.99007225036621]


def test_gains_at_48_khz() -> None:
    gain_db = k_gain_db(k_weighting(48_000), np.array(list(GAINS_DB), dtype=np.float64))
    assert gain_db.tolist() == pytest.approx(list(GAINS_DB.values()), abs=0.005)


@pytest.mark.parametrize(
    "sample_rate_hz",
    [8_000, 11_025, 16_000, 22_050, 24_000, 32_000, 44_100, 88_200, 96_000, 192_000],
)
def test_gains_at_other_rates(sample_rate_hz: int) -> None:
    wanted = {
        frequency: gain
        for frequency, gain in GAINS_DB.items()
        if frequency <= min(16_000, 0.45 * sample_rate_hz)
    }
    gain_db = k_gain_db(k_weighting(sample_rate_hz), np.array(list(wanted), dtype=np.float64))
    assert gain_db.tolist() == pytest.approx(list(wanted.values()), abs=0.05)


def test_interpolation_is_that_of_annex_2() -> None:
    phases = interpolation_phases(48_000)
    assert phases.shape == (4, 12)
    assert (phases[3] == phases[0][::-1]).all()
    assert (phases[2] == phases[1][::-1]).all()
    assert phases.sum(axis=1).tolist() == pytest.approx(
        [1.00158691, 0.97302246, 0.97302246, 1.00158691], abs=5e-9
    )
    assert phases[0, :3].tolist() == [0.0017089843750, 0.0109863281250, -0.0196533203125]
    assert phases[1, 5:8].tolist() == [0.4650878906250, 0.7797851562500, -0.2003173828125]


def test_interpolation_ripple_is_that_of_annex_2() -> None:
    """The whole filter's gain over the pass-band, worked out from the published numbers."""
    taps = interpolation_phases(48_000).T.ravel()
    frequency_hz = np.array([100.0, 1e3, 5e3, 8e3, 12e3, 15e3, 18e3, 20e3, 21.6e3])
    turns = np.exp(-2j * np.pi * frequency_hz[:, np.newaxis] / 192_000 * np.arange(taps.size))
    gain_db = 20.0 * np.log10(np.abs(turns @ taps) / 4.0)
    assert gain_db.tolist() == pytest.approx(
        [-0.111, -0.082, 0.076, -0.100, 0.101, -0.082, 0.066, -0.101, -1.257], abs=0.001
    )
