"""The trial predicts what the limiter leaves of loudness."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import sosfilt

from quietleaf.finishing.drive import driven_blocks
from quietleaf.finishing.limiter import LOOK_AHEAD_MS, RELEASE_MS
from quietleaf.finishing.plan import Drive
from quietleaf.finishing.trial import try_drives
from tests.voices import RATE_HZ, reading

# ITU-R BS.1770-5, Annex 1, Tables 1 and 2.
WEIGHTING = np.array(
    [
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
)


def plain_loudness_lufs(samples: NDArray[np.float64]) -> float:
    """Measure by the formulas of ITU-R BS.1770-5, Annex 1."""
    weighted = sosfilt(WEIGHTING, samples)
    starts = range(0, weighted.size - 19_200 + 1, 4_800)
    power = np.array([np.mean(weighted[n : n + 19_200] ** 2) for n in starts])
    loud = -0.691 + 10 * np.log10(power)
    power, loud = power[loud > -70.0], loud[loud > -70.0]
    gate = -0.691 + 10 * np.log10(power.mean()) - 10.0
    return float(-0.691 + 10 * np.log10(power[loud > gate].mean()))


def blocks(samples: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    return [samples[at : at + RATE_HZ] for at in range(0, samples.size, RATE_HZ)]


def driven(samples: NDArray[np.float64], gain_db: float, aim_dbtp: float) -> NDArray[np.float64]:
    drive = Drive(
        gain_db=gain_db,
        aim_dbtp=aim_dbtp,
        look_ahead_ms=LOOK_AHEAD_MS,
        release_ms=RELEASE_MS,
        reason="",
        measured={},
    )
    return np.concatenate([out for (out,) in driven_blocks(iter(blocks(samples)), ((drive, ()),))])


@pytest.mark.parametrize("gain_db", [-6.0, 2.0, 8.0, 14.0])
def test_prediction_equals_what_is_measured_after_limiting(gain_db: float) -> None:
    samples = reading(seed=4).samples()[:-123]
    (tried,) = try_drives(iter(blocks(samples)), samples.size, ((gain_db, -1.05),))
    limited = driven(samples, gain_db, -1.05)
    assert limited.size == samples.size
    assert tried.loudness_lufs == pytest.approx(plain_loudness_lufs(limited), abs=0.003)


def test_several_drives_at_once_are_each_as_alone() -> None:
    samples = reading(seed=4, sentences=3).samples()
    drives = ((0.0, -1.0), (6.0, -2.5), (11.0, -1.0))
    together = try_drives(iter(blocks(samples)), samples.size, drives)
    for drive, tried in zip(drives, together, strict=True):
        (alone,) = try_drives(iter(blocks(samples)), samples.size, (drive,))
        assert tried.loudness_lufs == pytest.approx(alone.loudness_lufs, abs=1e-9)
        assert tried.reduction_db == pytest.approx(alone.reduction_db, abs=1e-9)


def test_without_reduction_the_drive_is_a_plain_gain() -> None:
    samples = reading(seed=4, sentences=2).samples()
    assert np.array_equal(driven(samples, -12.0, -1.0), samples * 10 ** (-12.0 / 20.0))


def test_silence_has_no_loudness() -> None:
    silence = np.zeros(3 * RATE_HZ)
    (tried,) = try_drives(iter(blocks(silence)), silence.size, ((0.0, -1.0),))
    assert tried.loudness_lufs is None
    assert tried.reduction_db == 0.0


@pytest.mark.parametrize("samples", [0, 1, 4_799, 19_199])
def test_less_than_400_ms_has_no_loudness(samples: int) -> None:
    short = np.full(samples, 0.1)
    (tried,) = try_drives(iter(blocks(short)), samples, ((0.0, -1.0),))
    assert tried.loudness_lufs is None
