"""Jumps of level, tone and room where a reading goes on otherwise, and none where it does not."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from quietleaf.listening.findings import Finding
from quietleaf.listening.listen import hear
from tests.voices import RATE_HZ, Made

PAUSE_S = 2.4


def two_halves(*, after_db: float = 0.0, seed: int = 3) -> tuple[NDArray[np.float64], float, float]:
    """Make ten sentences, a break, and ten more; give the sound and where the break is."""
    made = Made(seed=seed)
    draw = np.random.default_rng(seed)
    made.pause(0.8)
    place = (0.0, 0.0)
    for index in range(20):
        _, stop_s = made.speech(1.6, -24.0 + (after_db if index >= 10 else 0.0))
        if index == 9:
            place = (stop_s, stop_s + PAUSE_S)
        made.pause(PAUSE_S if index == 9 else 0.5 + 0.4 * draw.random())
    return made.samples(), *place


def jumps(sound: NDArray[np.float64]) -> list[Finding]:
    """Give the findings of jumps."""
    hearing = hear([sound[:, np.newaxis]], RATE_HZ, 1)
    return [found for found in hearing.findings if found.kind == "level-step"]


def test_a_reading_that_goes_on_as_it_was_has_none() -> None:
    assert not jumps(two_halves()[0])


@pytest.mark.parametrize(("after_db", "more"), [(6.0, "louder"), (-6.0, "softer")])
def test_a_voice_that_goes_on_at_another_level(after_db: float, more: str) -> None:
    sound, start_s, stop_s = two_halves(after_db=after_db)
    (found,) = jumps(sound)
    assert found.start_s == pytest.approx(start_s, abs=0.1)
    assert found.end_s == pytest.approx(stop_s, abs=0.1)
    assert found.value == pytest.approx(6.0, abs=1.0)
    assert more in found.advice


def test_a_hand_at_the_input_moves_voice_and_room() -> None:
    sound, start_s, stop_s = two_halves()
    sound[round(0.5 * (start_s + stop_s) * RATE_HZ) :] *= 10 ** (-5 / 20)
    (found,) = jumps(sound)
    assert found.start_s == pytest.approx(start_s, abs=0.1)
    assert found.value == pytest.approx(5.0, abs=0.6)


def test_another_room() -> None:
    sound, start_s, stop_s = two_halves()
    middle = round(0.5 * (start_s + stop_s) * RATE_HZ)
    fan = np.random.default_rng(5).normal(size=sound.size - middle)
    sound[middle:] += 10 ** (-55 / 20) * fan
    (found,) = jumps(sound)
    assert found.start_s == pytest.approx(start_s, abs=0.1)
    assert "room" in found.advice


def test_another_tone() -> None:
    sound, start_s, stop_s = two_halves()
    middle = round(0.5 * (start_s + stop_s) * RATE_HZ)
    sound[middle:] = 0.22 * lfilter([1.0], [1.0, -0.85], sound[middle:])
    (found,) = jumps(sound)
    assert found.start_s == pytest.approx(start_s, abs=0.1)
    assert "darker" in found.advice
