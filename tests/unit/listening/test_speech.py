"""Speech and pauses in a made voice whose every sentence lies at a known place."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.level_steps import dbov_of_steps, powers_of_steps, steps_of_power
from quietleaf.listening.listen import hear
from quietleaf.listening.noise_floor import SILENT_CDB, noise_floor_dbov
from quietleaf.listening.speech import pauses_between, speech_frames
from tests.voices import RATE_HZ, Made


def floors_twin(steps: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Work out, for every tenth frame, F as the docstring says it: the 8th percentile nearby."""
    powers = powers_of_steps()[steps]
    edged = np.concatenate([powers[:1], powers, powers[-1:]])
    mean = (edged[:-2] + edged[1:-1] + edged[2:]) / 3.0
    level = 10.0 * np.log10(np.maximum(mean, 10.0**-12.75))
    looks = range(0, steps.size, 10)
    return np.array([np.percentile(level[max(0, i - 600) : i + 600], 8.0) for i in looks])


@pytest.mark.parametrize("room_dbov", [-75.0, -60.0, -50.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_sentences_are_found_where_they_are(seed: int, room_dbov: float) -> None:
    made = Made(seed=seed, room_dbov=room_dbov)
    draw = np.random.default_rng(seed)
    made.pause(1.0)
    said = []
    for _ in range(8):
        said.append(made.speech(float(draw.uniform(1.5, 4.0))))
        made.pause(float(draw.uniform(0.4, 1.5)))
    hearing = hear([made.samples()[:, np.newaxis]], RATE_HZ, 1)
    assert hearing.speech_s.shape == (8, 2)
    assert np.abs(hearing.speech_s - np.array(said)).max() < 0.1
    np.testing.assert_array_equal(hearing.pauses_s, pauses_between(hearing.speech_s))


def test_a_fan_that_comes_on_swallows_no_words() -> None:
    quiet, loud = Made(seed=4, room_dbov=-70.0), Made(seed=5, room_dbov=-52.0)
    for made in (quiet, loud):
        made.pause(1.0)
        for _ in range(8):
            made.speech(2.0)
            made.pause(0.8)
    both = np.concatenate([quiet.samples(), loud.samples()])
    hearing = hear([both[:, np.newaxis]], RATE_HZ, 1)
    speech_s = float((hearing.speech_s[:, 1] - hearing.speech_s[:, 0]).sum())
    assert speech_s == pytest.approx(32.0, rel=0.05)


def test_gaps_under_200_ms_belong_to_speech() -> None:
    steps = np.full(800, 125, dtype=np.uint8)
    steps[100:400] = steps[415:600] = 205
    assert speech_frames(steps).tolist() == [[100, 600]]
    steps[400:425] = 125
    assert speech_frames(steps).tolist() == [[100, 400], [425, 600]]


@pytest.mark.parametrize("step", [0, 1, 100, 255])
def test_steady_sound_is_no_speech(step: int) -> None:
    assert speech_frames(np.full(2_000, step, dtype=np.uint8)).shape == (0, 2)


def test_nothing_is_no_speech() -> None:
    assert speech_frames(np.empty(0, dtype=np.uint8)).shape == (0, 2)
    assert pauses_between(np.empty((0, 2))).shape == (0, 2)


@pytest.mark.parametrize("seed", range(4))
def test_speech_lies_above_the_floor_nearby(seed: int) -> None:
    """Law: within each stretch something is 6 dB above F, and ranges are sorted and apart."""
    draw = np.random.default_rng(seed)
    steps = np.repeat(draw.integers(60, 240, size=300), draw.integers(3, 40, size=300)).astype(
        np.uint8
    )
    found = speech_frames(steps)
    floors = floors_twin(steps)
    level = dbov_of_steps(steps)
    assert found.size
    assert (np.diff(found.ravel()) > 0).all()
    assert (found[1:, 0] - found[:-1, 1] >= 20).all()
    assert (found[:, 1] - found[:, 0] >= 10).all()
    for start, stop in found:
        # A percentile of half decibels: within 0.5 dB of that of the levels themselves.
        assert (level[start:stop] - np.repeat(floors, 10)[start:stop]).max() > 5.5


def test_levels_keep_to_a_quarter_of_a_decibel() -> None:
    level_dbov = np.linspace(-127.0, 0.0, 999)
    steps = steps_of_power(10.0 ** (level_dbov / 10.0))
    assert np.abs(dbov_of_steps(steps) - level_dbov).max() <= 0.25 + 1e-5
    assert steps_of_power(np.array([0.0, 1e-30, 9.0])).tolist() == [0, 1, 255]


@pytest.mark.parametrize("room_dbov", [-80.0, -66.0, -48.0])
def test_noise_floor_is_that_of_the_room(room_dbov: float) -> None:
    made = Made(seed=6, room_dbov=room_dbov)
    made.pause(1.0)
    for _ in range(6):
        made.speech(3.0)
        made.pause(0.9)
    hearing = hear([made.samples()[:, np.newaxis]], RATE_HZ, 1)
    assert hearing.level.noise_floor_dbov == pytest.approx(room_dbov, abs=1.0)


def test_a_rustle_in_a_pause_does_not_move_the_floor() -> None:
    slots = np.full(200, -6000, dtype=np.int16)
    slots[40:160] = -2500
    slots[180:186] = -3000
    assert noise_floor_dbov(slots, np.array([[200, 800]])) == -60.0


def test_digital_silence_is_no_room() -> None:
    slots = np.full(200, SILENT_CDB, dtype=np.int16)
    assert noise_floor_dbov(slots, np.empty((0, 2), dtype=np.int64)) is None
    slots[50:150] = -6500
    assert noise_floor_dbov(slots, np.empty((0, 2), dtype=np.int64)) == -65.0


def test_without_pauses_the_quietest_twentieth_decides() -> None:
    slots = np.arange(-4000, -2000, 10, dtype=np.int16)
    floor = noise_floor_dbov(slots, np.array([[0, 1000]]))
    assert floor == pytest.approx(np.percentile(slots, 5.0) / 100.0)
