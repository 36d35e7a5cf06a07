"""Hear a recording in a file."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening import listen
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.limits import HEARING_LIMITS, HearingLimits
from quietleaf.storage.codecs import open_sound
from quietleaf.work.tools import Progress, no_progress


@dataclass(frozen=True, slots=True, kw_only=True)
class HearRecording:
    """What to hear, and the limits it is held against."""

    path: Path
    limits: HearingLimits = HEARING_LIMITS


def hear_recording(request: HearRecording, progress: Progress = no_progress) -> Hearing:
    """Hear a whole file in one pass.

    Raises
    ------
    QuietleafError
        If the file is not there, is no sound, or cannot be heard; each says what to do.
    """
    with open_sound(request.path) as sound:
        info = sound.info
        state = listen.start(info.sample_rate_hz, info.channels, request.limits)
        done = 0
        for block in _one_ahead(sound.blocks()):
            listen.step(state, block)
            done += block.shape[0]
            progress("Listening", done / info.frames)
    return listen.result(state)


def _one_ahead(blocks: Iterator[NDArray[np.float64]]) -> Iterator[NDArray[np.float64]]:
    """Read the next block while the last one is heard: both let go of the interpreter's lock."""
    with ThreadPoolExecutor(max_workers=1) as reader:
        coming = reader.submit(next, blocks, None)
        while (block := coming.result()) is not None:
            coming = reader.submit(next, blocks, None)
            yield block
