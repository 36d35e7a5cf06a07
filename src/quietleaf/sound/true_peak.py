"""True peak: the greatest magnitude of the sound between its samples."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.sound.compiled import kernel

LOWEST_OVERSAMPLED_HZ = 192_000
"""BS.1770-5, Annex 2: only from this rate on may a reading be called dBTP."""
ANNEX_2_RATE_HZ = 48_000
ANNEX_2_PHASES = (
    (
        0.0017089843750,
        0.0109863281250,
        -0.0196533203125,
        0.0332031250000,
        -0.0594482421875,
        0.1373291015625,
        0.9721679687500,
        -0.1022949218750,
        0.0476074218750,
        -0.0266113281250,
        0.0148925781250,
        -0.0083007812500,
    ),
    (
        -0.0291748046875,
        0.0292968750000,
        -0.0517578125000,
        0.0891113281250,
        -0.1665039062500,
        0.4650878906250,
        0.7797851562500,
        -0.2003173828125,
        0.1015625000000,
        -0.0582275390625,
        0.0330810546875,
        -0.0189208984375,
    ),
    (
        -0.0189208984375,
        0.0330810546875,
        -0.0582275390625,
        0.1015625000000,
        -0.2003173828125,
        0.7797851562500,
        0.4650878906250,
        -0.1665039062500,
        0.0891113281250,
        -0.0517578125000,
        0.0292968750000,
        -0.0291748046875,
    ),
    (
        -0.0083007812500,
        0.0148925781250,
        -0.0266113281250,
        0.0476074218750,
        -0.1022949218750,
        0.9721679687500,
        0.1373291015625,
        -0.0594482421875,
        0.0332031250000,
        -0.0196533203125,
        0.0109863281250,
        0.0017089843750,
    ),
)
"""The published 48-tap low-pass as its four phases."""
_OTHER_TAPS = 24
_KAISER_BETA = 3.5
_CHUNK = 64
_ROUNDING = 1.0 + 1e-12
"""A sum of so few products is never further than this from exact, relative to their magnitudes."""


def interpolation_phases(sample_rate_hz: int) -> NDArray[np.float64]:
    """Give the low-pass that makes the values between samples, as phases.

    Parameters
    ----------
    sample_rate_hz : int

    Returns
    -------
    phases : ndarray, shape (p, taps)
        At 48 kHz the four of Annex 2, twelve taps each; at other rates as many as bring the rate
        to 192 kHz or more (5 at 44.1 kHz, 12 at 16 kHz, 2 at 96 kHz), 24 taps each; none from
        192 kHz on, where the samples themselves are the true-peak reading.

    Notes
    -----
    BS.1770-5 [1]_ publishes coefficients for 48 kHz alone. For other rates each phase is 24
    values of a sinc under a Kaiser window, at the same places in between as Annex 2 has them
    (the middles of the steps), scaled so that a constant keeps its value: level within 0.1 dB up
    to 0.45 of the rate (Annex 2 itself: 0.11 dB up to 0.42, 1.3 dB at 0.45).

    References
    ----------
    .. [1] ITU-R BS.1770-5 (11/2023), Annex 2.

    Examples
    --------
    >>> [interpolation_phases(rate).shape[0] for rate in (16_000, 44_100, 48_000, 96_000, 192_000)]
    [12, 5, 4, 2, 0]
    """
    if sample_rate_hz == ANNEX_2_RATE_HZ:
        return np.array(ANNEX_2_PHASES)
    if sample_rate_hz >= LOWEST_OVERSAMPLED_HZ:
        return np.empty((0, _OTHER_TAPS))
    count = math.ceil(LOWEST_OVERSAMPLED_HZ / sample_rate_hz)
    place = (np.arange(count) + 0.5) / count
    half = _OTHER_TAPS / 2
    distance = np.arange(_OTHER_TAPS) - half + place[:, np.newaxis]
    window = np.i0(_KAISER_BETA * np.sqrt(1.0 - (distance / half) ** 2))
    phases = np.sinc(distance) * window
    scaled: NDArray[np.float64] = phases / phases.sum(axis=1, keepdims=True)
    return scaled


def true_peak(samples: NDArray[np.float64], sample_rate_hz: int) -> NDArray[np.float64]:
    """Measure the true peak of each channel.

    Parameters
    ----------
    samples : ndarray, shape (n, c), float64, full scale = 1.0

    Returns
    -------
    peak : ndarray, shape (c,), magnitude
        The larger of sample peak and interpolated peak; 1.0 is 0 dBTP. Silence and an empty
        array read 0.

    Raises
    ------
    AudioUnfit
        If a sample is not finite.

    Notes
    -----
    The low-pass is that of `interpolation_phases`, and the sound is preceded and followed by
    silence. None of the phases passes the samples themselves, so the sample peak is looked at
    too. A stretch whose greatest sample times the largest sum of magnitudes of a phase is not
    above what was found already cannot hold the true peak and is not interpolated: the result is
    that of the full computation, bit for bit.

    References
    ----------
    .. [1] ITU-R BS.1770-5 (11/2023), Annex 2.

    Examples
    --------
    A quarter-rate sine sampled 45 degrees off its crests hides 3 dB between its samples:

    >>> n = np.arange(4800)
    >>> tone = 0.5 * np.sin(2 * np.pi * n / 4 + np.pi / 4) * np.hanning(4800)
    >>> peak = true_peak(tone[:, np.newaxis], 48_000)
    >>> (20 * np.log10([np.abs(tone).max(), peak[0]])).round(1)
    array([-9., -6.])
    """
    if not np.isfinite(samples).all():
        raise AudioUnfit(
            "hear/not-finite",
            "A true peak needs numbers for samples; this sound holds some that are none. "
            "Export the recording again.",
        )
    phases = interpolation_phases(sample_rate_hz)
    bound = phase_bound(phases)
    peaks = np.zeros(samples.shape[1])
    for channel in range(samples.shape[1]):
        padded = np.zeros(_CHUNK + samples.shape[0] + 2 * _CHUNK)
        padded[_CHUNK : _CHUNK + samples.shape[0]] = samples[:, channel]
        chunks = chunk_peaks(padded, _CHUNK)
        peaks[channel] = interpolated_peak(padded, chunks, 1, _CHUNK, phases, bound, chunks.max())
    return peaks


def phase_bound(phases: NDArray[np.float64]) -> float:
    """Give what an interpolated value can be at most, for samples of magnitude up to 1."""
    if phases.shape[0] == 0:
        return 0.0
    return float(np.abs(phases).sum(axis=1).max()) * _ROUNDING


def chunk_peaks(samples: NDArray[np.float64], chunk: int) -> NDArray[np.float64]:
    """Give the greatest magnitude in each whole chunk of samples, shape (n // chunk,)."""
    peaks = np.empty(samples.size // chunk)
    _chunk_peaks(samples.view(np.int64), chunk, peaks.view(np.int64))
    return peaks


@kernel
def _chunk_peaks(bits: NDArray[np.int64], chunk: int, peaks: NDArray[np.int64]) -> None:
    # Magnitudes are ordered as their bits are: a maximum of integers, which compilers can do
    # several at a time without changing what a comparison of floats means.
    for index in range(peaks.size):
        greatest = np.int64(0)
        for i in range(index * chunk, (index + 1) * chunk):
            greatest = max(greatest, bits[i] & np.int64(0x7FFFFFFFFFFFFFFF))
        peaks[index] = greatest


@kernel
def interpolated_peak(
    samples: NDArray[np.float64],
    chunks: NDArray[np.float64],
    first: int,
    chunk: int,
    phases: NDArray[np.float64],
    bound: float,
    found: float,
) -> float:
    """Raise ``found`` to the greatest interpolated magnitude of the chunks from ``first`` on.

    ``chunks`` are the peaks of all chunks of ``samples``; those before ``first`` must reach back
    one sample less than there are taps.
    """
    taps = phases.shape[1]
    back = (taps - 2) // chunk + 1
    for index in range(first, chunks.size):
        near = chunks[index]
        for before in range(index - back, index):
            near = max(near, chunks[before])
        if near * bound <= found:
            continue
        for n in range(index * chunk, (index + 1) * chunk):
            for phase in range(phases.shape[0]):
                value = 0.0
                for tap in range(taps):
                    value += phases[phase, tap] * samples[n - tap]
                found = max(found, abs(value))
    return found
