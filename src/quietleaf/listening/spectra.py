"""Short spectra: what each frame of 10 ms is made of, in 24 fine bands and 12 coarse ones.

One transform a frame serves whatever tells sounds apart: kinds of noise, phones, syllables, hum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from quietleaf.listening.frames import frame_starts

WINDOW_S = 0.04
"""Two periods of 50 Hz; bins lie 25 Hz apart."""
MELS = 24
MEL_HZ = (80.0, 3800.0)
"""Also recordings of 8 kHz have this much."""
BAND_EDGES_HZ = (
    20.0,
    80.0,
    160.0,
    315.0,
    630.0,
    1000.0,
    1600.0,
    2500.0,
    4000.0,
    6000.0,
    8000.0,
    11_000.0,
    16_000.0,
)
BANDS = len(BAND_EDGES_HZ) - 1
_HIGH_FROM_HZ = 4000.0
NOTHING_DBOV = -120.0
PITCH_HZ = (75.0, 400.0)
_PITCH_BAND_HZ = (70.0, 1500.0)
_LAG_HZ = 6400.0
"""Periods are told to 1/6400 s."""
_OCTAVE_COST = 0.02
_FRAMES_AT_ONCE = 200
_NOTHING = 1e-12
_LOW = MELS + BAND_EDGES_HZ.index(_HIGH_FROM_HZ)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectralFilters:
    """What turns windows of one rate into spectra.

    Attributes
    ----------
    window : ndarray, shape (w,), float32
    low_sums, high_sums : ndarray, shapes (2 l, 32), (2 h, 4), float32
        From the squares of the lowest ``l`` bins, and of the ``h`` above, real and imaginary by
        turns, to the powers of mels and bands. Apart, since only bands reach over 4 kHz: as one
        they take three times as long.
    pitch_bins : tuple of int
        Bins that are asked for a period, half-open.
    pitch_waves : ndarray, shape (2 p, l), float32
        From the squares of those bins to how much the sound repeats itself at each lag, with
        what the window's own shape takes of that given back.
    pitch_favour : ndarray, shape (l,), float32
        What repeats itself at one lag does so at twice that: the shorter is meant.
    pitch_hz : ndarray, shape (l,), float32
    """

    sample_rate_hz: int
    window: NDArray[np.float32]
    low_sums: NDArray[np.float32]
    high_sums: NDArray[np.float32]
    pitch_bins: tuple[int, int]
    pitch_waves: NDArray[np.float32]
    pitch_favour: NDArray[np.float32]
    pitch_hz: NDArray[np.float32]

    @property
    def reach(self) -> int:
        """Samples of a window on each side of its middle."""
        return self.window.size // 2

    @property
    def parts(self) -> int:
        """Parts of bins that are summed."""
        return len(self.low_sums) + len(self.high_sums)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectra:
    """What successive frames are made of.

    Attributes
    ----------
    mels_dbov : ndarray, shape (k, 24), float32
        Powers in triangles, evenly spaced in mel from 80 to 3800 Hz; -120 for nothing.
    bands_dbov : ndarray, shape (k, 12), float32
        Powers between `BAND_EDGES_HZ`; -120 for nothing, and above half the rate.
    periodic : ndarray, shape (k,), float32
        How much 40 ms below 1.5 kHz repeat themselves at 75 to 400 Hz, 0 to 1.
    pitch_hz : ndarray, shape (k,), float32
        Where they do so most.
    """

    mels_dbov: NDArray[np.float32]
    bands_dbov: NDArray[np.float32]
    periodic: NDArray[np.float32]
    pitch_hz: NDArray[np.float32]


def spectral_filters(sample_rate_hz: int) -> SpectralFilters:
    """Prepare windows and sums for one rate, at least 8000."""
    size = 2 * round(sample_rate_hz * WINDOW_S / 2)
    window = np.hanning(size + 1)[:size]
    bin_hz = sample_rate_hz / size
    hz = np.arange(size // 2 + 1, dtype=np.float64) * bin_hz
    # The last bin, at half the rate, belongs to no band.
    used = int(min(hz.size - 1, BAND_EDGES_HZ[-1] / bin_hz + 1))
    # A Hann window's power, both halves of the spectrum: white noise of power 1 sums to 1.
    scale = 2.0 / (size * float((window**2).sum()))
    sums = np.concatenate([_mel_triangles(hz[:used]), _band_sums(hz[:used])], axis=1) * scale
    parts: NDArray[np.float32] = np.repeat(sums, 2, axis=0).astype(np.float32)
    low_parts = 2 * int(np.searchsorted(hz[:used], _HIGH_FROM_HZ))
    low, high = np.searchsorted(hz, _PITCH_BAND_HZ)
    lags = np.arange(int(_LAG_HZ / PITCH_HZ[1]), int(_LAG_HZ / PITCH_HZ[0]) + 1)
    waves = np.cos(2.0 * np.pi * hz[low:high, np.newaxis] * lags / _LAG_HZ)
    of_window = np.fft.irfft(np.abs(np.fft.rfft(window, 2 * size)) ** 2)
    places = np.rint(lags / _LAG_HZ * sample_rate_hz).astype(np.int64)
    return SpectralFilters(
        sample_rate_hz=sample_rate_hz,
        window=window.astype(np.float32),
        low_sums=parts[:low_parts, :_LOW].copy(),
        high_sums=parts[low_parts:, _LOW:].copy(),
        pitch_bins=(int(low), int(high)),
        pitch_waves=np.repeat(waves * of_window[0] / of_window[places], 2, axis=0).astype(
            np.float32
        ),
        pitch_favour=(1.0 - _OCTAVE_COST * np.log2(lags)).astype(np.float32),
        pitch_hz=(_LAG_HZ / lags).astype(np.float32),
    )


def frame_middles(first: int, count: int, sample_rate_hz: int) -> NDArray[np.int64]:
    """Give the middle samples of ``count`` frames from ``first`` on, shape (count,)."""
    edges = frame_starts(first, count + 1, sample_rate_hz)
    middles: NDArray[np.int64] = (edges[:-1] + edges[1:]) // 2
    return middles


def spectra_of(
    samples: NDArray[np.float32], position: int, first: int, count: int, filters: SpectralFilters
) -> Spectra:
    """Look at frames ``first`` to ``first + count``.

    Parameters
    ----------
    samples : ndarray, shape (c, n), float32, full scale 1.0
        From sample ``position`` on, at least as far as the windows of all frames reach.

    Returns
    -------
    spectra : Spectra
        Of the mean power of the channels.

    Notes
    -----
    Periodicity is the autocorrelation of a Hann window over that of the window itself [1]_, taken
    from the power spectrum without padding: at the longest lag what wraps round weighs a tenth.

    References
    ----------
    .. [1] Boersma 1993, Accurate short-term analysis of the fundamental frequency.

    Examples
    --------
    A buzz of 125 Hz; its window reaches 20 ms to each side:

    >>> filters = spectral_filters(16_000)
    >>> time_s = np.arange(-320, 16_320) / 16_000
    >>> buzz = sum(np.sin(2 * np.pi * 125 * k * time_s) / k for k in range(1, 12)) / 4
    >>> found = spectra_of(buzz[np.newaxis].astype(np.float32), -320, 0, 100, filters)
    >>> found.mels_dbov.shape, round(float(found.pitch_hz[50]))
    ((100, 24), 125)
    """
    sums = np.empty((count, MELS + BANDS), dtype=np.float32)
    periodic = np.empty(count, dtype=np.float32)
    pitch_hz = np.empty(count, dtype=np.float32)
    starts = frame_middles(first, count, filters.sample_rate_hz) - filters.reach - position
    windows = np.empty((_FRAMES_AT_ONCE, filters.window.size), dtype=np.float32)
    squares = np.empty((_FRAMES_AT_ONCE, filters.parts), dtype=np.float32)
    low_parts = filters.low_sums.shape[0]
    for done in range(0, count, _FRAMES_AT_ONCE):
        some = starts[done : done + _FRAMES_AT_ONCE]
        stop = done + some.size
        power = squares[: some.size]
        _square(samples, some, filters, windows[: some.size], power)
        np.matmul(power[:, :low_parts], filters.low_sums, out=sums[done:stop, :_LOW])
        np.matmul(power[:, low_parts:], filters.high_sums, out=sums[done:stop, _LOW:])
        periodic[done:stop], pitch_hz[done:stop] = _periods(power, filters)
    level: NDArray[np.float32] = np.float32(10.0) * np.log10(
        np.maximum(sums, np.float32(_NOTHING)), dtype=np.float32
    )
    return Spectra(
        mels_dbov=level[:, :MELS].copy(),
        bands_dbov=level[:, MELS:].copy(),
        periodic=periodic,
        pitch_hz=pitch_hz,
    )


def _square(
    samples: NDArray[np.float32],
    starts: NDArray[np.int64],
    filters: SpectralFilters,
    windows: NDArray[np.float32],
    squares: NDArray[np.float32],
) -> None:
    """Fill ``squares`` with the squares of the spectra's parts: real, imaginary, by turns.

    What is large is made once and used again: fresh memory costs more than the arithmetic.
    """
    for index, channel in enumerate(samples):
        _take_windows(channel, starts, filters.window, windows)
        spectrum = scipy.fft.rfft(windows, axis=1).view(np.float32)[:, : squares.shape[1]]
        if index == 0:
            np.square(spectrum, out=squares)
        else:
            squares += np.square(spectrum, out=spectrum)
    if samples.shape[0] > 1:
        squares /= np.float32(samples.shape[0])


def _take_windows(
    channel: NDArray[np.float32],
    starts: NDArray[np.int64],
    window: NDArray[np.float32],
    windows: NDArray[np.float32],
) -> None:
    hops = np.diff(starts)
    every = np.lib.stride_tricks.sliding_window_view(channel, window.size)
    if hops.size and (hops == hops[0]).all():
        some = every[starts[0] : starts[-1] + 1 : hops[0]]
    else:
        some = every[starts]
    np.multiply(some, window, out=windows)


def _periods(
    squares: NDArray[np.float32], filters: SpectralFilters
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    low, high = filters.pitch_bins
    voice = squares[:, 2 * low : 2 * high]
    whole = np.maximum(voice.sum(axis=1), np.float32(_NOTHING * _NOTHING))
    alike = voice @ filters.pitch_waves
    best = (alike * filters.pitch_favour).argmax(axis=1)
    most = alike[np.arange(best.size), best] / whole
    return np.clip(most, 0.0, 1.0), filters.pitch_hz[best]


def _mel_triangles(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give triangles of height 1, evenly spaced in mel as in O'Shaughnessy 1987, shape (b, 24)."""
    mel = 2595.0 * np.log10(1.0 + hz / 700.0)
    low, high = (2595.0 * np.log10(1.0 + edge / 700.0) for edge in MEL_HZ)
    corners = np.linspace(low, high, MELS + 2)
    rise = (mel[:, np.newaxis] - corners[:-2]) / (corners[1:-1] - corners[:-2])
    fall = (corners[2:] - mel[:, np.newaxis]) / (corners[2:] - corners[1:-1])
    triangles: NDArray[np.float64] = np.maximum(0.0, np.minimum(rise, fall))
    return triangles


def _band_sums(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    edges = np.array(BAND_EDGES_HZ)
    inside = (hz[:, np.newaxis] >= edges[:-1]) & (hz[:, np.newaxis] < edges[1:])
    return inside.astype(np.float64)
