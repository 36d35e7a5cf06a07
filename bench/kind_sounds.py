"""Sounds that the shared recordings are too few of: variants of those there are, and made ones.

Four clicks and three pages teach nothing but themselves; other rates, filters, cuts and rows of
them teach what they have in common.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt

RATE_HZ = 48_000
"""Made sounds come at this rate."""


def varied(
    samples: NDArray[np.float64], rate: int, kind: str, draw: np.random.Generator
) -> NDArray[np.float64]:
    """Change a recording so that it might be another one of the same kind.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        Cut to where it sounds; the loudest sample of the result is 1.
    """
    # Throats differ by more than papers do.
    least, most = (0.75, 1.3) if kind in ("cough", "breath", "breath-natural") else (0.85, 1.18)
    sound = _stretched(samples, float(np.exp(draw.uniform(np.log(least), np.log(most)))))
    if kind in ("rustle", "noise", "breath", "breath-natural") and sound.size > 0.25 * rate:
        sound = _cut_out(sound, rate, draw)
    if kind == "rustle" and draw.random() < 0.3:
        sound = sound[::-1]
    if kind in ("rustle", "noise", "click", "cough") and draw.random() < 0.35:
        sound = _row(sound, rate, draw)
    if draw.random() < 0.7:
        sound = _filtered(sound, rate, draw)
    if kind in ("rustle", "noise") and draw.random() < 0.4:
        sound = sound * _swell(sound.size, rate, draw)
    return _edged(sound, rate)


def made_rustle(draw: np.random.Generator) -> NDArray[np.float64]:
    """Make paper: sparse bursts through resonances, in one to four strokes."""
    length = round(RATE_HZ * draw.uniform(0.15, 1.2))
    density = float(np.exp(draw.uniform(np.log(40.0), np.log(1500.0)))) / RATE_HZ
    hits = (draw.random(length) < density) * draw.normal(size=length) * draw.gamma(0.7, size=length)
    decay = np.exp(-1.0 / (RATE_HZ * draw.uniform(0.0005, 0.004)))
    grain = lfilter([1.0], [1.0, -decay], np.abs(hits)) * draw.normal(size=length)
    sound = np.zeros(length)
    for _ in range(draw.integers(2, 6)):
        hz = float(np.exp(draw.uniform(np.log(700.0), np.log(9000.0))))
        sound += draw.uniform(0.2, 1.0) * _band(grain, hz, draw.uniform(0.3, 1.5))
    sound += draw.uniform(0.0, 0.5) * draw.normal(size=length) * np.std(sound)
    strokes = np.zeros(length)
    for _ in range(draw.integers(1, 5)):
        middle, width = draw.uniform(0.1, 0.9) * length, draw.uniform(0.03, 0.25) * length
        strokes += draw.uniform(0.3, 1.0) * np.exp(-(((np.arange(length) - middle) / width) ** 2))
    return _edged(sound * strokes, RATE_HZ)


def made_click(draw: np.random.Generator) -> NDArray[np.float64]:
    """Make a click of mouth or switch: one to three impulses through short resonances."""
    length = round(RATE_HZ * 0.06)
    hits = np.zeros(length)
    hits[48] = 1.0
    for _ in range(draw.integers(0, 3)):
        hits[draw.integers(60, length // 2)] = draw.uniform(-0.8, 0.8)
    sound = 0.1 * hits
    for _ in range(draw.integers(2, 5)):
        hz = float(np.exp(draw.uniform(np.log(600.0), np.log(7000.0))))
        ring_s = draw.uniform(0.0004, 0.004)
        radius = np.exp(-1.0 / (RATE_HZ * ring_s))
        sound += draw.uniform(0.2, 1.0) * lfilter(
            [1.0 - radius], [1.0, -2.0 * radius * np.cos(2 * np.pi * hz / RATE_HZ), radius**2], hits
        )
    return _edged(sound, RATE_HZ)


def made_breath(draw: np.random.Generator) -> NDArray[np.float64]:
    """Make a breath: noise through a throat that swells and dies away."""
    length = round(RATE_HZ * draw.uniform(0.15, 1.1))
    at = np.arange(length) / length
    top = draw.uniform(0.3, 0.9)
    swell = np.where(at < top, at / top, (1.0 - at) / (1.0 - top)) ** draw.uniform(0.5, 2.0)
    return _edged(_throat(draw.normal(size=length), draw) * swell, RATE_HZ)


def made_cough(draw: np.random.Generator) -> NDArray[np.float64]:
    """Make a cough: a burst, what streams out after it, now and then a voice; once or more."""
    parts = []
    for _ in range(draw.integers(1, 4)):
        length = round(RATE_HZ * draw.uniform(0.15, 0.4))
        time_s = np.arange(length) / RATE_HZ
        burst = np.exp(-time_s / draw.uniform(0.01, 0.04))
        stream = draw.uniform(0.1, 0.5) * np.exp(-time_s / draw.uniform(0.05, 0.15))
        sound = draw.normal(size=length) * (burst + stream)
        if draw.random() < 0.6:
            hz = draw.uniform(90.0, 350.0) * (
                1.0 + 0.15 * np.cumsum(draw.normal(size=length)) / 300
            )
            pulses = np.diff(np.floor(np.cumsum(hz) / RATE_HZ), prepend=0.0)
            begin, end = draw.uniform(0.1, 0.4), draw.uniform(0.6, 1.0)
            voiced = (time_s > begin * time_s[-1]) & (time_s < end * time_s[-1])
            sound += draw.uniform(2.0, 10.0) * pulses * voiced * np.exp(-time_s / 0.15)
        parts += [_throat(sound, draw), np.zeros(round(RATE_HZ * draw.uniform(0.02, 0.2)))]
    return _edged(np.concatenate(parts[:-1]), RATE_HZ)


def made_thump(draw: np.random.Generator) -> NDArray[np.float64]:
    """Make a knock, a door, a chair: low modes that are struck, with a little clatter."""
    length = round(RATE_HZ * draw.uniform(0.12, 0.5))
    time_s = np.arange(length) / RATE_HZ
    sound = np.zeros(length)
    for _ in range(draw.integers(3, 8)):
        hz = float(np.exp(draw.uniform(np.log(60.0), np.log(1200.0))))
        ring_s = draw.uniform(0.01, 0.08)
        sound += (
            draw.uniform(0.2, 1.0)
            * np.exp(-time_s / ring_s)
            * np.sin(2 * np.pi * (hz * time_s + draw.random()))
        )
    clatter = draw.normal(size=length) * np.exp(-time_s / draw.uniform(0.002, 0.03))
    sound += draw.uniform(0.05, 0.6) * clatter
    if draw.random() < 0.5:
        sound = _row(sound, RATE_HZ, draw)
    return _edged(sound, RATE_HZ)


def _throat(sound: NDArray[np.float64], draw: np.random.Generator) -> NDArray[np.float64]:
    """Let a sound out through four resonances of a mouth."""
    shaped = draw.uniform(0.02, 0.2) * sound
    for usual_hz in (600.0, 1500.0, 2600.0, 4000.0):
        hz = usual_hz * float(np.exp(draw.normal(0.0, 0.25)))
        shaped += draw.uniform(0.1, 1.0) * _band(sound, hz, draw.uniform(0.15, 0.6))
    pole = draw.uniform(0.0, 0.8)
    out: NDArray[np.float64] = lfilter([1.0 - pole], [1.0, -pole], shaped)
    return out


def _stretched(samples: NDArray[np.float64], by: float) -> NDArray[np.float64]:
    places = np.arange(0.0, samples.size - 1.0, by)
    stretched: NDArray[np.float64] = np.interp(places, np.arange(samples.size), samples)
    return stretched


def _cut_out(
    sound: NDArray[np.float64], rate: int, draw: np.random.Generator
) -> NDArray[np.float64]:
    length = round(sound.size * draw.uniform(0.5, 1.0))
    length = max(length, round(0.15 * rate))
    first = int(draw.integers(0, sound.size - length + 1)) if sound.size > length else 0
    return sound[first : first + length]


def _row(sound: NDArray[np.float64], rate: int, draw: np.random.Generator) -> NDArray[np.float64]:
    parts = [sound]
    for _ in range(draw.integers(1, 4)):
        parts.append(np.zeros(round(rate * draw.uniform(0.02, 0.25))))
        parts.append(draw.uniform(0.4, 1.0) * _stretched(sound, draw.uniform(0.92, 1.08)))
    return np.concatenate(parts)[: round(2.5 * rate)]


def _filtered(
    sound: NDArray[np.float64], rate: int, draw: np.random.Generator
) -> NDArray[np.float64]:
    kind = draw.integers(0, 4)
    if kind == 0:
        pole = draw.uniform(-0.6, 0.75)
        tilted: NDArray[np.float64] = lfilter([1.0 - abs(pole)], [1.0, -pole], sound)
        return tilted
    if kind == 1:
        hz = min(float(np.exp(draw.uniform(np.log(2500.0), np.log(12_000.0)))), 0.45 * rate)
        return _through(butter(2, hz, fs=rate, output="sos"), sound)
    if kind == 2:
        hz = float(np.exp(draw.uniform(np.log(60.0), np.log(500.0))))
        return _through(butter(2, hz, "highpass", fs=rate, output="sos"), sound)
    hz = min(float(np.exp(draw.uniform(np.log(200.0), np.log(7000.0)))), 0.3 * rate)
    lowest, highest = 0.7 * hz, min(1.4 * hz, 0.45 * rate)
    peak = _through(butter(1, (lowest, highest), "bandpass", fs=rate, output="sos"), sound)
    return sound + draw.uniform(-0.8, 2.5) * peak


def _swell(size: int, rate: int, draw: np.random.Generator) -> NDArray[np.float64]:
    points = max(3, round(size / rate * draw.uniform(3.0, 12.0)))
    gain_db = draw.uniform(-18.0, 0.0, size=points)
    at = np.linspace(0, points - 1, size)
    return np.power(10.0, np.interp(at, np.arange(points), gain_db) / 20.0)


def _band(sound: NDArray[np.float64], hz: float, octaves: float) -> NDArray[np.float64]:
    low, high = hz * 2.0 ** (-octaves / 2), min(hz * 2.0 ** (octaves / 2), 0.45 * RATE_HZ)
    return _through(butter(1, (low, high), "bandpass", fs=RATE_HZ, output="sos"), sound)


def _through(sections: NDArray[np.float64], sound: NDArray[np.float64]) -> NDArray[np.float64]:
    filtered: NDArray[np.float64] = sosfilt(sections, sound)
    return filtered


def _edged(sound: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
    """Fade the edges over 2 ms and bring the peak to 1."""
    edge = min(max(rate // 500, 1), max(sound.size // 4, 1))
    sound = sound.copy()
    sound[:edge] *= np.linspace(0.0, 1.0, edge)
    sound[-edge:] *= np.linspace(1.0, 0.0, edge)
    peak = float(np.abs(sound).max())
    return sound / peak if peak > 0.0 else sound
