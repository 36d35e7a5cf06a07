"""Room tone made longer: level and colour kept, no audible repetition, the same each time."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, sosfilt, welch

from quietleaf.finishing.plan import RoomTone
from quietleaf.finishing.room_tone import room_tone
from tests.voices import RATE_HZ, Held


def bed() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    sections = butter(1, [150.0, 2_500.0], "bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(1e-3 * sosfilt(sections, np.random.default_rng(2).normal(size=2 * RATE_HZ)))


def tone(quiet: tuple[tuple[int, int], ...], seed: int = 1) -> RoomTone:
    return RoomTone(place="head", samples=0, seed=seed, quiet=quiet, reason="", measured={})


QUIET = ((30_000, 60_000), (70_000, 90_000))


def test_level_and_colour_are_those_of_the_room() -> None:
    samples = bed()
    made = room_tone(tone(QUIET), Held(samples), 5 * RATE_HZ)
    real = np.concatenate([samples[start:stop] for start, stop in QUIET])
    assert 10 * np.log10(np.mean(made**2) / np.mean(real**2)) == pytest.approx(0.0, abs=0.5)
    _, wanted = welch(real, RATE_HZ, nperseg=1_024)
    _, got = welch(made, RATE_HZ, nperseg=1_024)
    band = slice(4, 80)
    error_db = 10 * np.log10(got[band] / wanted[band])
    assert np.sqrt(np.mean(error_db**2)) < 1.5


def test_it_does_not_repeat_audibly() -> None:
    made = room_tone(tone(((30_000, 45_000),)), Held(bed()), 4 * RATE_HZ)
    spectrum = np.abs(np.fft.rfft(made, 2 * made.size)) ** 2
    likeness = np.fft.irfft(spectrum)[: made.size]
    likeness /= likeness[0]
    # A loop of the same 0.3 s would read 0.9.
    assert np.abs(likeness[round(0.05 * RATE_HZ) : round(0.9 * RATE_HZ)]).max() < 0.3


def test_the_same_seed_gives_the_same_samples_and_another_does_not() -> None:
    sound = Held(bed())
    first = room_tone(tone(QUIET), sound, RATE_HZ)
    assert np.array_equal(first, room_tone(tone(QUIET), sound, RATE_HZ))
    assert not np.array_equal(first, room_tone(tone(QUIET, seed=2), sound, RATE_HZ))


def test_without_a_quiet_range_it_is_silence() -> None:
    assert not room_tone(tone(()), Held(bed()), 4_800).any()


def test_digital_silence_stays_silent() -> None:
    assert not room_tone(tone(QUIET), Held(np.zeros(2 * RATE_HZ)), 4_800).any()


def test_a_very_short_quiet_range_will_do() -> None:
    made = room_tone(tone(((30_000, 30_500),)), Held(bed()), RATE_HZ)
    assert np.isfinite(made).all()
    assert made.any()
