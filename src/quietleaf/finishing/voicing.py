"""Whether a sound is a voice: how much of it repeats itself at the pitch of one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.plan import RATE_HZ

_DECIMATE = 6
_RATE_HZ = RATE_HZ // _DECIMATE
_FRAME = 320
_HOP = 80
_LAG_MIN = _RATE_HZ // 400
_LAG_MAX = _RATE_HZ // 70
_ALIKE = 0.6
_NEAR_PEAK_DB = 15.0
_NOTHING = 1e-20
HOP_S = _HOP / _RATE_HZ


def voiced(samples: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Find where a sound repeats itself at the pitch of a voice.

    Parameters
    ----------
    samples : ndarray, shape (n,), 48 kHz
        Without DC and rumble.

    Returns
    -------
    mask : ndarray, shape (k,)
        For each 40 ms frame, every 10 ms: whether it is alike itself by 0.6 (normalised
        autocorrelation) at a lag of 1/400 to 1/70 s, and within 15 dB of the loudest frame.
        Silence gives no true one; what is shorter than 40 ms gives none at all.

    Notes
    -----
    A breath, a page and a consonant such as *s* are noise and give next to nothing; a vowel gives
    its length. A steady tone counts as voiced: this only tells sounds apart that stand out of
    room tone.

    Examples
    --------
    >>> time_s = np.arange(24_000) / 48_000
    >>> buzz = sum(np.sin(2 * np.pi * 120 * k * time_s) / k for k in range(1, 12))
    >>> noise = np.random.default_rng(3).normal(size=24_000)
    >>> int(voiced(buzz).sum()) > 40, int(voiced(noise).sum()) < 3
    (True, True)
    """
    whole = samples.size // _DECIMATE * _DECIMATE
    slow = samples[:whole].reshape(-1, _DECIMATE).mean(axis=1)
    if slow.size < _FRAME:
        return np.zeros(0, dtype=np.bool_)
    frames = np.lib.stride_tricks.sliding_window_view(slow, _FRAME)[::_HOP]
    frames = frames - frames.mean(axis=1, keepdims=True)
    energy = (frames * frames).sum(axis=1)
    mask: NDArray[np.bool_] = energy > max(energy.max() * 10.0 ** (-_NEAR_PEAK_DB / 10.0), _NOTHING)
    loud = frames[mask]
    spectrum = np.fft.rfft(loud, 2 * _FRAME, axis=1)
    products = np.fft.irfft(np.abs(spectrum) ** 2, axis=1)[:, _LAG_MIN : _LAG_MAX + 1]
    sums = np.cumsum(loud * loud, axis=1)
    lags = np.arange(_LAG_MIN, _LAG_MAX + 1)
    head = sums[:, _FRAME - 1 - lags]
    tail = sums[:, -1:] - sums[:, lags - 1]
    alike = products / np.sqrt(np.maximum(head * tail, _NOTHING))
    mask[mask] = alike.max(axis=1) >= _ALIKE if loud.size else False
    return mask
