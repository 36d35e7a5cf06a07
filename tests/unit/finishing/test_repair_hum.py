"""Hum is followed and taken away where it is, and the voice is left as it was."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.finishing.repair_hum import hum_repairs
from quietleaf.finishing.repaired_sound import repaired
from quietleaf.finishing.repairs import LinesTaken
from quietleaf.listening.findings import Finding
from quietleaf.listening.listen import hear
from tests.voices import RATE_HZ, Held, reading

CLEAN = reading(seed=21, sentences=12).samples()
SPEECH_DBOV = -24.0
FROM_S, TO_S = 7.0, 25.0


def hum(mains_hz: float, wander_hz: float = 0.02) -> NDArray[np.float64]:
    """Five lines 28 dB under the voice, whose frequency goes up and down in 23 s."""
    time_s = np.arange(CLEAN.size) / RATE_HZ
    swing = wander_hz * 23.0 / (2 * np.pi) * np.cos(2 * np.pi * time_s / 23.0)
    phase = 2 * np.pi * (mains_hz * time_s - swing)
    sound = np.zeros(time_s.size)
    for line in range(5):
        sound += 10 ** (-line / 5) * np.cos((line + 1) * phase + line)
    sound *= 10 ** ((SPEECH_DBOV - 28.0) / 20) / np.sqrt(np.mean(sound**2))
    sound[(time_s < FROM_S) | (time_s >= TO_S)] = 0.0
    return sound


def planned(samples: NDArray[np.float64], severity: str = "hear") -> list[LinesTaken]:
    finding = Finding(
        kind="hum",
        start_s=FROM_S - 0.6,
        end_s=TO_S + 0.6,
        severity="hear" if severity == "hear" else "note",
        value=28.0,
        limit=45.0,
        unit="dB under the voice",
        advice="",
    )
    found = list(hum_repairs([finding], Held(samples), SPEECH_DBOV))
    assert all(isinstance(one, LinesTaken) for one in found)
    return [one for one in found if isinstance(one, LinesTaken)]


def level_dbov(samples: NDArray[np.float64]) -> float:
    return 10.0 * float(np.log10(np.mean(samples**2) + 1e-20))


@pytest.mark.parametrize("mains_hz", [49.98, 60.03])
def test_hum_is_taken_away_where_it_is(mains_hz: float) -> None:
    samples = CLEAN + hum(mains_hz)
    (repair,) = planned(samples)
    assert repair.state == "made"
    assert repair.mains_hz == pytest.approx(mains_hz, abs=0.02)
    assert set(repair.lines) >= {1, 2, 3, 4, 5}
    assert repair.start / RATE_HZ == pytest.approx(FROM_S, abs=0.15)
    assert repair.stop / RATE_HZ == pytest.approx(TO_S, abs=0.15)
    assert repair.measured["after_db"] > 45.0 > repair.measured["under_voice_db"]
    whole = repaired(Held(samples), [repair]).read(0, samples.size)[:, 0]
    middle = slice(repair.start + RATE_HZ // 2, repair.stop - RATE_HZ // 2)
    assert level_dbov((whole - CLEAN)[middle]) < SPEECH_DBOV - 50.0
    outside = np.ones(samples.size, dtype=np.bool_)
    outside[repair.start : repair.stop] = False
    assert np.array_equal(whole[outside], samples[outside])
    told = hear([whole[:, np.newaxis]], RATE_HZ, 1)
    assert not [one for one in told.findings if one.kind == "hum" and one.severity != "note"]


def test_a_faint_hum_is_left_alone() -> None:
    assert planned(CLEAN + hum(50.0), "note") == []


def test_it_is_the_same_however_it_is_read() -> None:
    samples = CLEAN + hum(50.02)
    repairs = planned(samples)
    whole = repaired(Held(samples), repairs).read(0, samples.size)
    sound = repaired(Held(samples), repairs)
    parts = [
        sound.read(at, min(at + 70_001, samples.size)) for at in range(0, samples.size, 70_001)
    ]
    assert np.abs(np.concatenate(parts) - whole).max() < 1e-7
