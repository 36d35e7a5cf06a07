"""A pause between two stretches of speech: where it lies, what is in it, and the place in it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.sentence_frames import (
    FIRST_VOICED,
    RING,
    RUN_START,
    SPEECH_STOP,
    FrameMemory,
)

QUIET_OVER_FLOOR_DB = (5.0, 7.0)
FLOOR_SHARE = 0.1
BACK_FRAMES = 1
AHEAD_FRAMES = 7
MARGIN_FRAMES = 3
BREATH_GAP_FRAMES = 30
CONSONANT_FRAMES = 25
LEAD_FRAMES = 12
REACH_FRAMES = 1_500
_NOTHING = 1e-20


@dataclass(frozen=True, slots=True, kw_only=True)
class Pause:
    """In frames.

    Attributes
    ----------
    start, stop : int
        From the release of the word before to the onset of what follows.
    place : int
        A frame of room tone.
    """

    start: int
    stop: int
    place: int


def pause_before(frames: FrameMemory) -> Pause:
    """Find the pause that has just ended, and the place in it."""
    machine = frames.machine
    start, sound = int(machine[SPEECH_STOP]), int(machine[RUN_START])
    voiced = int(machine[FIRST_VOICED])
    # A breath that goes over into the words is in the pause; a consonant is not.
    stop = sound if voiced - sound <= CONSONANT_FRAMES else voiced - LEAD_FRAMES
    first = max(start, stop - REACH_FRAMES)
    level = level_of(frames.power, first, stop)
    return Pause(start=start, stop=stop, place=first + place_in(level))


def place_in(level: NDArray[np.float64]) -> int:
    """Give the frame of a pause to go back to, from its levels.

    A frame is at rest if it, the one before and the seven after it lie under the pause's own
    floor + 5 dB, or + 7 dB; where there is none, fewer after it have to. Of the stretches of
    such frames the last is taken, or an earlier one while the later is shorter than 0.3 s: what
    lies between is a breath, and belongs to what follows.
    """
    if level.size == 0:
        return 0
    floor = float(np.sort(level)[int(FLOOR_SHARE * level.size)])
    for ahead, over_db in product(range(AHEAD_FRAMES, 0, -1), QUIET_OVER_FLOOR_DB):
        stretches = _stretches(level < floor + over_db, BACK_FRAMES + 1 + ahead)
        if not stretches:
            continue
        chosen = len(stretches) - 1
        while chosen > 0 and stretches[chosen][1] - stretches[chosen][0] < BREATH_GAP_FRAMES:
            chosen -= 1
        start, stop = stretches[chosen]
        last = stop - 1 - ahead
        return max((start + BACK_FRAMES + last) // 2, last - MARGIN_FRAMES)
    return int(np.argmin(level))


def _stretches(quiet: NDArray[np.bool_], count: int) -> list[tuple[int, int]]:
    """Give the stretches of at least so many quiet frames."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], quiet, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2) if b - a >= count]


def level_of(power: NDArray[np.float64], first: int, stop: int) -> NDArray[np.float64]:
    """Give the levels of some frames of the ring, dBov; -200 for silence."""
    level: NDArray[np.float64] = 10.0 * np.log10(
        np.maximum(power[np.arange(first, stop) % RING], _NOTHING)
    )
    return level
