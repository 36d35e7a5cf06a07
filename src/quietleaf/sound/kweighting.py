"""K-weighting: the filter of ITU-R BS.1770-5, at the rate it was published for and at others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit

STANDARD_RATE_HZ = 48_000
LOWEST_RATE_HZ = 8_000
_SHELF_48K = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285),
    (1.0, -1.69065929318241, 0.73248077421585),
)
"""BS.1770-5, Annex 1, Table 1: numerator and denominator."""
_HIGH_PASS_48K = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
"""BS.1770-5, Annex 1, Table 2."""
_HIGH_PASS_HZ = 38.13547087602444
_HIGH_PASS_Q = 0.5003270373238773
_LIKE_48K_UP_TO_HZ = 20_000.0
_FIT_POINTS = 400
_FIT_ROUNDS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class KWeighting:
    """The two second-order stages at one rate.

    Attributes
    ----------
    shelf : ndarray, shape (5,)
        b0, b1, b2, a1, a2 of the first stage.
    high_pass : ndarray, shape (2,)
        a1, a2 of the second stage; its numerator is 1, -2, 1.
    """

    sample_rate_hz: int
    shelf: NDArray[np.float64]
    high_pass: NDArray[np.float64]


def k_weighting(sample_rate_hz: int) -> KWeighting:
    """Give the coefficients of the K-weighting filter.

    Parameters
    ----------
    sample_rate_hz : int
        At least 8000.

    Returns
    -------
    weighting : KWeighting
        At 48 kHz the published numbers.

    Raises
    ------
    AudioUnfit
        If the rate is lower than 8 kHz.

    Notes
    -----
    The standard asks for the same frequency response at other rates and gives no coefficients
    [1]_. The usual redesign (bilinear transform of a prototype) departs from it by up to 0.04 dB
    at 997 Hz and, towards half the rate, by 0.15 dB at 16 kHz and 0.5 dB at 8 kHz. Here the
    high-pass is redesigned so, and the shelf is fitted by least squares to what is left of the
    published response: a quotient of two quadratics in cos w, which is linear in its
    coefficients, then factored into the stable filter. From 20 Hz to 0.45 of the rate it is
    within 0.01 dB of the published response, from 16 kHz upwards within 0.001 dB. Above 20 kHz
    the response is held level.

    References
    ----------
    .. [1] ITU-R BS.1770-5 (11/2023), Annex 1, Tables 1 and 2.

    Examples
    --------
    >>> k_weighting(48_000).high_pass
    array([-1.99004745,  0.99007225])
    """
    if sample_rate_hz < LOWEST_RATE_HZ:
        raise AudioUnfit(
            "hear/rate-too-low",
            f"A loudness measurement needs at least {LOWEST_RATE_HZ} samples a second; this "
            f"recording has {sample_rate_hz}. Record it again at 48000.",
        )
    if sample_rate_hz == STANDARD_RATE_HZ:
        numerator, denominator = np.array(_SHELF_48K[0]), np.array(_SHELF_48K[1])
        high_pass = np.array(_HIGH_PASS_48K[1])
    else:
        high_pass = high_pass_denominator(_HIGH_PASS_HZ, _HIGH_PASS_Q, sample_rate_hz)
        numerator, denominator = _fitted_shelf(high_pass, sample_rate_hz)
    return KWeighting(
        sample_rate_hz=sample_rate_hz,
        shelf=np.concatenate([numerator, denominator[1:]]),
        high_pass=high_pass[1:],
    )


def k_gain_db(weighting: KWeighting, frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the gain of a K-weighting filter at some frequencies.

    Parameters
    ----------
    frequency_hz : ndarray, shape (k,)
        Above 0 and below half the rate.

    Returns
    -------
    gain : ndarray, shape (k,), dB

    Examples
    --------
    >>> k_gain_db(k_weighting(48_000), np.array([997.0])).round(3)
    array([0.691])
    """
    rate = weighting.sample_rate_hz
    shelf, high_pass = weighting.shelf, weighting.high_pass
    power = _power(shelf[:3], np.array([1.0, *shelf[3:]]), frequency_hz, rate)
    power *= _power(np.array(_HIGH_PASS_48K[0]), np.array([1.0, *high_pass]), frequency_hz, rate)
    gain: NDArray[np.float64] = 10.0 * np.log10(power)
    return gain


