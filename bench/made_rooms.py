"""Rooms by formula: a first sound, a few walls, then noise that dies away, sooner in the highs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from bench.proving.pieces import Room

RATE_HZ = 48_000
_SEED = 77
_DECAY_S = (0.2, 0.9)
"""Until the sound is 60 dB softer."""
_DIRECT_DB = (-2.0, 9.0)
"""Of the first sound over all the rest: a desk away from the mouth, or a step."""
_WALLS = 6
_WALLS_S = (0.003, 0.03)
_EDGES_HZ = (400.0, 3000.0)
_HIGHS_SOONER = (1.0, 0.85, 0.6)


def made_rooms(count: int) -> tuple[Room, ...]:
    """Make so many rooms, the same ones each time."""
    draw = np.random.default_rng(_SEED)
    return tuple(
        Room(name=f"made-{index}", samples=_response(draw), sample_rate_hz=RATE_HZ)
        for index in range(count)
    )


def _response(draw: np.random.Generator) -> NDArray[np.float64]:
    decay_s = float(draw.uniform(*_DECAY_S))
    at_s = np.arange(round(decay_s * RATE_HZ)) / RATE_HZ
    noise = draw.normal(size=at_s.size)
    low, high = _EDGES_HZ
    bands = (
        sosfilt(butter(2, low, fs=RATE_HZ, output="sos"), noise),
        sosfilt(butter(2, (low, high), "bandpass", fs=RATE_HZ, output="sos"), noise),
        sosfilt(butter(2, high, "highpass", fs=RATE_HZ, output="sos"), noise),
    )
    tail = np.zeros(at_s.size)
    for band, share in zip(bands, _HIGHS_SOONER, strict=True):
        tail += band * 10.0 ** (-3.0 * at_s / (decay_s * share))
    tail *= at_s > _WALLS_S[0]
    for _ in range(_WALLS):
        at = round(float(draw.uniform(*_WALLS_S)) * RATE_HZ)
        tail[at] += float(draw.uniform(1.0, 3.0)) * np.sign(draw.normal()) * np.abs(tail).max()
    tail *= 10.0 ** (-float(draw.uniform(*_DIRECT_DB)) / 20.0) / np.sqrt(float(tail @ tail))
    tail[0] = 1.0
    return tail
