"""What the desk decided about places of a reading: it holds for whatever is planned there.

Unlike the entries of a plan's file, a place outlives the plan: everything is planned anew, and
what is planned at the place is then refused, made or changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from quietleaf.booth.edits import Wanted
from quietleaf.finishing.entries import State
from quietleaf.finishing.plan import Cut, Sentence
from quietleaf.finishing.repaired_sound import same_layer
from quietleaf.finishing.repairs import (
    Interpolation,
    LinesTaken,
    LowBand,
    Repair,
    Replaced,
    TurnedDown,
)

DESK_CUT = "desk"
"""The kind of a cut that nothing was planned for."""
EntrySort = Literal["cut", "repair", "sentence", "pause", "pace", "item", "stop"]
ENTRY_SORTS: tuple[EntrySort, ...] = (
    *("cut", "repair", "sentence", "pause", "pace", "item", "stop"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceDecision:
    """One decision; of those about one entry the last holds.

    Attributes
    ----------
    of : str
        Which sort of entry.
    kind : str
        Of the entry, or the key of a short item; empty where its sort has none.
    start, stop : int
        The place, in samples of the sound.
    wanted : {"made", "refused", "as planned"}
    value : float or None
        What it is changed to: dB of a repair or of a sentence, seconds of a pause.
    """

    of: EntrySort
    kind: str
    start: int
    stop: int
    wanted: Wanted
    value: float | None = None


def decided_at(
    decisions: Sequence[PlaceDecision], of: EntrySort, kind: str, start: int, stop: int
) -> PlaceDecision | None:
    """Give what holds for an entry; None where it is as planned."""
    last = None
    for one in decisions:
        if one.of == of and one.kind == kind and one.start < stop and start < one.stop:
            last = one
    return None if last is None or last.wanted == "as planned" else last


def cuts_at_places(cuts: Sequence[Cut], decisions: Sequence[PlaceDecision]) -> tuple[Cut, ...]:
    """Give cuts their states; one that cannot be made stays left."""
    given = []
    for cut in cuts:
        mine = decided_at(decisions, "cut", cut.kind, cut.start, cut.stop)
        if mine is not None and (mine.wanted == "refused" or has_a_place(cut)):
            state: State = "refused" if mine.wanted == "refused" else "made"
            cut = replace(cut, state=state, by="desk")
        given.append(cut)
    return tuple(given)


def has_a_place(cut: Cut) -> bool:
    """Say whether a cut has quiet places to join: without them something would be cut in two."""
    return cut.kind not in ("restart", DESK_CUT) or "pause_s" in cut.measured


def gains_at_places(
    sentences: Sequence[Sentence], decisions: Sequence[PlaceDecision]
) -> tuple[Sentence, ...]:
    """Give sentences their gains: the one that was chosen, or none where it was refused."""
    given = []
    for one in sentences:
        mine = decided_at(decisions, "sentence", "", one.start, one.stop)
        if mine is not None:
            refused = mine.wanted == "refused"
            gain_db = 0.0 if refused or mine.value is None else mine.value
            reason = f"{one.reason}; {one.gain_db:+.1f} dB were planned"
            one = replace(one, gain_db=gain_db, reason=reason, by="desk")
        given.append(one)
    return tuple(given)


def repairs_at_places(
    repairs: Sequence[Repair], decisions: Sequence[PlaceDecision]
) -> tuple[Repair, ...]:
    """Give repairs their states and strengths.

    One that cannot be made stays left. Where one is made, another of its sort over it is left.
    """
    given = [_repair(one, decisions) for one in repairs]
    wanted = [one for one in given if one.by == "desk" and one.state == "made"]
    return tuple(
        replace(one, state="left", reason="another repair is made over it, as the desk wishes")
        if one.by == "plan" and one.state == "made" and any(_over(one, two) for two in wanted)
        else one
        for one in given
    )


def can_be_made(repair: Repair) -> bool:
    """Say whether there is what it would be made of."""
    match repair:
        case Interpolation(runs=runs):
            return bool(runs)
        case LowBand() | TurnedDown():
            return repair.by_db > 0.0
        case Replaced(quiet=quiet):
            return bool(quiet)
        case LinesTaken(lines=lines):
            return bool(lines)


def _repair(repair: Repair, decisions: Sequence[PlaceDecision]) -> Repair:
    mine = decided_at(decisions, "repair", repair.kind, repair.start, repair.stop)
    if mine is None:
        return repair
    if mine.wanted == "refused":
        return replace(repair, state="refused", by="desk")
    if mine.value is not None and isinstance(repair, LowBand | TurnedDown):
        # What is left was measured at the strength that was planned.
        measured = {name: value for name, value in repair.measured.items() if name != "after_db"}
        reason = f"{repair.reason}; {repair.by_db:.1f} dB were planned"
        repair = replace(repair, by_db=mine.value, reason=reason, measured=measured)
    return replace(repair, state="made", by="desk") if can_be_made(repair) else repair


def _over(one: Repair, other: Repair) -> bool:
    return same_layer(one, other) and one.start < other.stop and other.start < one.stop
