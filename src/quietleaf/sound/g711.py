"""ITU-T G.711: eight bits a sample, in steps that grow with the sound; both laws, both ways."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

Law = Literal["A-law", "mu-law"]
LAWS: tuple[Law, ...] = ("A-law", "mu-law")
RATE_HZ = 8_000
_A_SCALE = 4_096
_MU_SCALE = 8_192
_MU_BIAS = 33
_MU_MOST = 8_158
_SIGN = 0x80


def a_law_values() -> NDArray[np.float64]:
    """Give what each of the 256 codes stands for, full scale 1.0.

    Table 1a: 13-bit values, full scale 4096.
    """
    code = np.arange(256) ^ 0x55
    exponent, mantissa = code >> 4 & 7, code & 15
    magnitude = np.where(
        exponent == 0, 2 * mantissa + 1, (2 * mantissa + 33) << np.maximum(exponent - 1, 0)
    )
    return np.asarray(np.where(code & _SIGN, magnitude, -magnitude) / float(_A_SCALE))


def mu_law_values() -> NDArray[np.float64]:
    """Give what each of the 256 codes stands for, full scale 1.0.

    Table 2a: 14-bit values, full scale 8192.
    """
    code = np.arange(256) ^ 0xFF
    exponent, mantissa = code >> 4 & 7, code & 15
    magnitude = ((2 * mantissa + _MU_BIAS) << exponent) - _MU_BIAS
    return np.asarray(np.where(code & _SIGN, -magnitude, magnitude) / float(_MU_SCALE))


def g711_codes(samples: NDArray[np.float64], law: Law) -> NDArray[np.uint8]:
    """Code samples by the decision values of the Recommendation.

    Parameters
    ----------
    samples : ndarray, any shape, float64, full scale 1.0
        What is past the largest value is held at it.

    Returns
    -------
    codes : ndarray, same shape, uint8

    References
    ----------
    .. [1] ITU-T G.711 (11/1988), tables 1a to 2b.

    Examples
    --------
    >>> g711_codes(np.array([0.0, 0.5, -0.5]), "mu-law").tolist()
    [255, 143, 15]
    >>> g711_codes(np.array([0.0, 0.5, -0.5]), "A-law").tolist()
    [213, 165, 37]
    """
    return _a_law(samples) if law == "A-law" else _mu_law(samples)


def _a_law(samples: NDArray[np.float64]) -> NDArray[np.uint8]:
    magnitude = np.minimum(np.abs(samples) * _A_SCALE, _A_SCALE - 1).astype(np.int64)
    exponent = np.maximum(_whole_log2(np.maximum(magnitude, 1)) - 4, 0)
    mantissa = magnitude >> np.maximum(exponent, 1) & 15
    positive = np.where(np.signbit(samples), 0, _SIGN)
    return np.asarray((positive | exponent << 4 | mantissa) ^ 0x55, dtype=np.uint8)


def _mu_law(samples: NDArray[np.float64]) -> NDArray[np.uint8]:
    magnitude = np.minimum(np.abs(samples) * _MU_SCALE, _MU_MOST).astype(np.int64) + _MU_BIAS
    exponent = _whole_log2(magnitude) - 5
    mantissa = magnitude >> exponent + 1 & 15
    negative = np.where(np.signbit(samples), _SIGN, 0)
    return np.asarray((negative | exponent << 4 | mantissa) ^ 0xFF, dtype=np.uint8)


def _whole_log2(numbers: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.asarray(np.frexp(numbers.astype(np.float64))[1], dtype=np.int64) - 1
