"""Where faults may lie: moments in speech that keep apart, and how many there are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bench.proving.labels import Label, of_kind

_APART_S = 1.0
_BESIDE = ("speech", "pause", "breath-natural", "restart", "hum", "echo", "room")
"""What faults of other kinds may lie in."""


class Places:
    """Draws moments in speech that keep apart from other faults."""

    def __init__(self, labels: Sequence[Label], length_s: float) -> None:
        self.length_s = length_s
        self.speech = of_kind(labels, "speech")
        self._taken = [
            (one.start_s, one.end_s)
            for one in labels
            if one.kind not in _BESIDE and "bed" not in one.detail
        ]

    def free(self, start_s: float, end_s: float) -> bool:
        """Say whether nothing lies near."""
        return all(
            end_s + _APART_S < start or stop + _APART_S < start_s for start, stop in self._taken
        )

    def take(self, start_s: float, end_s: float) -> None:
        """Let nothing else lie near."""
        self._taken.append((start_s, end_s))

    def in_speech(self, draw: np.random.Generator, length_s: float) -> float | None:
        """Find a free stretch inside speech; None after some tries."""
        for _ in range(20):
            label = self.speech[int(draw.integers(len(self.speech)))]
            room_s = label.end_s - label.start_s - length_s - 0.1
            if room_s <= 0.0:
                continue
            at_s = label.start_s + 0.05 + float(draw.uniform(0.0, room_s))
            if self.free(at_s, at_s + length_s):
                self.take(at_s, at_s + length_s)
                return at_s
        return None


def count_of(draw: np.random.Generator, a_minute: float, length_s: float) -> int:
    """Draw how often something comes that has a rate."""
    return int(draw.poisson(a_minute * length_s / 60.0))
