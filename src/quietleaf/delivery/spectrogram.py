"""What a moment of sound is made of: the power in bands of equal width, over time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.png import STRENGTHS

COLUMNS = 200
ROWS = 80
STEP_DB = 4.0
"""From one strength of ink to the next: 60 dB from paper to the blackest. Ours."""
_BLACKEST_SHARE = 0.998
"""What is louder than this share of both pictures is all black: a click outshines the voice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """How a picture is measured.

    Attributes
    ----------
    top_hz : int
        The picture goes from 0 Hz to here.
    window_samples : int
        How much sound is behind each column; its bins fill the rows evenly.
    bins : int
        How many bins there are in a row.
    """

    top_hz: int
    window_samples: int
    bins: int


WIDE = Scale(top_hz=8_000, window_samples=960, bins=2)
"""At 48 kHz: 20 ms, rows of 100 Hz."""
LOW = Scale(top_hz=1_000, window_samples=3_840, bins=1)
"""At 48 kHz: 80 ms, rows of 12.5 Hz, for what lies where the voice is lowest."""


def spectrogram(samples: NDArray[np.float64], scale: Scale) -> NDArray[np.float32]:
    """Measure the power in each band at each moment.

    Parameters
    ----------
    samples : ndarray, shape (n + window_samples,), 48 kHz, full scale 1.0
        With half a window before and after what is shown; ``n`` is a multiple of ``COLUMNS``.

    Returns
    -------
    power : ndarray, shape (ROWS, COLUMNS)
        From the lowest band up; the rows of a column sum up to its mean square, as far as that
        lies under ``top_hz``. Silence is 0.

    Examples
    --------
    >>> tone = 0.1 * np.sin(2 * np.pi * 1_050 * np.arange(48_000 + 960) / 48_000)
    >>> power = spectrogram(tone, WIDE)
    >>> int(power[:, 100].argmax()), round(float(power[:, 100].sum()), 5)
    (10, 0.005)
    """
    hop = (samples.size - scale.window_samples) // COLUMNS
    bell = np.hanning(scale.window_samples + 1)[:-1].astype(np.float32)
    heard = samples.astype(np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(heard, scale.window_samples)
    bins = np.fft.rfft(frames[hop // 2 :: hop][:COLUMNS] * bell)[:, : ROWS * scale.bins]
    power = bins.real**2 + bins.imag**2
    # One-sided, and as loud as it was before the bell.
    power *= 2.0 / (scale.window_samples * float((bell**2).sum()))
    rows: NDArray[np.float32] = power.reshape(COLUMNS, ROWS, scale.bins).sum(axis=2).T
    return rows


def inked(
    before: NDArray[np.float32], after: NDArray[np.float32]
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Turn two pictures into ink on the same scale, the highest band as the first row.

    Returns
    -------
    before, after : ndarray, shape (ROWS, COLUMNS), uint8
        0 to ``STRENGTHS - 1``; silence is 0.
    """
    both_db = 10.0 * np.log10(np.maximum(np.stack([before, after])[:, ::-1], 1e-15))
    blackest_db = float(np.quantile(both_db, _BLACKEST_SHARE))
    strengths = np.rint((both_db - blackest_db) / STEP_DB) + (STRENGTHS - 1)
    ink = np.clip(strengths, 0, STRENGTHS - 1).astype(np.uint8)
    return ink[0], ink[1]
