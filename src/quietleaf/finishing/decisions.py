"""What the desk decided in a plan: kept when the rest is planned again around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from quietleaf.errors import Conflict
from quietleaf.finishing.at_places import PlaceDecision
from quietleaf.finishing.fit_entries import (
    UNFITTED,
    FitEntries,
    PaceChange,
    PauseChange,
    ShortItem,
    StopPlace,
)
from quietleaf.finishing.plan import RATE_HZ, Cut, Plan, Sentence
from quietleaf.finishing.repaired_sound import same_layer
from quietleaf.finishing.repairs import Repair


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """Entries that were refused, changed or added.

    Attributes
    ----------
    sound_samples : int or None
        Length of the sound that they were made for; None where nothing was decided.
    at_places : tuple of PlaceDecision
        What was decided about places, whatever is planned there.
    """

    sound_samples: int | None = None
    cuts: tuple[Cut, ...] = ()
    repairs: tuple[Repair, ...] = ()
    sentences: tuple[Sentence, ...] = ()
    fit: FitEntries = UNFITTED
    at_places: tuple[PlaceDecision, ...] = ()


UNDECIDED = Decisions()


def decisions_of(plan: Plan) -> Decisions:
    """Give what was decided in a plan: what is refused, and whatever is by the desk."""
    layout = plan.layout
    return Decisions(
        sound_samples=layout.sound_samples,
        cuts=tuple(cut for cut in layout.cuts if _is_decided(cut)),
        repairs=tuple(repair for repair in layout.repairs if _is_decided(repair)),
        sentences=tuple(one for one in layout.sentences if one.by == "desk"),
        fit=FitEntries(
            pauses=tuple(one for one in layout.pauses if _is_decided(one)),
            pace=tuple(one for one in layout.pace if _is_decided(one)),
            items=tuple(one for one in layout.items if _is_decided(one)),
            stops=tuple(one for one in plan.fit.stops if _is_decided(one)),
        ),
    )


def refuse_other_sound(decided: Decisions, samples: int) -> None:
    """Refuse decisions that were made for a sound of another length.

    Raises
    ------
    Conflict
    """
    if decided.sound_samples not in (None, samples):
        raise Conflict(
            "finish/other-sound",
            f"This plan was made for a sound of {decided.sound_samples / RATE_HZ:.2f} s; this one "
            f"has {samples / RATE_HZ:.2f} s. Finish without it, or take the sound that it was "
            "made for.",
        )


def cuts_as_decided(planned: Sequence[Cut], decided: Sequence[Cut]) -> tuple[Cut, ...]:
    """Put the desk's cuts in the place of planned ones of their kind that they meet."""
    kept = [
        cut
        for cut in planned
        if not any(cut.kind == one.kind and _meet(cut, one) for one in decided)
    ]
    return tuple(sorted((*kept, *decided), key=lambda cut: (cut.start, cut.stop)))


def repairs_as_decided(planned: Sequence[Repair], decided: Sequence[Repair]) -> tuple[Repair, ...]:
    """Put the desk's repairs in the place of planned ones of the same sort that they meet."""
    kept = [
        repair
        for repair in planned
        if not any(same_layer(repair, one) and _meet(repair, one) for one in decided)
    ]
    return tuple(sorted((*kept, *decided), key=lambda one: (one.start, one.stop)))


def gains_as_decided(
    planned: Sequence[Sentence], decided: Sequence[Sentence]
) -> tuple[Sentence, ...]:
    """Give sentences the gains that the desk gave them."""
    gains = []
    for sentence in planned:
        mine = [one for one in decided if _meet(sentence, one)]
        longest = max(mine, key=lambda one: _shared(sentence, one), default=None)
        gains.append(
            sentence
            if longest is None
            else replace(sentence, gain_db=longest.gain_db, reason=longest.reason, by="desk")
        )
    return tuple(gains)


def _is_decided(
    entry: Cut | Repair | PauseChange | PaceChange | ShortItem | StopPlace,
) -> bool:
    return entry.by == "desk" or entry.state == "refused"


def _meet(one: Cut | Repair | Sentence, other: Cut | Repair | Sentence) -> bool:
    return one.start < other.stop and other.start < one.stop


def _shared(one: Sentence, other: Sentence) -> int:
    return min(one.stop, other.stop) - max(one.start, other.start)
