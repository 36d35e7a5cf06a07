"""The entries of a finishing plan as the desk sees them: where each lies, and what was decided."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

from quietleaf.booth.timeline import Place
from quietleaf.finishing.assembly import master_place
from quietleaf.finishing.at_places import EntrySort, can_be_made, has_a_place
from quietleaf.finishing.fit_entries import PaceChange, PauseChange, ShortItem, StopPlace
from quietleaf.finishing.fit_stops import NEAR_SAMPLES
from quietleaf.finishing.plan import (
    RATE_HZ,
    Colour,
    Cut,
    Drive,
    Fill,
    Fit,
    HighPass,
    Mp3,
    Plan,
    PlannedOutlet,
    RoomTone,
    Sentence,
)
from quietleaf.finishing.repairs import LowBand, Repair, TurnedDown
from quietleaf.work.decisions_on import DecidedAt, DecisionsOn
from quietleaf.work.finish_pictures import shown_repairs
from quietleaf.work.take_places import TakePlaces

Part = Literal["cuts", "repairs", "evening", "fit", "loudness", "outlets"]
PARTS: tuple[Part, ...] = get_args(Part)
LEAD_IN_S = 1.5
"""A place is played from so long before it. Ours."""
_NO_PLACE = (0, 1)

Entry = (
    Cut
    | RoomTone
    | Fill
    | Colour
    | HighPass
    | Repair
    | Sentence
    | Fit
    | StopPlace
    | PauseChange
    | PaceChange
    | ShortItem
    | Drive
    | Mp3
    | PlannedOutlet
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenEntry:
    """One entry of the plan as the desk sees it.

    Attributes
    ----------
    number : int
        1, 2, 3 within its part.
    of : str
        What a decision calls its sort; empty where nothing can be decided.
    kind : str
        What a decision calls its kind.
    at_s : float or None
        Where it lies in the reading; None where it holds for the whole.
    hear_s : float or None
        From where the master is played to hear it.
    start, stop : Place or None
        Where it lies in the takes.
    decided : DecidedAt or None
        The decision that holds.
    waits : bool
        It is not carried out in the master in use yet.
    can_be_made, has_strength : bool
        What can be decided of it.
    compared : int or None
        Its number among the repairs that can be compared, before and now.
    """

    number: int
    entry: Entry
    of: EntrySort | Literal[""]
    kind: str = ""
    at_s: float | None = None
    hear_s: float | None = None
    start: Place | None = None
    stop: Place | None = None
    decided: DecidedAt | None = None
    waits: bool = False
    can_be_made: bool = True
    has_strength: bool = False
    compared: int | None = None


def entries_of(plan: Plan, part: Part) -> list[Entry]:
    """Give the entries of one part, each list of the plan in the order of the sound."""
    layout = plan.layout
    match part:
        case "cuts":
            placed: list[Cut | Fill | Colour] = [*layout.cuts, *layout.fills, *layout.colours]
            ends = [tone for tone in layout.room_tone if tone.place != "tail"]
            tails = [tone for tone in layout.room_tone if tone.place == "tail"]
            return [*ends, *sorted(placed, key=lambda one: one.start), *tails]
        case "repairs":
            return [layout.high_pass, *sorted(layout.repairs, key=lambda one: one.start)]
        case "evening":
            return [*layout.sentences]
        case "fit":
            return [plan.fit, *plan.fit.stops, *layout.pauses, *layout.pace, *layout.items]
        case "loudness":
            return [plan.wave, plan.mp3]
        case "outlets":
            return [*plan.outlets]


class Seeing:
    """What every entry of a plan is looked at with.

    Parameters
    ----------
    places : TakePlaces or None
        Of the reading; None where it was changed since, and nothing of it can be decided about.
    made_on : int
        The revision of the reading that the plan was made of: later decisions wait.
    """

    def __init__(
        self,
        plan: Plan | None,
        places: TakePlaces | None,
        decisions: DecisionsOn,
        made_on: int,
    ) -> None:
        self._plan = plan
        self._places = places
        self._decisions = decisions
        self._made_on = made_on
        self._compared = (
            [] if plan is None or places is None else [one.repair for one in shown_repairs(plan)]
        )

    def entry(self, entry: Entry, number: int) -> SeenEntry:
        """Give one entry with its place, its decision, and what can be decided."""
        match entry:
            case Cut():
                # What comes after a stop goes by the stop's own entry.
                of: EntrySort | Literal[""] = "" if entry.kind == "stop" else "cut"
                is_whole = has_a_place(entry)
                seen = SeenEntry(
                    number=number, entry=entry, of=of, kind=entry.kind, can_be_made=is_whole
                )
                return self._placed(seen, entry.start, entry.stop)
            case Sentence():
                seen = SeenEntry(number=number, entry=entry, of="sentence", has_strength=True)
                return self._placed(seen, entry.start, entry.stop)
            case PauseChange():
                seen = SeenEntry(number=number, entry=entry, of="pause", has_strength=True)
                return self._placed(seen, entry.start, entry.stop)
            case PaceChange():
                seen = SeenEntry(number=number, entry=entry, of="pace")
                return self._placed(seen, entry.start, entry.stop)
            case StopPlace():
                return self._stop(entry, number)
            case ShortItem():
                seen = SeenEntry(number=number, entry=entry, of="item", kind=entry.key)
                return self._decided(seen, *_NO_PLACE)
            case Fill() | Colour():
                return self._placed(
                    SeenEntry(number=number, entry=entry, of=""), entry.start, entry.stop
                )
            case RoomTone() | HighPass() | Fit() | Drive() | Mp3() | PlannedOutlet():
                return SeenEntry(number=number, entry=entry, of="")
            case _:
                seen = SeenEntry(
                    number=number,
                    entry=entry,
                    of="repair",
                    kind=entry.kind,
                    can_be_made=can_be_made(entry),
                    has_strength=isinstance(entry, LowBand | TurnedDown),
                    compared=self._compared.index(entry) + 1 if entry in self._compared else None,
                )
                return self._placed(seen, entry.start, entry.stop)

    def _placed(self, seen: SeenEntry, start: int, stop: int) -> SeenEntry:
        assert self._plan is not None
        heard = master_place(self._plan.layout, start) / RATE_HZ
        seen = replace(seen, at_s=start / RATE_HZ, hear_s=max(0.0, heard - LEAD_IN_S))
        if self._places is None:
            return seen
        begin, end = self._places.range_of(start, stop)
        if begin[0] != end[0]:
            # It reaches over two takes: it is decided about where its middle lies.
            begin, end = self._places.range_of((start + stop) // 2, (start + stop) // 2 + 1)
        return replace(self._decided(seen, start, stop), start=begin, stop=end)

    def _decided(self, seen: SeenEntry, start: int, stop: int) -> SeenEntry:
        if not seen.of:
            return seen
        mine = [
            one
            for one in self._decisions.at
            if one.decision.of == seen.of
            and one.decision.kind == seen.kind
            and one.decision.start < stop
            and start < one.decision.stop
        ]
        if not mine:
            return seen
        last = mine[-1]
        is_planned = last.decision.wanted == "as planned"
        waits = last.edit.number > self._made_on
        return replace(seen, decided=None if is_planned else last, waits=waits)

    def _stop(self, stop: StopPlace, number: int) -> SeenEntry:
        """Give a place to stop: of all of them one is chosen at most, by the last decision."""
        seen = self._placed(
            SeenEntry(number=number, entry=stop, of="stop"), stop.sample - 1, stop.sample
        )
        chosen = [one for one in self._decisions.at if one.decision.of == "stop"]
        is_here = (
            bool(chosen)
            and chosen[-1].decision.wanted == "made"
            and abs(chosen[-1].decision.start - stop.sample) < NEAR_SAMPLES
        )
        waits = is_here != (stop.state == "made")
        return replace(seen, decided=chosen[-1] if is_here else None, waits=waits)