def high_pass_denominator(
    corner_hz: float, quality: float, sample_rate_hz: int
) -> NDArray[np.float64]:
    """Give 1, a1, a2 of a second-order high-pass by the bilinear transform.

    Its numerator is 1, -2, 1 times a gain; a gain of ``(1 - a1 + a2) / 4`` makes the pass-band
    level.

    Examples
    --------
    >>> high_pass_denominator(38.13547087602444, 0.5003270373238773, 48_000).round(8)
    array([ 1.        , -1.99004745,  0.99007225])
    """
    k = np.tan(np.pi * corner_hz / sample_rate_hz)
    scale = 1.0 + k / quality + k * k
    return np.array([1.0, 2.0 * (k * k - 1.0) / scale, (1.0 - k / quality + k * k) / scale])


def _fitted_shelf(
    high_pass: NDArray[np.float64], rate: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    frequency = np.geomspace(20.0, min(0.499 * rate, _LIKE_48K_UP_TO_HZ), _FIT_POINTS)
    numerator = np.array(_HIGH_PASS_48K[0])
    wanted = _power(*_arrays(_SHELF_48K), frequency, STANDARD_RATE_HZ)
    wanted *= _power(*_arrays(_HIGH_PASS_48K), frequency, STANDARD_RATE_HZ)
    wanted /= _power(numerator, high_pass, frequency, rate)
    if rate > 2.0 * _LIKE_48K_UP_TO_HZ:
        beyond = np.geomspace(_LIKE_48K_UP_TO_HZ, 0.5 * rate, 60)
        frequency = np.concatenate([frequency, beyond])
        wanted = np.concatenate([wanted, np.full(beyond.size, wanted[-1])])
    w = 2.0 * np.pi * frequency / rate
    one, cos1, cos2 = np.ones_like(w), np.cos(w), np.cos(2.0 * w)
    # (n0 + n1 cos w + n2 cos 2w) / (1 + d1 cos w + d2 cos 2w) = wanted, errors relative; the
    # weight of each round is the denominator of the last one.
    columns = np.stack([one, cos1, cos2, -wanted * cos1, -wanted * cos2], axis=1)
    weight = one
    for _ in range(_FIT_ROUNDS):
        scale = wanted * weight
        found = np.linalg.lstsq(columns / scale[:, np.newaxis], 1.0 / weight, rcond=None)[0]
        weight = np.abs(one + found[3] * cos1 + found[4] * cos2)
    top = _minimum_phase(found[0], found[1], found[2])
    bottom = _minimum_phase(1.0, found[3], found[4])
    return top / bottom[0], bottom / bottom[0]


def _minimum_phase(c0: float, c1: float, c2: float) -> NDArray[np.float64]:
    """Factor ``c0 + c1 cos w + c2 cos 2w`` into the polynomial with its zeros inside the circle."""
    zeros = np.roots([c2 / 2.0, c1 / 2.0, c0, c1 / 2.0, c2 / 2.0])
    inner = zeros[np.argsort(np.abs(zeros))[:2]]
    polynomial = np.real(np.poly(inner))
    scaled: NDArray[np.float64] = polynomial * (np.sqrt(c0 + c1 + c2) / polynomial.sum())
    return scaled


def _power(
    numerator: NDArray[np.float64],
    denominator: NDArray[np.float64],
    frequency_hz: NDArray[np.float64],
    rate: int,
) -> NDArray[np.float64]:
    z = np.exp(-2j * np.pi * frequency_hz / rate)
    response = np.polyval(numerator[::-1], z) / np.polyval(denominator[::-1], z)
    power: NDArray[np.float64] = np.abs(response) ** 2
    return power


def _arrays(
    stage: tuple[tuple[float, ...], tuple[float, ...]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.array(stage[0]), np.array(stage[1])
