"""A Butterworth band-pass as second-order sections, and a loop that runs them.

The library that has both takes over half a second to load, as long as half an hour of sound.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.sound.compiled import kernel


def band_pass_sections(
    low_hz: float, high_hz: float, sample_rate_hz: float, order: int
) -> NDArray[np.float64]:
    """Design the filter by the bilinear transform.

    Parameters
    ----------
    order : int
        Even: then all poles come in pairs.

    Returns
    -------
    sections : ndarray, shape (order, 5)
        b0, b1, b2, a1, a2 of each section, a0 = 1; the gain at the middle is 1.

    References
    ----------
    Butterworth 1930; the transforms as in Oppenheim and Schafer, Discrete-Time Signal Processing
    (from memory). Checked against a general-purpose library.
    """
    low, high = (2.0 * np.tan(np.pi * edge / sample_rate_hz) for edge in (low_hz, high_hz))
    angles = np.pi * (2 * np.arange(1, order + 1) + order - 1) / (2 * order)
    half = 0.5 * (high - low) * np.exp(1j * angles)
    root = np.sqrt(half * half - low * high)
    analog = np.concatenate([half + root, half - root])
    poles = (2.0 + analog) / (2.0 - analog)
    upper = poles[poles.imag > 0.0]
    middle_hz = np.arctan(np.sqrt(low * high) / 2.0) * sample_rate_hz / np.pi
    turn = np.exp(-2j * np.pi * middle_hz / sample_rate_hz)
    sections = np.empty((upper.size, 5))
    for section, pole in zip(sections, upper, strict=True):
        a1, a2 = -2.0 * pole.real, abs(pole) ** 2
        gain = abs((1.0 + a1 * turn + a2 * turn**2) / (1.0 - turn**2))
        section[:] = gain, 0.0, -gain, a1, a2
    return sections


@kernel
def run_sections(
    samples: NDArray[np.float64], sections: NDArray[np.float64], state: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Filter channels, shape (c, n); ``state``, shape (s, c, 2), goes on from block to block."""
    filtered = samples.copy()
    for index in range(sections.shape[0]):
        b0, b1, b2, a1, a2 = sections[index]
        for channel in range(samples.shape[0]):
            z1, z2 = state[index, channel]
            for n in range(samples.shape[1]):
                x = filtered[channel, n]
                y = b0 * x + z1
                z1 = b1 * x - a1 * y + z2
                z2 = b2 * x - a2 * y
                filtered[channel, n] = y
            if abs(z1) + abs(z2) < 1e-30:
                z1, z2 = 0.0, 0.0
            state[index, channel, 0], state[index, channel, 1] = z1, z2
    return filtered
