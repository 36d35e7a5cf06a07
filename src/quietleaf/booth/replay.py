"""From the ledger to the reading as it stands: a pure fold over its entries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from quietleaf.booth.edits import (
    Again,
    ArticleStarted,
    Cut,
    Edit,
    HandedIn,
    Opened,
    Patch,
    StateSet,
    TakeRolled,
    TakeSealed,
    Undo,
)
from quietleaf.booth.reading import HandIn, ReadingFacts, ReadingState
from quietleaf.booth.timeline import ArticleMark, Outside, PatchPlaces, Place, Timeline, lay_out


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeFacts:
    """What the ledger says of a take.

    Attributes
    ----------
    samples : int or None
        None while it is still being recorded.
    sha256 : str
        Empty while it is still being recorded.
    read_for, first_take : int or None
        Of a take that stands apart; see `TakeRolled`.
    """

    take: int
    sample_rate_hz: int
    samples: int | None
    sha256: str
    origin: str
    read_for: int | None = None
    first_take: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A reading after some of its entries.

    Attributes
    ----------
    edits : tuple of Edit
        All of them, in order.
    undone : frozenset of int
        Numbers of those that do not count, because an undo that counts takes them back.
    """

    edits: tuple[Edit, ...] = ()
    undone: frozenset[int] = frozenset()

    @property
    def revision(self) -> int:
        """The number of the last entry; 0 before the first."""
        return len(self.edits)


START = Standing()


def step(standing: Standing, edit: Edit) -> Standing:
    """Add one entry."""
    edits = (*standing.edits, edit)
    undone = _undone(edits) if isinstance(edit.what, Undo) else standing.undone
    return Standing(edits=edits, undone=undone)


def replay(edits: Iterable[Edit], standing: Standing = START) -> Standing:
    """Add entries in order; in two goes or in one, the outcome is the same."""
    everything = (*standing.edits, *edits)
    return Standing(edits=everything, undone=_undone(everything))


def facts(standing: Standing) -> ReadingFacts:
    """Say what the reading is for: what its first entry says."""
    opened = standing.edits[0].what
    assert isinstance(opened, Opened), "a ledger that was admitted begins with opened"
    return opened.facts


def takes(standing: Standing) -> dict[int, TakeFacts]:
    """Give every take that was ever recorded, by number, in the programme or not."""
    known: dict[int, TakeFacts] = {}
    for edit in standing.edits:
        match edit.what:
            case TakeRolled() as rolled:
                known[rolled.take] = TakeFacts(
                    take=rolled.take,
                    sample_rate_hz=rolled.sample_rate_hz,
                    samples=None,
                    sha256="",
                    origin=rolled.origin,
                    read_for=rolled.read_for,
                    first_take=rolled.first_take,
                )
            case TakeSealed() as sealed:
                before = known.get(sealed.take)
                known[sealed.take] = TakeFacts(
                    take=sealed.take,
                    sample_rate_hz=sealed.sample_rate_hz,
                    samples=sealed.samples,
                    sha256=sealed.sha256,
                    origin=sealed.origin,
                    read_for=None if before is None else before.read_for,
                    first_take=None if before is None else before.first_take,
                )
    return known


def state(standing: Standing) -> ReadingState:
    """Say where the reading has got to: the last state set, or recording since then."""
    reached: ReadingState = "assigned"
    for edit in counting(standing):
        match edit.what:
            case StateSet(state=set_to):
                reached = set_to
            case TakeRolled() | TakeSealed():
                reached = "in the booth"
    return reached


def hand_in(standing: Standing) -> HandIn | None:
    """Give what was left on handing in, the last time; None before."""
    left: HandIn | None = None
    for edit in counting(standing):
        match edit.what:
            case HandedIn(hand_in=given):
                left = given
    return left


def came_in_at(standing: Standing) -> datetime | None:
    """Say when a reading was handed in, the last time; None before."""
    moments = [
        edit.at
        for edit in counting(standing)
        if isinstance(edit.what, StateSet) and edit.what.state == "handed in"
    ]
    return moments[-1] if moments else None


def timeline(standing: Standing, recorded: Mapping[int, int] | None = None) -> Timeline:
    """Apply the edits.

    Parameters
    ----------
    standing : Standing
        The entries.
    recorded : mapping of int to int, optional
        Samples so far of takes that are not sealed; one that is missing counts as empty.

    Notes
    -----
    The takes that joined, in their order, minus all that an *again* or a cut took out, and with
    each patch in place of its range: as no place is ever renumbered, edits can be undone in any
    order and the others keep their meaning.
    """
    known = takes(standing)
    lengths = _lengths(standing, recorded or {})
    outside, marks = _outside(standing)
    patches: dict[int, PatchPlaces] = {}
    for edit in counting(standing):
        match edit.what:
            case Patch() as patch:
                patches[patch.read_for] = PatchPlaces(
                    begin=patch.begin, until=patch.until, start=patch.start, stop=patch.stop
                )
    apart = {take: facts.first_take for take, facts in known.items() if facts.first_take}
    return lay_out(lengths, outside, marks, tuple(patches.values()), apart)


def try_timeline(standing: Standing, begin: Place) -> Timeline:
    """Apply the edits to the takes of one try alone, from a place of it on, as a patch does."""
    known = takes(standing)
    first_take = known[begin[0]].first_take
    lengths = {
        take: samples
        for take, samples in _lengths(standing, {}).items()
        if known[take].first_take == first_take
    }
    outside, marks = _outside(standing)
    own = tuple(each for each in outside if each.stop[0] in lengths and each.start >= begin)
    whole = lay_out(lengths, own, tuple(mark for mark in marks if mark.take in lengths))
    return replace(whole, spans=whole.spans_after(begin))


def _lengths(standing: Standing, recorded: Mapping[int, int]) -> dict[int, int]:
    left_out = {
        edit.what.take
        for edit in standing.edits
        if edit.number in standing.undone and isinstance(edit.what, TakeRolled | TakeSealed)
    }
    lengths = {
        take.take: recorded.get(take.take, 0) if take.samples is None else take.samples
        for take in takes(standing).values()
    }
    # What is marked in a take that is left out has its place all the same.
    return lengths | dict.fromkeys(left_out, 0)


def _outside(standing: Standing) -> tuple[tuple[Outside, ...], tuple[ArticleMark, ...]]:
    outside: list[Outside] = []
    marks: list[ArticleMark] = []
    for edit in counting(standing):
        match edit.what:
            case Again() as again:
                outside.append(
                    Outside(
                        start=(again.back_take, again.back_sample), stop=(again.take, again.resume)
                    )
                )
            case Cut() as cut:
                outside.append(Outside(start=(cut.take, cut.start), stop=(cut.take, cut.stop)))
            case ArticleStarted(take=take, sample=sample, title=title):
                marks.append(ArticleMark(take=take, sample=sample, title=title))
    return tuple(outside), tuple(marks)


def counting(standing: Standing) -> Iterable[Edit]:
    """Give the entries that no undo takes back."""
    return (edit for edit in standing.edits if edit.number not in standing.undone)


def _undone(edits: tuple[Edit, ...]) -> frozenset[int]:
    undone: set[int] = set()
    # From the last to the first: an undo points backwards, so by the time it is reached it is
    # known whether a later one takes it back.
    for edit in reversed(edits):
        if isinstance(edit.what, Undo) and edit.number not in undone:
            undone.add(edit.what.of)
    return frozenset(undone)
