"""Frames of a take's end, looked at closely: levels in bands, and how much they repeat themselves.

For places that must be right to some 10 ms; where speech lies in a whole recording is asked of
`quietleaf.listening.speech`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

FRAMES_PER_S = 200
WINDOW_S = 0.02
_PITCH_WINDOW_S = 0.04
_BANDS_HZ = (80.0, 800.0, 2_500.0, 6_000.0, 20_000.0)
_PITCH_HZ = (70.0, 400.0)
_PITCH_BAND_HZ = (65.0, 1_500.0)
_NOTHING = 1e-20
_FRAMES_AT_ONCE = 2_048
_SMOOTH_FRAMES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceFrames:
    """What is heard every 5 ms; frame ``i`` lies around sample ``i * hop``.

    Attributes
    ----------
    hop : int
        Samples from frame to frame.
    level_dbov : ndarray, shape (k,)
        Of 20 ms above 80 Hz; -200 for silence.
    bands_dbov : ndarray, shape (k, b)
        The same in bands: 80 to 800 Hz, to 2.5, to 6, to 20 kHz, as far as the rate goes; means
        over three frames.
    alike : ndarray, shape (k,)
        How much 40 ms repeat themselves at 70 to 400 Hz, 0 to 1, from what lies below 1.5 kHz.
    """

    hop: int
    level_dbov: NDArray[np.float64]
    bands_dbov: NDArray[np.float64]
    alike: NDArray[np.float64]


def voice_frames(samples: NDArray[np.float64], sample_rate_hz: int) -> VoiceFrames:
    """Look closely.

    Parameters
    ----------
    samples : ndarray, shape (n,), full scale 1.0

    Notes
    -----
    Periodicity is the autocorrelation of a Hann window over that of the window itself [1]_.

    References
    ----------
    .. [1] Boersma 1993, Accurate short-term analysis of the fundamental frequency.

    Examples
    --------
    >>> time_s = np.arange(16_000) / 16_000
    >>> buzz = sum(np.sin(2 * np.pi * 120 * k * time_s) / k for k in range(1, 12))
    >>> float(np.median(voice_frames(buzz, 16_000).alike)) > 0.9
    True
    """
    hop = round(sample_rate_hz / FRAMES_PER_S)
    size = 2 * round(sample_rate_hz * _PITCH_WINDOW_S / 2)
    short = 2 * round(sample_rate_hz * WINDOW_S / 2)
    count = samples.size // hop + 1
    padded = np.pad(samples, (size // 2, size // 2 + hop))
    windows = np.lib.stride_tricks.sliding_window_view(padded, size)[::hop][:count]
    middle = slice((size - short) // 2, (size + short) // 2)
    edges = [edge for edge in _BANDS_HZ if edge < sample_rate_hz / 2] + [sample_rate_hz / 2]
    bands = np.empty((count, len(edges) - 1))
    alike = np.empty(count)
    for first in range(0, count, _FRAMES_AT_ONCE):
        some = windows[first : first + _FRAMES_AT_ONCE]
        bands[first : first + some.shape[0]] = _band_powers(some[:, middle], edges, sample_rate_hz)
        alike[first : first + some.shape[0]] = _alike(some, sample_rate_hz)
    return VoiceFrames(
        hop=hop,
        level_dbov=_dbov(bands.sum(axis=1)),
        bands_dbov=_dbov(_smooth(bands)),
        alike=alike,
    )


def _band_powers(
    windows: NDArray[np.float64], edges: list[float], sample_rate_hz: int
) -> NDArray[np.float64]:
    size = windows.shape[1]
    shape = np.hanning(size + 1)[:size]
    power = power_of(np.fft.rfft(windows * shape, axis=1)) * (2.0 / (size * (shape**2).sum()))
    hz = np.fft.rfftfreq(size, 1.0 / sample_rate_hz)
    places = np.searchsorted(hz, edges)
    return np.stack([power[:, a:b].sum(axis=1) for a, b in pairwise(places)], axis=1)


def _alike(windows: NDArray[np.float64], sample_rate_hz: int) -> NDArray[np.float64]:
    size = windows.shape[1]
    shape = np.hanning(size + 1)[:size]
    padded = 2 * size
    hz = np.fft.rfftfreq(padded, 1.0 / sample_rate_hz)
    low, high = np.searchsorted(hz, _PITCH_BAND_HZ)
    power = power_of(np.fft.rfft(windows * shape, padded, axis=1)[:, low:high])
    lags = np.arange(int(sample_rate_hz / _PITCH_HZ[1]), int(sample_rate_hz / _PITCH_HZ[0]) + 1)
    of_shape = np.fft.irfft(np.abs(np.fft.rfft(shape, padded)) ** 2)
    # Few bins and few lags: a product with cosines is less than a transform back.
    waves = 2.0 / padded * np.cos(2.0 * np.pi / padded * np.outer(np.arange(low, high), lags))
    whole = np.maximum(2.0 / padded * power.sum(axis=1), _NOTHING)
    found = power @ waves / whole[:, np.newaxis] / (of_shape[lags] / of_shape[0])
    most: NDArray[np.float64] = np.clip(found.max(axis=1), 0.0, 1.0)
    return most


def power_of(spectrum: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Give squared magnitudes, without the root that a magnitude takes."""
    power: NDArray[np.float64] = spectrum.real**2 + spectrum.imag**2
    return power


def _smooth(powers: NDArray[np.float64]) -> NDArray[np.float64]:
    reach = _SMOOTH_FRAMES // 2
    padded = np.pad(powers, ((reach, reach), (0, 0)), mode="edge")
    smooth: NDArray[np.float64] = np.lib.stride_tricks.sliding_window_view(
        padded, _SMOOTH_FRAMES, axis=0
    ).mean(axis=2)
    return smooth


def _dbov(power: NDArray[np.float64]) -> NDArray[np.float64]:
    level: NDArray[np.float64] = 10.0 * np.log10(np.maximum(power, _NOTHING))
    return level
