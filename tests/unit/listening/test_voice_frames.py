"""Levels in bands and likeness of frames: values from formulas."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.listening import voice_frames as module
from quietleaf.listening.voice_frames import FRAMES_PER_S, voice_frames


@pytest.mark.parametrize("rate_hz", [8_000, 16_000, 22_050, 44_100, 48_000])
@pytest.mark.parametrize(("hz", "band"), [(300.0, 0), (1_500.0, 1), (3_500.0, 2)])
def test_a_sine_reads_its_level_in_its_band(rate_hz: int, hz: float, band: int) -> None:
    time_s = np.arange(rate_hz) / rate_hz
    frames = voice_frames(0.1 * np.sin(2 * np.pi * hz * time_s), rate_hz)
    # 20 lg 0.1 - 3.01: a sine's RMS.
    inner = slice(10, -10)
    assert frames.level_dbov[inner] == pytest.approx(-23.01, abs=0.1)
    assert frames.bands_dbov[inner, band] == pytest.approx(-23.01, abs=0.1)
    assert frames.hop == round(rate_hz / FRAMES_PER_S)


def test_white_noise_is_not_alike_and_a_buzz_is() -> None:
    noise = np.random.default_rng(1).normal(size=48_000)
    assert np.percentile(voice_frames(noise, 48_000).alike, 99) < 0.65
    time_s = np.arange(48_000) / 48_000
    for pitch_hz in (85.0, 150.0, 300.0):
        buzz = sum(np.cos(2 * np.pi * pitch_hz * k * time_s + k * k) for k in range(1, 12))
        assert voice_frames(np.asarray(buzz), 48_000).alike[10:-10].min() > 0.9


def test_silence_is_an_answer() -> None:
    for samples in (np.zeros(0), np.zeros(3), np.zeros(16_000)):
        frames = voice_frames(samples, 16_000)
        assert (frames.level_dbov == -200.0).all()
        assert (frames.alike == 0.0).all()


def test_frames_are_the_same_however_many_are_worked_on_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    noise = np.random.default_rng(2).normal(size=30_000)
    wanted = voice_frames(noise, 16_000)
    monkeypatch.setattr(module, "_FRAMES_AT_ONCE", 7)
    found = voice_frames(noise, 16_000)
    np.testing.assert_allclose(found.bands_dbov, wanted.bands_dbov, atol=1e-9)
    np.testing.assert_allclose(found.alike, wanted.alike, atol=1e-9)
