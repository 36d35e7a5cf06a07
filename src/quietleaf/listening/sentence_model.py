"""How likely a pause is the one before a sentence, for this reader."""

from __future__ import annotations

import math
from dataclasses import dataclass

LIKELY = 0.5
USUAL_S = 0.5
STEEPNESS = 3.0


@dataclass(slots=True, kw_only=True)
class ReaderMemory:
    """What is known of this reader's pauses."""

    count: int = 0


def likelihood_of(reader: ReaderMemory, pause_s: float) -> float:
    """Give the likelihood, 0 to 1."""
    reader.count += 1
    return 1.0 / (1.0 + math.exp(-STEEPNESS * math.log(pause_s / USUAL_S)))
