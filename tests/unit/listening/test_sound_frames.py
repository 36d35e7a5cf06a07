"""Chunks of frames: the same however a recording is cut, and true to levels and pitch."""

import numpy as np
import pytest

from quietleaf.listening.sentence_frames import band_frames, band_numbers
from quietleaf.listening.sound_frames import (
    SoundFrames,
    rest_of_sound,
    sound_frames,
    start_sound,
    step_sound,
)


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000])
def test_any_cutting_gives_the_same_bits(rate: int) -> None:
    draw = np.random.default_rng(rate)
    samples = 0.1 * draw.normal(size=round(41.237 * rate))
    whole = sound_frames(samples, rate)
    cuts = np.sort(draw.integers(0, samples.size, 7))
    pieces = np.split(samples, cuts)
    assert _bits(_by_pieces(pieces, rate)) == _bits(whole)
    assert sum(chunk.count for chunk in whole) == samples.size * 100 // rate


def test_white_noise_reads_its_power_in_every_band() -> None:
    rate = 48_000
    samples = 0.1 * np.random.default_rng(1).normal(size=10 * rate)
    bands = sound_frames(samples, rate)[0].spectra.bands_dbov
    power = (10.0 ** (bands / 10.0)).mean(axis=0)
    # -20 dBov spread over 24 kHz; 1000 to 1600 Hz, 6 to 8 kHz, 11 to 16 kHz.
    for band, width_hz in ((5, 600.0), (9, 2000.0), (11, 5000.0)):
        expected = -20.0 + 10.0 * np.log10(width_hz / 24_000.0)
        assert 10.0 * np.log10(power[band]) == pytest.approx(expected, abs=0.15)


def test_bands_above_half_the_rate_hold_nothing() -> None:
    samples = 0.1 * np.random.default_rng(1).normal(size=16_000)
    bands = sound_frames(samples, 16_000)[0].spectra.bands_dbov
    assert (bands[:, 10:] < -119.9).all()
    assert (bands[:, :10] > -100.0).all()


@pytest.mark.parametrize("pitch_hz", [80.0, 110.0, 220.0, 390.0])
def test_a_buzz_repeats_itself_at_its_pitch(pitch_hz: float) -> None:
    time_s = np.arange(16_000) / 16_000
    buzz = sum(np.sin(2 * np.pi * pitch_hz * k * time_s) / k for k in range(1, 12)) / 4.0
    spectra = sound_frames(np.asarray(buzz), 16_000)[0].spectra
    assert np.median(spectra.periodic) > 0.9
    assert np.median(spectra.pitch_hz) == pytest.approx(pitch_hz, rel=0.03)


def test_noise_does_not_repeat_itself() -> None:
    samples = 0.1 * np.random.default_rng(3).normal(size=16_000)
    assert np.median(sound_frames(samples, 16_000)[0].spectra.periodic) < 0.5


def _by_pieces(pieces: list[np.ndarray], rate: int) -> list[SoundFrames]:
    numbers, filters = band_numbers(rate), np.zeros(8)
    memory = start_sound(rate, 1)
    found = []
    position = frame = 0
    for piece in pieces:
        voice, low = np.empty(piece.size // 80 + 2), np.empty(piece.size // 80 + 2)
        done = band_frames(piece, position, frame, rate, numbers, filters, voice, low)
        found += step_sound(memory, piece[:, np.newaxis], voice[:done], low[:done])
        position += piece.size
        frame += done
    rest = rest_of_sound(memory)
    return [*found, rest] if rest else found


def _bits(chunks: list[SoundFrames]) -> list[bytes]:
    return [
        array.tobytes()
        for chunk in chunks
        for array in (
            chunk.level_dbov,
            chunk.low_dbov,
            chunk.spectra.mels_dbov,
            chunk.spectra.bands_dbov,
            chunk.spectra.periodic,
            chunk.spectra.pitch_hz,
        )
    ]
