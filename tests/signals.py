"""Signals by formula: tones that change level, tones for true peak, and something like speech.

Nothing here is recorded. What is drawn comes from a seed that the caller names, so that a failure
can be made again.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, firwin, sosfilt

RATE_HZ = 48_000


def stepped_tone(
    *steps: tuple[float, float], frequency_hz: float = 1000.0, sample_rate_hz: int = RATE_HZ
) -> NDArray[np.float64]:
    """Make a sine that runs on without a break while its level changes, shape (n,).

    Each step is a level in dBFS (peak) and a length in seconds; -inf is silence.
    """
    ends = np.cumsum([round(length_s * sample_rate_hz) for _, length_s in steps])
    amplitude = np.empty(int(ends[-1]))
    start = 0
    for (level_dbfs, _), stop in zip(steps, ends, strict=True):
        amplitude[start:stop] = 10.0 ** (level_dbfs / 20.0)
        start = int(stop)
    n = np.arange(amplitude.size)
    tone: NDArray[np.float64] = amplitude * np.sin(2 * np.pi * frequency_hz / sample_rate_hz * n)
    return tone


def gated_tone(
    on_s: float,
    off_s: float,
    length_s: float,
    *,
    level_dbfs: float = -20.0,
    frequency_hz: float = 997.0,
    sample_rate_hz: int = 8_000,
) -> NDArray[np.float64]:
    """Make a sine that is switched on and off, beginning with on, shape (n,)."""
    n = np.arange(round(length_s * sample_rate_hz))
    place = n % max(1, round((on_s + off_s) * sample_rate_hz))
    tone = 10.0 ** (level_dbfs / 20.0) * np.sin(2 * np.pi * frequency_hz / sample_rate_hz * n)
    return np.where(place < round(on_s * sample_rate_hz), tone, 0.0)


def same_in(channels: int, sound: NDArray[np.float64]) -> NDArray[np.float64]:
    """Put one sound into each of some channels, shape (n, c)."""
    return np.repeat(sound[:, np.newaxis], channels, axis=1)


def faded_tone(
    period: int, amplitude: float, phase_degrees: float, length_s: float = 1.0
) -> NDArray[np.float64]:
    """Make a sine of ``period`` samples at 48 kHz with fades of 10 ms, shape (n,)."""
    n = np.arange(round(length_s * RATE_HZ))
    tone = amplitude * np.sin(2 * np.pi * n / period + np.deg2rad(phase_degrees))
    return _faded(tone, round(0.01 * RATE_HZ))


def hidden_period(offset: int, length_s: float = 1.0) -> NDArray[np.float64]:
    """Make a tone in which a single louder period lies between the samples, shape (n,).

    At four times 48 kHz: a sine of 8 kHz and amplitude 0.5, one period of 12 kHz and amplitude
    1.0 in it without a break in phase; then a low-pass, and every fourth sample from ``offset``.
    """
    over = 4
    quiet, loud = 6 * over, 4 * over
    around = round(0.5 * length_s * RATE_HZ / 6) * quiet
    beside = 0.5 * np.sin(2 * np.pi * np.arange(around) / quiet)
    tone = np.concatenate([beside, np.sin(2 * np.pi * np.arange(loud) / loud), beside])
    low_pass = firwin(801, RATE_HZ / 2, fs=over * RATE_HZ, window=("kaiser", 8.0))
    kept = np.convolve(_faded(tone, over * RATE_HZ // 100), low_pass, mode="same")[offset::over]
    return np.ascontiguousarray(kept)


def speech_like(
    seed: int, length_s: float, sample_rate_hz: int = RATE_HZ, level_dbfs: float = -26.0
) -> NDArray[np.float64]:
    """Make noise that comes and goes as sentences and syllables do, over a quiet room.

    A buzz with hiss, four syllables a second with uneven strength, sentences of 1.2 to 4 s,
    pauses of 0.3 to 1.2 s, room noise at -65 dBFS; shape (n,).
    """
    draw = np.random.default_rng(seed)
    count = round(length_s * sample_rate_hz)
    top_hz = min(4_000.0, 0.4 * sample_rate_hz)
    band = butter(2, [120.0, top_hz], "bandpass", fs=sample_rate_hz, output="sos")
    carrier = sosfilt(band, draw.normal(size=count))
    carrier /= np.sqrt(np.mean(carrier**2))
    envelope = np.zeros(count)
    at = round(0.4 * sample_rate_hz)
    while at < count:
        sentence_stop = at + round(draw.uniform(1.2, 4.0) * sample_rate_hz)
        while at < min(sentence_stop, count):
            syllable = round(draw.uniform(0.15, 0.32) * sample_rate_hz)
            shape = (0.15 + draw.uniform(0.4, 1.2) * np.hanning(syllable))[: count - at]
            envelope[at : at + syllable] = shape
            at += syllable
        at += round(draw.uniform(0.3, 1.2) * sample_rate_hz)
    room = 10.0 ** (-65.0 / 20.0) * draw.normal(size=count)
    voice: NDArray[np.float64] = 10.0 ** (level_dbfs / 20.0) * carrier * envelope + room
    return voice


def write_wave(
    path: Path,
    samples: NDArray[np.float64],
    sample_rate_hz: int = RATE_HZ,
    subtype: str = "PCM_24",
) -> Path:
    """Write samples of shape (n,) or (n, c) as a WAVE file; give its path."""
    soundfile.write(path, samples, sample_rate_hz, subtype=subtype, format="WAV")
    return path


def _faded(tone: NDArray[np.float64], length: int) -> NDArray[np.float64]:
    ramp = (np.arange(length) + 0.5) / length
    faded = tone.copy()
    faded[:length] *= ramp
    faded[-length:] *= ramp[::-1]
    return faded
