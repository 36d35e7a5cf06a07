"""Which of the pairs that look like restarts are proposed, and where each is to be cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.restart_pairs import PAIR_NUMBERS, Pair

LIKELIHOOD_MIN = 0.15
"""Pairs below are not even remembered."""
SAME_SHIFT_FRAMES = 120
INSIDE_FRAMES_MOST = 50
"""The cut lies in the middle of the shorter pause, no further than this before the words: some
begin softly, and with a breath."""
_REST_COST = 8.0
_SUM = PAIR_NUMBERS.index("matched_sum")
_REST = PAIR_NUMBERS.index("rest_s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A pair, and how likely it is a restart."""

    pair: Pair
    likelihood: float

    @property
    def first(self) -> int:
        """Where the attempt begins, frames."""
        return self.pair.before.first

    @property
    def stop(self) -> int:
        """Where what was read again begins."""
        return self.pair.again.first

    @property
    def fit(self) -> float:
        """How much of the attempt was said again: most where it begins where the sentence did."""
        return float(self.pair.numbers[_SUM] - _REST_COST * self.pair.numbers[_REST])

    def overlaps(self, other: Proposal) -> bool:
        """Say whether the two cannot both be cut."""
        return self.first < other.stop and other.first < self.stop


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """What is proposed to be cut, in seconds."""

    start_s: float
    end_s: float
    likelihood: float


def chosen(proposals: Sequence[Proposal], likelihood_min: float) -> list[Cut]:
    """Choose the likeliest that do not overlap, in order of time."""
    left = sorted(proposals, key=lambda one: (-one.likelihood, one.first, one.stop))
    cuts = []
    while left and left[0].likelihood >= likelihood_min:
        best = left[0]
        shift = best.stop - best.first
        alike = [
            one
            for one in left
            if one.overlaps(best) and abs(one.stop - one.first - shift) <= SAME_SHIFT_FRAMES
        ]
        taken = max(alike, key=lambda one: one.fit)
        cuts.append(_cut(taken.pair, best.likelihood))
        left = [one for one in left if not one.overlaps(taken) and not one.overlaps(best)]
    return sorted(cuts, key=lambda cut: cut.start_s)


def _cut(pair: Pair, likelihood: float) -> Cut:
    inside = min(INSIDE_FRAMES_MOST, pair.before.pause // 2, pair.again.pause // 2)
    return Cut(
        start_s=(pair.before.first - inside) / FRAMES_PER_S,
        end_s=(pair.again.first - inside) / FRAMES_PER_S,
        likelihood=likelihood,
    )
