"""True peak: the pruned loop is the full computation, bit for bit."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.sound.true_peak import chunk_peaks, interpolation_phases, true_peak
from tests.signals import same_in, speech_like

RATES_HZ = (8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000)


def full_true_peak(sound: NDArray[np.float64], sample_rate_hz: int) -> float:
    """Interpolate everywhere, tap by tap in the same order, and look at every value."""
    phases = interpolation_phases(sample_rate_hz)
    taps = phases.shape[1]
    padded = np.concatenate([np.zeros(taps), sound, np.zeros(taps)])
    greatest = float(np.abs(sound).max(initial=0.0))
    for phase in phases:
        value = np.zeros(padded.size - taps + 1)
        for tap, weight in enumerate(phase):
            start = taps - 1 - tap
            value += weight * padded[start : start + value.size]
        greatest = max(greatest, float(np.abs(value).max()))
    return greatest


@pytest.mark.parametrize("sample_rate_hz", RATES_HZ)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_pruned_equals_full(seed: int, sample_rate_hz: int) -> None:
    sound = speech_like(seed, 3.0, sample_rate_hz)
    assert true_peak(same_in(1, sound), sample_rate_hz)[0] == full_true_peak(sound, sample_rate_hz)


@pytest.mark.parametrize("sample_rate_hz", RATES_HZ)
@pytest.mark.parametrize("length", [1, 2, 11, 63, 64, 65, 500])
def test_pruned_equals_full_in_short_noise(length: int, sample_rate_hz: int) -> None:
    sound = np.random.default_rng(length).uniform(-1.0, 1.0, size=length)
    assert true_peak(same_in(1, sound), sample_rate_hz)[0] == full_true_peak(sound, sample_rate_hz)


@pytest.mark.parametrize("place", [0, 1, 62, 63, 64, 65, 126, 127, 128, 129, 191])
def test_a_peak_at_the_edge_of_a_chunk_is_found(place: int) -> None:
    """Two equal samples beside each other: the peak lies between them, in either chunk."""
    sound = np.zeros(193)
    sound[place : place + 2] = 0.5
    peak = true_peak(same_in(1, sound), 48_000)[0]
    assert peak == full_true_peak(sound, 48_000)
    assert peak > 0.5


def test_each_channel_has_its_own() -> None:
    sound = np.zeros((400, 2))
    sound[200, 0], sound[210, 1] = 0.25, -0.75
    assert true_peak(sound, 48_000).tolist() == [0.25, 0.75]


def test_samples_themselves_count_from_192_khz_on() -> None:
    sound = np.random.default_rng(4).uniform(-1.0, 1.0, size=(5_000, 1))
    assert true_peak(sound, 192_000)[0] == np.abs(sound).max()


@pytest.mark.parametrize("length", [0, 1, 100])
def test_silence_reads_nought(length: int) -> None:
    assert true_peak(np.zeros((length, 2)), 48_000).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_what_is_no_number_is_refused(bad: float) -> None:
    sound = np.zeros((100, 1))
    sound[50] = bad
    with pytest.raises(AudioUnfit, match="needs numbers"):
        true_peak(sound, 48_000)


@pytest.mark.parametrize("sample_rate_hz", RATES_HZ)
def test_phases_keep_a_constant(sample_rate_hz: int) -> None:
    phases = interpolation_phases(sample_rate_hz)
    assert phases.shape[0] * sample_rate_hz >= 192_000
    tolerance = 0.03 if sample_rate_hz == 48_000 else 1e-12
    assert phases.sum(axis=1) == pytest.approx(1.0, abs=tolerance)


@pytest.mark.parametrize("sample_rate_hz", [16_000, 22_050, 44_100, 96_000])
def test_a_sine_between_samples_is_found_at_every_rate(sample_rate_hz: int) -> None:
    """A quarter-rate sine with its crests midway between samples hides 3 dB."""
    n = np.arange(sample_rate_hz // 4)
    sound = 0.5 * np.sin(np.pi * n / 2 + np.pi / 4) * np.hanning(n.size)
    peak = true_peak(same_in(1, sound), sample_rate_hz)[0]
    # BS.1770-5, Annex 2: the most that the values between samples can miss a crest by.
    times = interpolation_phases(sample_rate_hz).shape[0]
    assert 0.99 * 0.5 * np.cos(np.pi * 0.25 / times) < peak < 0.505


def test_chunk_peaks_leave_out_a_part() -> None:
    sound = np.array([0.1, -0.9, 0.2, 0.3, -0.0, 0.0, 7.0])
    assert chunk_peaks(sound, 2).tolist() == [0.9, 0.3, 0.0]
