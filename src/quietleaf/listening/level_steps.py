"""Levels in one byte each: half decibels, so that ten hours of frames weigh under 4 MB."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SILENT_STEP = 0
STEPS_A_DB = 2.0
LOWEST_DBOV = -127.5
"""Below what 24-bit sound holds in a frame of 10 ms."""


def steps_of_power(power: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Turn mean squares into steps: 255 is 0 dBov and above, 0 is silence.

    Examples
    --------
    >>> steps_of_power(np.array([1.0, 1e-6, 0.0]))
    array([255, 135,   0], dtype=uint8)
    """
    steps = np.zeros(power.shape, dtype=np.uint8)
    heard = power > 0.0
    level = 10.0 * np.log10(power[heard])
    steps[heard] = np.clip(np.rint(STEPS_A_DB * (level - LOWEST_DBOV)), 1, 255).astype(np.uint8)
    return steps


def dbov_of_steps(steps: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Turn steps into levels, within a quarter of a decibel; silence is -inf.

    Examples
    --------
    >>> dbov_of_steps(np.array([255, 135, 0], dtype=np.uint8))
    array([  0., -60., -inf], dtype=float32)
    """
    level = steps.astype(np.float32)
    level /= np.float32(STEPS_A_DB)
    level += np.float32(LOWEST_DBOV)
    level[steps == SILENT_STEP] = -np.inf
    return level


def powers_of_steps() -> NDArray[np.float64]:
    """Give the mean square that each step stands for, shape (256,); 0 for silence."""
    powers: NDArray[np.float64] = 10.0 ** ((np.arange(256) / STEPS_A_DB + LOWEST_DBOV) / 10.0)
    powers[SILENT_STEP] = 0.0
    return powers
