"""A pause between two stretches of speech: where it lies, what is in it, and the place in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.sentence_frames import FRAMES_PER_S, RING, FrameMemory

QUIET_OVER_FLOOR_DB = 6.0
FLOOR_SHARE = 0.2
STRETCH_FRAMES_MIN = 10
BREATH_GAP_FRAMES = 30
BEFORE_FRAMES = 12
GUARD_FRAMES = 8
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


def pause_before(frames: FrameMemory, start: int, stop: int) -> Pause:
    """Find the place in the pause between two frames; the later one is the onset of speech."""
    first = max(start, stop - RING + 512, 0)
    if stop <= first:
        return Pause(start=start, stop=stop, place=stop)
    index = np.arange(first, stop) % RING
    level = 10.0 * np.log10(np.maximum(frames.power[index], _NOTHING))
    floor = float(np.sort(level)[int(FLOOR_SHARE * level.size)])
    return Pause(
        start=start, stop=stop, place=first + _place(_stretches(level < floor + 6.0), stop - first)
    )


def _place(stretches: list[tuple[int, int]], count: int) -> int:
    """Give a frame in the last stretch of room tone that is not between a breath and its words."""
    if not stretches:
        return max(0, count - GUARD_FRAMES)
    long_enough = [one for one in stretches if one[1] - one[0] >= STRETCH_FRAMES_MIN]
    if not long_enough:
        long_enough = [max(stretches, key=lambda one: one[1] - one[0])]
    chosen = long_enough[-1]
    for earlier in reversed(long_enough[:-1]):
        if chosen[1] - chosen[0] >= BREATH_GAP_FRAMES:
            break
        chosen = earlier
    start, stop = chosen
    return max(start, min(stop - GUARD_FRAMES, max((start + stop) // 2, stop - BEFORE_FRAMES)))


def _stretches(quiet: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], quiet, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]
