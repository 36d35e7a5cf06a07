"""Hum of the mains where it was put, and none in a voice that is as low."""

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.listen import hear
from tests.voices import RATE_HZ, reading


def hum(count: int, mains_hz: float, rate: int = RATE_HZ) -> NDArray[np.float64]:
    """Make hum at -48 dBov, of four lines."""
    time_s = np.arange(count) / rate
    lines = sum(np.sin(2 * np.pi * mains_hz * k * time_s + k) / k for k in (1, 2, 3, 4))
    sound: NDArray[np.float64] = (
        10 ** (-48 / 20) * lines / np.sqrt(0.5 * (1 + 1 / 4 + 1 / 9 + 1 / 16))
    )
    return sound


def hums(sound: NDArray[np.float64], rate: int = RATE_HZ) -> list[Finding]:
    """Give the findings of hum."""
    return [
        found for found in hear([sound[:, np.newaxis]], rate, 1).findings if found.kind == "hum"
    ]


@pytest.mark.parametrize("mains_hz", [49.8, 50.2, 60.0])
def test_a_stretch_of_hum_where_it_was_put(mains_hz: float) -> None:
    sound = reading(sentences=12).samples()
    start, stop = 7 * RATE_HZ, 16 * RATE_HZ
    sound[start:stop] += hum(stop - start, mains_hz)
    (found,) = hums(sound)
    assert found.start_s == pytest.approx(7.0, abs=1.2)
    assert found.end_s == pytest.approx(16.0, abs=1.2)
    assert found.severity == "hear"
    assert f"{mains_hz:.0f} Hz" in found.advice


def test_faint_hum_is_noted_alone() -> None:
    sound = reading().samples()
    (found,) = hums(sound + 10 ** (-25 / 20) * hum(sound.size, 50.0))
    assert found.severity == "note"
    assert found.start_s == 0.0
    assert found.end_s == pytest.approx(sound.size / RATE_HZ, abs=1.5)


@pytest.mark.parametrize("mains_hz", [52.0, 57.0, 100.0 / 3])
def test_other_lines_are_no_hum(mains_hz: float) -> None:
    sound = reading().samples()
    assert not hums(sound + hum(sound.size, mains_hz))


def test_a_voice_is_no_hum() -> None:
    assert not hums(reading(sentences=12, room_dbov=-85.0).samples())
