"""Noise of the room, laid into the master where its plan says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.signal import firwin2, oaconvolve

from quietleaf.finishing.plan import RATE_HZ, Fill

BANDS_HZ = (
    *(80.0, 150.0, 300.0, 600.0, 756.0, 952.0, 1_200.0, 1_512.0, 1_905.0, 2_400.0, 3_024.0),
    *(3_810.0, 4_800.0, 6_048.0, 7_620.0, 9_600.0, 12_096.0, 15_240.0, 19_200.0),
)
"""Edges of the bands: octaves, then third octaves."""
_TAPS = 513
_LINES = 4_096
_DESIGNS = 5
_LEAST = 1e-30
_NARROWEST_HZ = 100.0
_BEYOND = 1.02


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidFill:
    """A fill, and where it lies in the master."""

    fill: Fill
    start: int
    stop: int


def add_fills(block: NDArray[np.float64], first: int, fills: Sequence[LaidFill]) -> None:
    """Add what lies in a block of the master that begins at sample ``first``, in place."""
    for laid in fills:
        begin, end = max(first, laid.start), min(first + block.size, laid.stop)
        if begin < end:
            block[begin - first : end - first] += fill_range(laid, begin, end)


def fill_range(laid: LaidFill, first: int, stop: int) -> NDArray[np.float64]:
    """Give the noise of a fill for a range of the master that begins inside it.

    Parameters
    ----------
    first, stop : int
        The range, in samples of the master.

    Returns
    -------
    noise : ndarray, shape (stop - first,)
        To rounding the same samples however the master is cut into ranges.
    """
    fill, start = laid.fill, laid.start
    draw_first = first - start
    white = _white(fill.seed, draw_first, draw_first + (stop - first) + _TAPS - 1)
    noise = oaconvolve(white, _taps(fill.bands_db, fill.top_hz), mode="valid")
    place = np.arange(first, stop, dtype=np.float64) - start + 0.5
    shaped: NDArray[np.float64] = noise * envelope(fill, place, laid.stop - start - place)
    return shaped


def envelope(
    fill: Fill, from_start: NDArray[np.float64], to_stop: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give the amplitude of a fill at some places, by how far they are from its ends, in samples.

    Powers add, so it goes by the sine: with the cross-fade the room stays level.
    """
    rising = np.clip(from_start / max(fill.rise, 1), 0.0, 1.0)
    falling = np.clip(to_stop / max(fill.fall, 1), 0.0, 1.0)
    shape: NDArray[np.float64] = np.sin(np.pi / 2 * rising) * np.sin(np.pi / 2 * falling)
    return shape


def band_powers(bands_db: tuple[float, ...]) -> NDArray[np.float64]:
    """Give the power in each band, relative to RMS 1.0."""
    powers: NDArray[np.float64] = 10.0 ** (np.array(bands_db) / 10.0)
    return powers


@lru_cache(maxsize=64)
def _taps(bands_db: tuple[float, ...], top_hz: float) -> NDArray[np.float64]:
    """Design the filter that gives white noise of RMS 1.0 these powers, and none above the top.

    A fill is rendered second by second, more than once: its filter is designed the first time. What
    runs over from a loud band into a quiet one beside it is taken back by designing again.
    """
    count = sum(low < top_hz - _NARROWEST_HZ for low in BANDS_HZ[:-1])
    edges = np.append(BANDS_HZ[:count], min(BANDS_HZ[count], top_hz))
    power = band_powers(bands_db)[:count]
    gain = np.sqrt(power / np.diff(edges) * RATE_HZ / 2.0)
    middle = np.sqrt(edges[:-1] * edges[1:])
    hz = np.concatenate([[0.0, edges[0] * 0.8], middle, [edges[-1] * _BEYOND, RATE_HZ / 2.0]])
    lines = np.searchsorted(np.fft.rfftfreq(_LINES, 1.0 / RATE_HZ), edges)
    taps: NDArray[np.float64] = np.zeros(_TAPS)
    for _ in range(_DESIGNS):
        wanted = np.concatenate([[0.0, gain[0]], gain, [0.0, 0.0]])
        taps = firwin2(_TAPS, hz, wanted, fs=RATE_HZ)
        got = np.add.reduceat(np.abs(np.fft.rfft(taps, _LINES)) ** 2, lines)[:-1] * 2.0 / _LINES
        gain = gain * np.sqrt(power / np.maximum(got, _LEAST)).clip(0.3, 3.0)
    return taps


def _white(seed: int, first: int, stop: int) -> NDArray[np.float64]:
    """Give samples of white noise by their number: second by second, each from its own seed."""
    parts = []
    for second in range(first // RATE_HZ, -(-stop // RATE_HZ)):
        draw = np.random.Generator(np.random.PCG64([seed, second]))
        part = draw.normal(size=RATE_HZ)
        begin = second * RATE_HZ
        parts.append(part[max(0, first - begin) : stop - begin])
    return np.concatenate(parts)
