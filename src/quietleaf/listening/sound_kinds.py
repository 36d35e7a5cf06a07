"""Kinds of sound: what is speech, what is breath, cough, paper, click or another noise.

A fold over chunks of frames with one chunk of look-ahead: what a chunk holds is told when the one
after it is there.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.segment_features import unit_features
from quietleaf.listening.segments import (
    LEVEL_STEPS,
    Units,
    count_levels,
    units_of,
    window_of,
)
from quietleaf.listening.sound_frames import SoundFrames
from quietleaf.listening.sound_kind_names import KINDS
from quietleaf.listening.sound_kind_numbers import TREES
from quietleaf.listening.trees import shares_of, tree_scores, unpacked
from quietleaf.listening.under_words import DisturbedWindows, disturbed_windows

SPEECH = KINDS.index("speech")
SPEECH_SHARE_MIN = 0.35
"""From here on a unit is speech in the mask: a lost word costs more than a cough that is kept."""
_TREES = unpacked(TREES)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownSounds:
    """Units in order of time.

    Attributes
    ----------
    start, stop : ndarray, shape (u,), int64
        Frames of 10 ms of the recording, half-open.
    shares : ndarray, shape (u, 7), float32
        How likely each is each of `KINDS`.
    over_top_db, over_floor_db : ndarray, shape (u,), float32
        The peak against the reader's usual top, and against the room.
    """

    start: NDArray[np.int64]
    stop: NDArray[np.int64]
    shares: NDArray[np.float32]
    over_top_db: NDArray[np.float32]
    over_floor_db: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class KindsChunk:
    """What a chunk holds.

    Attributes
    ----------
    frames : SoundFrames
        The chunk itself, without its samples.
    speech : ndarray, shape (k,), bool
        Frames of 10 ms where somebody speaks: no breath, no noise.
    sounds : KnownSounds
        Units that begin in the chunk.
    disturbed : DisturbedWindows
        Windows that begin in the chunk and may hold a noise under words.
    """

    frames: SoundFrames
    speech: NDArray[np.bool_]
    sounds: KnownSounds
    disturbed: DisturbedWindows


@dataclass(slots=True, kw_only=True)
class KindsMemory:
    """At most three chunks, and a histogram of all levels."""

    chunks: list[SoundFrames] = field(default_factory=list)
    counts: NDArray[np.int64] = field(default_factory=lambda: np.zeros(LEVEL_STEPS, dtype=np.int64))


def start_kinds() -> KindsMemory:
    """Begin before the first chunk."""
    return KindsMemory()


def step_kinds(memory: KindsMemory, chunk: SoundFrames) -> KindsChunk | None:
    """Take a chunk in; tell what the one before it holds (None for the first)."""
    # What is asked of later is frames alone: the samples may go.
    bare = replace(chunk, samples=chunk.samples[:, :0].copy())
    memory.chunks = [*memory.chunks[-2:], bare]
    count_levels(chunk, memory.counts)
    if len(memory.chunks) == 1:
        return None
    return _known(memory.chunks, len(memory.chunks) - 2, memory.counts)


def end_kinds(memory: KindsMemory) -> KindsChunk | None:
    """Tell what the last chunk holds, as if nothing followed; the memory stays as it is."""
    if not memory.chunks:
        return None
    kept = memory.chunks[-2:]
    return _known(kept, len(kept) - 1, memory.counts)


def _known(chunks: list[SoundFrames], asked: int, counts: NDArray[np.int64]) -> KindsChunk:
    window = window_of(chunks, asked, counts)
    units = units_of(window)
    begin, end = window.asked
    within = (units.start < end) & (units.stop > begin)
    units = Units(
        start=units.start[within],
        stop=units.stop[within],
        segment_start=units.segment_start[within],
        segment_stop=units.segment_stop[within],
    )
    features = unit_features(window, units)
    shares = shares_of(tree_scores(features, _TREES))
    speech = np.zeros(window.level_dbov.size, dtype=np.bool_)
    for index in np.flatnonzero(shares[:, SPEECH] >= SPEECH_SHARE_MIN):
        speech[units.start[index] : units.stop[index]] = True
    own = units.start >= begin
    return KindsChunk(
        frames=chunks[asked],
        speech=speech[begin:end],
        sounds=KnownSounds(
            start=units.start[own] + window.first,
            stop=units.stop[own] + window.first,
            shares=shares[own],
            over_top_db=features[own, 1],
            over_floor_db=features[own, 3],
        ),
        disturbed=disturbed_windows(window),
    )
