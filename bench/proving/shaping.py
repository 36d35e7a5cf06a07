"""Sounds shaped and made for sessions: filters, tempo, room tone, breaks of air, hum, floors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import soxr
from numpy.typing import NDArray
from scipy.signal import bilinear_zpk, butter, firwin2, oaconvolve, sosfilt, zpk2sos

from bench.proving.mess import Microphone

Samples = NDArray[np.float64]

LOUDEST_S = 0.05
_GRAIN_S = 0.03
_SEEK_S = 0.008
_TILT_HZ = 1_000.0
_BLOCK = 1 << 18
_DIES_AWAY_DB = 10.0
"""From the second fifth to the last."""


def gain_of(level_db: float) -> float:
    """Give the factor of a gain in decibels."""
    return float(10.0 ** (level_db / 20.0))


def rms_db(samples: Samples) -> float:
    """Level of the whole, dBov; -200 for silence."""
    power = float(np.mean(samples * samples)) if samples.size else 0.0
    return 10.0 * math.log10(max(power, 1e-20))


def loudest_db(samples: Samples, rate: int, window_s: float = LOUDEST_S) -> float:
    """Level of the loudest window, dBov."""
    size = min(samples.size, max(1, round(window_s * rate)))
    sums = np.concatenate([[0.0], np.cumsum(samples * samples)])
    power = float((sums[size:] - sums[:-size]).max()) / size
    return 10.0 * math.log10(max(power, 1e-20))


def frame_powers(samples: Samples, rate: int) -> Samples:
    """Mean square of successive 10 ms, shape (k,)."""
    hop = max(1, rate // 100)
    powers: Samples = (samples[: samples.size // hop * hop].reshape(-1, hop) ** 2).mean(axis=1)
    return powers


def level_frames_db(samples: Samples, rate: int) -> Samples:
    """Level of successive 10 ms, shape (k,), dBov; -200 for silence."""
    levels: Samples = 10.0 * np.log10(np.maximum(frame_powers(samples, rate), 1e-20))
    return levels


def active_db(samples: Samples, rate: int) -> float:
    """Level of the frames of 10 ms within 25 dB of the loud ones, dBov: of speech while active."""
    power = frame_powers(samples, rate)
    if not power.size:
        return rms_db(samples)
    active = power[power > np.percentile(power, 92.0) * 10.0**-2.5]
    return 10.0 * math.log10(max(float(active.mean()) if active.size else 0.0, 1e-20))


def resampled(samples: Samples, from_hz: float, to_hz: float) -> Samples:
    """Change the sampling rate."""
    if from_hz == to_hz:
        return samples
    return np.asarray(soxr.resample(samples, from_hz, to_hz), dtype=np.float64)


def fitted(samples: Samples, size: int) -> Samples:
    """Cut the end off, or go on in silence."""
    count = min(size, samples.size)
    return np.concatenate([samples[:count], np.zeros(size - count)])


def faded(samples: Samples, rate: int, in_s: float, out_s: float) -> Samples:
    """Fade the edges of a copy."""
    shaped = samples.copy()
    rise, fall = (min(samples.size // 2, max(1, round(edge_s * rate))) for edge_s in (in_s, out_s))
    shaped[:rise] *= np.linspace(0.0, 1.0, rise)
    shaped[-fall:] *= np.linspace(1.0, 0.0, fall)
    return shaped


def tilted(samples: Samples, rate: int, tilt_db: float) -> Samples:
    """Lift what lies above 1 kHz over what lies below, by so much."""
    low = sosfilt(butter(1, _TILT_HZ, fs=rate, output="sos"), samples)
    shaped: Samples = low * gain_of(-tilt_db / 2) + (samples - low) * gain_of(tilt_db / 2)
    return shaped


def through_microphone(samples: Samples, rate: int, microphone: Microphone) -> Samples:
    """Filter as some microphones do; figures are ours."""
    if microphone == "plain":
        return samples
    if microphone == "dark":
        return tilted(samples, rate, -9.0)
    if microphone == "bright":
        return tilted(samples, rate, 8.0)
    if microphone == "thin":
        return _through(samples, butter(2, 180.0, "highpass", fs=rate, output="sos"))
    if microphone == "boxy":
        body = _through(samples, butter(1, [250.0, 500.0], "bandpass", fs=rate, output="sos"))
        return samples + body
    top_hz = min(5_000.0, 0.45 * rate)
    return _through(samples, butter(3, [200.0, top_hz], "bandpass", fs=rate, output="sos"))


def band_limited(samples: Samples, rate: int, band_hz: float) -> Samples:
    """Leave out what lies above, as if recorded at twice that rate."""
    if band_hz >= rate / 2:
        return samples
    there = resampled(resampled(samples, rate, 2.0 * band_hz), 2.0 * band_hz, rate)
    return fitted(there, samples.size)


def dies_away(response: Samples) -> bool:
    """Say whether an impulse response dies away; one that ends in steady noise is no echo."""
    fifths = [float(np.sum(part * part)) for part in np.array_split(response, 5)]
    dies: bool = fifths[-1] < 10.0 ** (-_DIES_AWAY_DB / 10.0) * fifths[1]
    return dies


def in_room(samples: Samples, response: Samples) -> Samples:
    """Convolve with an impulse response, at the level that it had."""
    wet: Samples = oaconvolve(samples, response)[: samples.size]
    return wet * gain_of(rms_db(samples) - rms_db(wet))


def tempo_changed(samples: Samples, rate: int, factor: float) -> Samples:
    """Say it ``factor`` times as fast at the same pitch: grains laid where they fit best."""
    hop = max(8, round(_GRAIN_S * rate / 2))
    seek = max(1, round(_SEEK_S * rate))
    window = np.hanning(2 * hop + 1)[:-1]
    padded = np.concatenate([np.zeros(hop + seek), samples, np.zeros(3 * hop + 2 * seek)])
    count = math.ceil(samples.size / factor / hop) + 1
    out = np.zeros((count + 1) * hop)
    taken = seek
    for index in range(count):
        if index:
            wanted = padded[taken + hop : taken + 2 * hop]
            near = round(index * hop * factor)
            if near + 2 * hop + 2 * seek > padded.size or wanted.size < hop:
                break
            fits = np.correlate(padded[near : near + hop + 2 * seek], wanted, "valid")
            taken = near + int(np.argmax(fits))
        grain = padded[taken : taken + 2 * hop]
        out[index * hop : index * hop + grain.size] += window[: grain.size] * grain
    return out[hop : hop + round(samples.size / factor)]


def room_filter(recordings: Sequence[Samples], rate: int, taps: int = 257) -> Samples:
    """Find the filter that makes white noise of RMS 1 into the room tone of some recordings.

    The spectrum is the mean of the quietest 3 in 100 windows of 32 ms that are not silent: some
    recordings hold a word and no pause.
    """
    size = max(64, round(0.032 * rate) // 2 * 2)
    window = np.hanning(size)
    spectra = []
    for recording in recordings:
        frames = recording[: recording.size // size * size].reshape(-1, size)
        spectra.append(np.abs(np.fft.rfft(frames * window, axis=1)) ** 2)
    power = np.concatenate(spectra)
    total = power.sum(axis=1)
    heard = total > 1e-12
    if not heard.any():
        return np.zeros(taps)
    quiet = power[heard & (total <= np.percentile(total[heard], 3.0))].mean(axis=0)
    magnitudes = np.sqrt(quiet / np.sum(window**2))
    grid = np.linspace(0.0, 1.0, magnitudes.size)
    made: Samples = firwin2(taps, grid, magnitudes)
    return made


def has_hum(recordings: Sequence[Samples], rate: int) -> bool:
    """Say whether recordings hum by themselves.

    In the quietest twentieth of windows of half a second, lines at multiples of 50 or 60 Hz up to
    six stand over their neighbours by 18 dB in sum: what exceeds 10 dB counts, 20 dB at most each.
    """
    size = rate // 2
    frames = [
        recording[at : at + size]
        for recording in recordings
        for at in range(0, recording.size - size, size // 4)
    ]
    if not frames:
        return False
    power = np.array([float(np.mean(frame * frame)) for frame in frames])
    kept = np.argsort(power)[: max(3, len(frames) // 20)]
    window = np.hanning(size)
    spectra = [np.abs(np.fft.rfft(frames[int(index)] * window)) ** 2 for index in kept]
    levels = 10.0 * np.log10(np.median(spectra, axis=0) + 1e-20)
    sums = []
    for mains_hz in (50, 60):
        over = []
        for harmonic in range(1, 7):
            line = mains_hz * harmonic // 2
            beside = np.concatenate([levels[line - 10 : line - 2], levels[line + 3 : line + 11]])
            over.append(float(levels[line - 1 : line + 2].max() - np.median(beside)))
        sums.append(sum(min(excess, 20.0) for excess in over if excess > 10.0))
    return max(sums) > 18.0


def coloured(draw: np.random.Generator, count: int, response: Samples) -> Samples:
    """Make noise through a filter, shape (count,), block by block: an hour at once is slow."""
    out = np.zeros(count)
    if not response.any():
        return out
    before = draw.normal(size=response.size - 1)
    for first in range(0, count, _BLOCK):
        size = min(_BLOCK, count - first)
        noise = np.concatenate([before, draw.normal(size=size)])
        out[first : first + size] = oaconvolve(noise, response, "valid")
        before = noise[size:]
    return out


def pink(draw: np.random.Generator, count: int, rate: int) -> Samples:
    """Make pink noise of RMS 1: poles and zeros by turns, an octave apart, from 20 Hz."""
    sound = _through(draw.normal(size=count), _pink_filter(rate))
    sound /= np.sqrt(np.mean(sound * sound))
    return sound


@lru_cache
def _pink_filter(rate: int) -> Samples:
    poles_hz = [20.0 * 4.0**k for k in range(8) if 20.0 * 4.0**k < rate / 2]
    zeros_hz = [2.0 * pole for pole in poles_hz if 2.0 * pole < rate / 2]
    zeros, poles, gain = bilinear_zpk(
        [-2.0 * math.pi * hz for hz in zeros_hz],
        [-2.0 * math.pi * hz for hz in poles_hz],
        1.0,
        rate,
    )
    made: Samples = zpk2sos(zeros, poles, gain)
    return made


def plosive(draw: np.random.Generator, rate: int) -> Samples:
    """Make the thump of breath on a microphone: 20-80 Hz, 30-80 ms, its loudest at 1.0."""
    count = round(draw.uniform(0.03, 0.08) * rate)
    t = np.arange(count) / rate
    rise = 1.0 - np.exp(-t / 0.004)
    envelope = rise * np.exp(-t / (0.3 * count / rate))
    wave = np.sin(2 * math.pi * draw.uniform(20.0, 70.0) * t + draw.uniform(0.2, 0.8))
    rumble = _through(draw.normal(size=t.size), butter(2, 120.0, fs=rate, output="sos"))
    sound = envelope * (wave + 0.3 * rumble / np.abs(rumble).max())
    sound = faded(sound, rate, 0.002, 0.02)
    sound /= np.abs(sound).max()
    return sound


def hum(draw: np.random.Generator, count: int, rate: int, mains_hz: float) -> Samples:
    """Make mains hum with harmonics, RMS 1."""
    t = np.arange(count) / rate
    base_hz = mains_hz * (1.0 + draw.uniform(-0.0008, 0.0008))
    sound = np.zeros(count)
    for harmonic in range(1, 9):
        strength = gain_of(-4.0 * (harmonic - 1) + draw.uniform(-8.0, 6.0))
        if harmonic * base_hz < 0.45 * rate:
            phase = draw.uniform(0.0, 2 * math.pi)
            sound += strength * np.sin(2 * math.pi * harmonic * base_hz * t + phase)
    sound /= np.sqrt(np.mean(sound * sound))
    return sound


def looped(samples: Samples, count: int, draw: np.random.Generator, rate: int) -> Samples:
    """Go on with a sound from random places, cross-faded over 0.2 s, for as long as is asked."""
    edge = min(samples.size // 4, round(0.2 * rate))
    rise = np.sin(np.linspace(0.0, math.pi / 2, edge))
    out = np.zeros(count + samples.size)
    at = 0
    while at < count:
        first = int(draw.integers(0, max(1, samples.size - 4 * edge)))
        part = samples[first:].copy()
        if at:
            part[:edge] *= rise
        part[-edge:] *= rise[::-1]
        out[at : at + part.size] += part
        at += part.size - edge
    return out[:count]


def varied(
    samples: Samples, rate: int, to_hz: int, draw: np.random.Generator, cut_s: float | None = None
) -> Samples:
    """Change a recorded sound a little: rate +-15 %, tilt +-4 dB, a part of it if it is long."""
    speed = draw.uniform(0.85, 1.15)
    sound = resampled(samples, rate * speed, to_hz)
    sound = tilted(sound, to_hz, draw.uniform(-4.0, 4.0))
    if cut_s is not None and sound.size > cut_s * to_hz and draw.random() < 0.4:
        length = round(draw.uniform(cut_s, sound.size / to_hz) * to_hz)
        first = int(draw.integers(0, sound.size - length + 1))
        sound = sound[first : first + length]
    return faded(sound, to_hz, 0.003, 0.01)


def _through(samples: Samples, sos: Samples) -> Samples:
    filtered: Samples = sosfilt(sos, samples)
    return filtered
