"""DC and rumble removed: a Butterworth high-pass of fourth order, block by block.

The corner was chosen on 21 recorded voices: at 50 Hz and fourth order the K-weighted level of
active speech moves by at most 0.06 dB, and the 65-400 Hz band of a voice without rumble by 0.1 to
0.8 dB in its lowest-pitched twentieth. At 60 Hz deep voices lose 1 dB there, at 80 Hz two; a filter
of second order, which must sit at 30 to 40 Hz to do as little, leaves 25 dB more at 15 Hz.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.sound.compiled import kernel
from quietleaf.sound.kweighting import high_pass_denominator

CORNER_HZ = 50.0
ORDER = 4
BUTTERWORTH_QS = (0.5411961001461971, 1.3065629648763764)
"""Of the two pole pairs of fourth order: 1 / (2 cos(pi / 8)) and 1 / (2 cos(3 pi / 8))."""
TOO_SMALL = 1e-30
"""A filter memory below this is nothing, and would slow the arithmetic down 100-fold."""


@dataclass(slots=True, kw_only=True)
class HighPassMemory:
    """What the filter keeps from block to block.

    Attributes
    ----------
    numbers : ndarray, shape (6,)
        Gain, a1, a2 of each stage.
    state : ndarray, shape (4,)
        Of the two stages, transposed form.
    begun : bool
    """

    numbers: NDArray[np.float64]
    state: NDArray[np.float64]
    begun: bool = False


def start_high_pass(sample_rate_hz: int, corner_hz: float = CORNER_HZ) -> HighPassMemory:
    """Begin; the first sample's value is taken to have stood for ever, so that DC makes no step."""
    numbers = []
    for quality in BUTTERWORTH_QS:
        one, a1, a2 = high_pass_denominator(corner_hz, quality, sample_rate_hz)
        numbers += [(one - a1 + a2) / 4.0, a1, a2]
    return HighPassMemory(numbers=np.array(numbers), state=np.zeros(4))


def step_high_pass(memory: HighPassMemory, samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Filter the next block, shape (n,), full scale 1.0; gives a new array of the same shape.

    Examples
    --------
    >>> memory = start_high_pass(48_000)
    >>> float(np.abs(step_high_pass(memory, np.full(4_800, 0.25))).max())
    0.0
    """
    if not memory.begun and samples.size:
        gain = memory.numbers[0]
        memory.state[0] = -gain * samples[0]
        memory.state[1] = gain * samples[0]
        memory.begun = True
    filtered = np.empty_like(samples)
    _high_pass(samples, memory.numbers, memory.state, filtered)
    return filtered


@kernel
def _high_pass(
    samples: NDArray[np.float64],
    numbers: NDArray[np.float64],
    state: NDArray[np.float64],
    filtered: NDArray[np.float64],
) -> None:
    g1, a11, a12 = numbers[0], numbers[1], numbers[2]
    g2, a21, a22 = numbers[3], numbers[4], numbers[5]
    p1, p2, q1, q2 = state[0], state[1], state[2], state[3]
    for i in range(samples.size):
        x = g1 * samples[i]
        y = x + p1
        p1 = (p2 - (x + x)) - a11 * y
        p2 = x - a12 * y
        u = g2 * y
        v = u + q1
        q1 = (q2 - (u + u)) - a21 * v
        q2 = u - a22 * v
        filtered[i] = v
    if abs(p1) + abs(p2) + abs(q1) + abs(q2) < TOO_SMALL:
        p1, p2, q1, q2 = 0.0, 0.0, 0.0, 0.0
    state[0], state[1], state[2], state[3] = p1, p2, q1, q2
