"""What the desk decided about a reading: which decision stands for which place."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import datetime

from quietleaf.booth.edits import Decided, Remarked
from quietleaf.booth.replay import Standing, counting, timeline
from quietleaf.booth.timeline import Place, Rank, Timeline


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionEntry:
    """A decision that stands.

    Attributes
    ----------
    number : int
        Of its entry in the ledger: what follows from it refers to that, and so does an undo.
    """

    number: int
    author: str
    at: datetime
    what: Decided


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """A remark that asks for nothing, see `DecisionEntry`."""

    number: int
    author: str
    at: datetime
    what: Remarked


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """A reading as the desk has decided about it, in the order of its places."""

    decisions: tuple[DecisionEntry, ...]
    observations: tuple[Observation, ...]
    whole: Timeline = field(repr=False)

    def about(self, finding: str, start: Place, stop: Place) -> DecisionEntry | None:
        """Give the decision that stands for a finding; None where nobody decided yet."""
        for entry in self.decisions:
            if _same(entry.what, finding, start, stop, self.whole):
                return entry
        return None

    @property
    def to_read_again(self) -> tuple[DecisionEntry, ...]:
        """What the reader is to read again."""
        return tuple(entry for entry in self.decisions if entry.what.decision == "read again")


def review(standing: Standing) -> Review:
    """Fold the decisions that count: of those about one finding, the last stands.

    Notes
    -----
    A finding is known again by its kind, where at least half of the shorter of both lies in the
    other: when a reading is heard anew, the edges of what is found may lie a little elsewhere. A
    mark of one's own is known by its very places, as several may be made at one sentence.
    """
    whole = timeline(standing)
    decisions: list[DecisionEntry] = []
    observations: list[Observation] = []
    for edit in counting(standing):
        match edit.what:
            case Decided(finding=finding, start=start, stop=stop) as what:
                decisions = [
                    entry
                    for entry in decisions
                    if not _same(entry.what, finding, start, stop, whole)
                ]
                decisions.append(
                    DecisionEntry(number=edit.number, author=edit.author, at=edit.at, what=what)
                )
            case Remarked() as what:
                observations.append(
                    Observation(number=edit.number, author=edit.author, at=edit.at, what=what)
                )
    return Review(
        decisions=tuple(
            sorted(decisions, key=lambda entry: (whole.rank(entry.what.start), entry.number))
        ),
        observations=tuple(
            sorted(observations, key=lambda one: (whole.rank(one.what.place), one.number))
        ),
        whole=whole,
    )


def _same(decided: Decided, finding: str, start: Place, stop: Place, whole: Timeline) -> bool:
    if decided.finding != finding:
        return False
    if not finding:
        return (decided.start, decided.stop) == (start, stop)
    first, last, other_first, other_last = (
        whole.rank(place) for place in (decided.start, decided.stop, start, stop)
    )
    shared = _length(max(first, other_first), min(last, other_last))
    shortest = min(_length(first, last), _length(other_first, other_last))
    return shared > 0 and 2 * shared >= shortest


def _length(first: Rank, last: Rank) -> float:
    """Count the samples between two ranks; over stretches they are more than any."""
    if first[0] == last[0]:
        return last[1] - first[1]
    return math.copysign(math.inf, last[0] - first[0])
