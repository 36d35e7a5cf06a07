"""The sound for a narrow channel: its band, and what of it is held back."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.finishing.narrow import start_narrow, step_narrow
from tests.voices import RATE_HZ, reading

SPEECH_DBOV = -24.0


def shaped(
    samples: NDArray[np.float64],
    band_hz: tuple[float, float] = (80.0, 4_800.0),
    speech_dbov: float | None = None,
    block: int = 48_000,
) -> NDArray[np.float64]:
    memory = start_narrow(*band_hz, speech_dbov)
    parts = [
        step_narrow(memory, samples[start : start + block])
        for start in range(0, samples.size, block)
    ]
    return np.concatenate(parts)


def tone(hz: float, level_db: float, length_s: float = 2.0) -> NDArray[np.float64]:
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    return np.asarray(10 ** (level_db / 20) * np.sqrt(2.0) * np.sin(2 * np.pi * hz * time_s))


def level_db(samples: NDArray[np.float64]) -> float:
    settled = samples[samples.size // 2 :]
    return float(10 * np.log10(np.mean(settled**2)))


@pytest.mark.parametrize(
    ("band_hz", "inside", "outside"),
    [
        ((150.0, 3_400.0), (300.0, 1_000.0, 3_300.0), (40.0, 4_000.0, 8_000.0)),
        ((80.0, 4_800.0), (160.0, 1_000.0, 4_700.0), (20.0, 5_700.0, 12_000.0)),
    ],
)
def test_a_band_is_flat_inside_and_empty_outside(
    band_hz: tuple[float, float], inside: tuple[float, ...], outside: tuple[float, ...]
) -> None:
    for hz in inside:
        assert level_db(shaped(tone(hz, -20.0), band_hz)) == pytest.approx(-20.0, abs=0.3), hz
    for hz in outside:
        assert level_db(shaped(tone(hz, -20.0), band_hz)) < -60.0, hz


def test_hissing_is_turned_down_where_it_comes_near_the_voice_and_not_elsewhere() -> None:
    soft, loud = tone(4_000.0, SPEECH_DBOV - 10.0), tone(4_000.0, SPEECH_DBOV - 2.0)
    assert level_db(shaped(soft, speech_dbov=SPEECH_DBOV)) == pytest.approx(-34.0, abs=0.5)
    lower = level_db(shaped(loud, speech_dbov=SPEECH_DBOV)) - (SPEECH_DBOV - 2.0)
    assert -4.0 < lower < -2.5
    voiced = tone(500.0, SPEECH_DBOV - 2.0)
    assert level_db(shaped(voiced, speech_dbov=SPEECH_DBOV)) == pytest.approx(-26.0, abs=0.3)


@pytest.mark.parametrize(("over_db", "becomes_db"), [(0.0, 0.0), (6.0, 3.0), (20.0, 14.0)])
def test_what_is_louder_than_the_voice_is_halved_in_decibels_by_six_at_most(
    over_db: float, becomes_db: float
) -> None:
    got = level_db(shaped(tone(500.0, SPEECH_DBOV + over_db), speech_dbov=SPEECH_DBOV))
    assert got - SPEECH_DBOV == pytest.approx(becomes_db, abs=0.4)


@pytest.mark.parametrize("block", [1_000, 1_000_000])
def test_blocks_may_begin_anywhere(block: int) -> None:
    samples = reading(seed=2, sentences=2).samples()
    whole = shaped(samples, speech_dbov=SPEECH_DBOV)
    np.testing.assert_allclose(
        shaped(samples, speech_dbov=SPEECH_DBOV, block=block), whole, atol=1e-12
    )
