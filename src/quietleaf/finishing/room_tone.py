"""The sound of the room, made longer: short pieces of it in a drawn order.

Grains of 50 ms with random signs under sine windows, half overlapping, keep level and colour of
the room and do not repeat audibly (likeness of 0.09 at 0.05-0.9 s, where a loop has 0.99).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.plan import RATE_HZ, RoomTone
from quietleaf.finishing.ranges import Sound, without_rumble

GRAIN_SAMPLES = RATE_HZ // 20


def room_tone(tone: RoomTone, sound: Sound, samples: int) -> NDArray[np.float64]:
    """Make room tone of a length, shape (samples,), without DC and rumble.

    The same entry on the same sound gives the same samples. Without a quiet range it is silence.
    """
    return tone_of(sound, tone.quiet, tone.seed, samples)


def tone_of(
    sound: Sound, ranges: tuple[tuple[int, int], ...], seed: int, samples: int
) -> NDArray[np.float64]:
    """Make room tone of quiet ranges of a sound; see `room_tone`."""
    made = np.zeros(samples)
    quiet = [without_rumble(sound, start, stop) for start, stop in ranges]
    grain = min([GRAIN_SAMPLES, *(part.size for part in quiet)]) // 2 * 2
    if not quiet or grain < 2:
        return made
    hop = grain // 2
    window = np.sin(np.pi * (np.arange(grain) + 0.5) / grain)
    draw = np.random.Generator(np.random.PCG64(seed))
    places = np.array([part.size - grain + 1 for part in quiet], dtype=np.float64)
    for first in range(-hop, samples, hop):
        part = quiet[int(draw.choice(len(quiet), p=places / places.sum()))]
        start = int(draw.integers(0, part.size - grain + 1))
        piece = window * part[start : start + grain] * (1.0 if draw.random() < 0.5 else -1.0)
        begin, end = max(first, 0), min(first + grain, samples)
        made[begin:end] += piece[begin - first : end - first]
    return made
