"""What the desk decided about a reading's plan, as its ledger says, at the places of its sound.

Two pages lead to it. On the ear page somebody decides about what is heard: *leave* has it stay as
it is heard, *repair* and *cut* have that made. On the plan's page somebody decides about what is
planned. The later entry of the ledger holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, get_args

from quietleaf.booth.edits import Decided, PlanDecided, WordsBegun
from quietleaf.booth.replay import counting
from quietleaf.booth.review import review
from quietleaf.finishing.at_places import DESK_CUT, EntrySort, PlaceDecision
from quietleaf.storage.versions import read_versions
from quietleaf.work.take_places import TakePlaces

if TYPE_CHECKING:
    from quietleaf.booth.edits import Edit, Wanted
    from quietleaf.booth.timeline import Place
    from quietleaf.storage.reading_folder import ReadingFolder

LENGTH = "length"
"""The sort of a decision on how long the whole is to be."""
_WANTED: dict[str, Wanted] = {"leave": "refused", "repair": "made", "cut": "made"}
_NO_PLACE = (0, 1)
"""Where a short item is said to be, which has no place in the reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DecidedAt:
    """One decision, and the entry of the ledger that says so."""

    decision: PlaceDecision
    edit: Edit


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionsOn:
    """All of a reading's that count, in the order in which they were made.

    Attributes
    ----------
    at : tuple of DecidedAt
        Those whose place is still in the programme.
    length : Edit or None
        The entry that says how long it is to be; None where the programme's window does.
    """

    at: tuple[DecidedAt, ...]
    length: Edit | None

    @property
    def at_places(self) -> tuple[PlaceDecision, ...]:
        """The decisions alone."""
        return tuple(one.decision for one in self.at)

    @property
    def length_s(self) -> float | None:
        """How long it is to be, in seconds."""
        if self.length is None:
            return None
        assert isinstance(self.length.what, PlanDecided)
        return self.length.what.value


def decisions_on(folder: ReadingFolder) -> DecisionsOn:
    """Gather what the desk decided about a reading as it stands."""
    standing = [entry.number for entry in review(folder.standing).decisions]
    places = TakePlaces(folder)
    finished_on = min((one.revision for one in read_versions(folder.path)), default=None)
    at: list[DecidedAt] = []
    length: Edit | None = None
    for edit in counting(folder.standing):
        match edit.what:
            case Decided() as decided if edit.number in standing:
                of_master = finished_on is not None and edit.number > finished_on
                made = _of_a_finding(decided, places, of_master=of_master)
            case PlanDecided(of="length") as what:
                length = None if what.wanted == "as planned" else edit
                continue
            case PlanDecided() as what:
                made = _of_an_entry(what, folder, places)
            case _:
                continue
        at += [DecidedAt(decision=one, edit=edit) for one in made]
    return DecisionsOn(at=tuple(at), length=length)


def closing_of_reading(folder: ReadingFolder) -> int | None:
    """Give where the closing words were marked last, in 48 kHz samples of the reading."""
    marks = [
        (edit.what.take, edit.what.sample)
        for edit in counting(folder.standing)
        if isinstance(edit.what, WordsBegun) and edit.what.which == "closing"
    ]
    return TakePlaces(folder).sample_of(marks[-1]) if marks else None


def _of_a_finding(
    decided: Decided, places: TakePlaces, *, of_master: bool
) -> Iterator[PlaceDecision]:
    """Give what a decision about something that was heard says of what is planned there.

    What is heard in a master stays as it is with the repair that was made there.
    """
    wanted = _WANTED.get(decided.decision)
    start, stop = places.sample_of(decided.start), places.sample_of(decided.stop)
    if wanted is None or stop <= start:
        return
    is_cut_alone = decided.decision == "cut" or (decided.decision == "leave" and of_master)
    sorts: tuple[EntrySort, ...] = ("cut",) if is_cut_alone else ("repair", "cut")
    for of in sorts:
        kind = decided.finding or DESK_CUT
        yield PlaceDecision(of=of, kind=kind, start=start, stop=stop, wanted=wanted)


def _of_an_entry(
    what: PlanDecided, folder: ReadingFolder, places: TakePlaces
) -> Iterator[PlaceDecision]:
    of = next((sort for sort in get_args(EntrySort) if sort == what.of), None)
    if of is None:
        # A newer Quietleaf knows of more; what it says of them is none of this one's.
        return
    for start, stop in _heard(what, folder, places):
        yield PlaceDecision(
            of=of, kind=what.what, start=start, stop=stop, wanted=what.wanted, value=what.value
        )


def _heard(
    what: PlanDecided, folder: ReadingFolder, places: TakePlaces
) -> Iterator[tuple[int, int]]:
    """Give what is left of a place in the reading; nothing where something else is read now."""
    if what.start is None or what.stop is None:
        yield _NO_PLACE
        return
    for span in folder.timeline().spans:
        first, last = _shared(what.start, what.stop, span.take, span.start, span.stop)
        if first < last:
            start = places.sample_of((span.take, first))
            yield start, max(places.sample_of((span.take, last - 1)) + 1, start + 1)


def _shared(begin: Place, end: Place, take: int, start: int, stop: int) -> tuple[int, int]:
    if take != begin[0]:
        return 0, 0
    return max(start, begin[1]), min(stop, max(end[1], begin[1] + 1))
