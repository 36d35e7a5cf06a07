"""Known sounds for tests: each unit surely of one kind."""

import numpy as np

from quietleaf.listening.sound_kind_names import KINDS
from quietleaf.listening.sound_kinds import KnownSounds

Unit = tuple[str, int, int, float]
"""Kind, first frame, frame after the last, peak against the top in dB."""
SPEECH: Unit = ("speech", 0, 100, 0.0)
SURE = 0.97


def known_sounds(*units: Unit) -> KnownSounds:
    """Make units; each lies 30 dB over the room."""
    shares = np.full((len(units), len(KINDS)), (1.0 - SURE) / len(KINDS), dtype=np.float32)
    for index, (kind, *_) in enumerate(units):
        shares[index, KINDS.index(kind)] += SURE
    return KnownSounds(
        start=np.array([start for _, start, _, _ in units], dtype=np.int64),
        stop=np.array([stop for _, _, stop, _ in units], dtype=np.int64),
        shares=shares,
        over_top_db=np.array([peak for *_, peak in units], dtype=np.float32),
        over_floor_db=np.full(len(units), 30.0, dtype=np.float32),
    )
