"""A plan carried out: on target, under the ceiling, the same each time, on its own sound only."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.errors import Conflict, Invalid
from quietleaf.finishing.apply import apply_both, apply_mp3, apply_wave
from quietleaf.finishing.plan import fit_of
from quietleaf.sound.true_peak import true_peak
from quietleaf.units import Window
from tests.unit.finishing.planned import plan_of
from tests.unit.finishing.test_trial import plain_loudness_lufs
from tests.voices import RATE_HZ, Held, HeldFacts, reading

SAMPLES = reading(seed=2).samples()


@pytest.mark.parametrize("loudness", ["ebu-r128", "atsc-a85", "-19", "-16", "-14"])
def test_the_master_is_on_target_and_under_the_ceiling(loudness: str) -> None:
    plan = plan_of(SAMPLES, loudness)
    wave = np.concatenate(list(apply_wave(plan, Held(SAMPLES))))
    assert plain_loudness_lufs(wave) == pytest.approx(plan.target.loudness_lufs, abs=0.05)
    peak_dbtp = 20 * np.log10(true_peak(wave[:, np.newaxis], RATE_HZ)[0])
    assert peak_dbtp <= plan.target.ceiling_dbtp


def test_a_faint_recording_is_brought_up_too() -> None:
    faint = 10 ** (-50 / 20) * SAMPLES
    wave = np.concatenate(list(apply_wave(plan_of(faint), Held(faint))))
    assert plain_loudness_lufs(wave) == pytest.approx(-23.0, abs=0.05)


def test_the_mp3_gets_what_its_encoder_loses() -> None:
    plan = plan_of(SAMPLES)
    feed = np.concatenate(list(apply_mp3(plan, Held(SAMPLES))))
    assert plain_loudness_lufs(feed) == pytest.approx(-23.0 + 0.446, abs=0.05)


def test_counted_as_dual_mono_the_file_is_3_01_lu_quieter() -> None:
    wave = np.concatenate(list(apply_wave(plan_of(SAMPLES, dual_mono=True), Held(SAMPLES))))
    assert plain_loudness_lufs(wave) == pytest.approx(-26.01, abs=0.05)


def test_twice_gives_the_same_bytes_and_both_at_once_too() -> None:
    plan = plan_of(SAMPLES, "-16")
    wave = np.concatenate(list(apply_wave(plan, Held(SAMPLES))))
    assert wave.tobytes() == np.concatenate(list(apply_wave(plan, Held(SAMPLES)))).tobytes()
    mp3 = np.concatenate(list(apply_mp3(plan, Held(SAMPLES))))
    both = list(apply_both(plan, Held(SAMPLES)))
    assert np.concatenate([pair[0] for pair in both]).tobytes() == wave.tobytes()
    assert np.concatenate([pair[1] for pair in both]).tobytes() == mp3.tobytes()


def test_memory_is_flat_no_more_than_a_second_is_read_at_once() -> None:
    sound = Held(SAMPLES)
    for _ in apply_wave(plan_of(SAMPLES), sound):
        pass
    assert max(stop - start for start, stop in sound.reads) <= RATE_HZ


def test_another_sound_is_refused() -> None:
    plan = plan_of(SAMPLES)
    with pytest.raises(Conflict, match="Make a new plan"):
        next(apply_wave(plan, Held(SAMPLES[:-1])))
    slower = Held(SAMPLES)
    slower.info = HeldFacts(frames=SAMPLES.size, sample_rate_hz=44_100)
    with pytest.raises(Invalid, match="48000 Hz"):
        next(apply_both(plan, slower))


@pytest.mark.parametrize(
    ("length_s", "verdict", "difference_s"),
    [
        (3_300.0, "short", -60.0),
        (3_360.0, "fits", 0.0),
        (3_480.0, "fits", 0.0),
        (3_500.0, "long", 20.0),
    ],
)
def test_length_is_reported_against_the_window(
    length_s: float, verdict: str, difference_s: float
) -> None:
    fit = fit_of(round(length_s * RATE_HZ), Window(shortest_s=3_360.0, longest_s=3_480.0))
    assert (fit.verdict, fit.difference_s) == (verdict, difference_s)


def test_without_a_window_any_length_will_do() -> None:
    assert fit_of(10 * 3_600 * RATE_HZ, None).verdict == "free"
