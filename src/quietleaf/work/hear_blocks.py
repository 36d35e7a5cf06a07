"""Hear blocks on three threads: one measures, one looks closely, one tells what the sounds are."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening import listen
from quietleaf.listening.measuring import FramePowers, step_measuring
from quietleaf.listening.sound_frames import SoundFrames

_FRAMES_BEHIND = 1 << 21
"""A chunk of sounds, of 20 s, is told at once; meanwhile measuring goes on, so far and no farther:
what waits takes room."""


def hear_blocks(
    state: listen.ListenState, blocks: Iterable[NDArray[np.float64]]
) -> Iterator[NDArray[np.float64]]:
    """Step ``state`` through all blocks; give each when it was measured.

    When the blocks have been given, or whoever takes them stops, nothing is still going on.
    """
    behind: deque[tuple[Future[None], int]] = deque()
    frames = 0
    with ThreadPoolExecutor(1) as looking, ThreadPoolExecutor(1) as telling:

        def look(block: NDArray[np.float64], powers: FramePowers) -> list[SoundFrames]:
            return listen.step_frames(state.frames, block, powers)

        def tell(looked: Future[list[SoundFrames]]) -> None:
            listen.step_sounds(state.sounds, looked.result())

        try:
            for block in blocks:
                powers = step_measuring(state.measures, block)
                told = telling.submit(tell, looking.submit(look, block, powers))
                behind.append((told, len(block)))
                frames += len(block)
                while behind and (behind[0][0].done() or frames > _FRAMES_BEHIND):
                    told, length = behind.popleft()
                    frames -= length
                    told.result()
                yield block
            for told, _ in behind:
                told.result()
        finally:
            for told, _ in behind:
                told.cancel()
            wait([told for told, _ in behind])
