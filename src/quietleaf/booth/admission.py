"""Which entry a ledger takes, and which it refuses with a sentence.

What a reader does while reading (a take rolls or is sealed, *again*, an article or fixed words
begin, sound goes missing, the room is measured, what is left on handing in) is a fact, and is
taken on any revision; so is an observation. What somebody decides while looking at the reading
(about a finding, a cut, an undo, a state) must have been decided on the reading as it stands.
"""

from __future__ import annotations

from datetime import timedelta

from quietleaf.booth.edits import (
    Again,
    ArticleStarted,
    Cut,
    Decided,
    Edit,
    HandedIn,
    Opened,
    Remarked,
    RoomChecked,
    SoundMissing,
    StateSet,
    TakeRolled,
    TakeSealed,
    Undo,
    WordsBegun,
)
from quietleaf.booth.reading import ReadingState
from quietleaf.booth.replay import Standing, state, takes
from quietleaf.errors import Conflict, Invalid

NEXT_STATES: dict[ReadingState, tuple[ReadingState, ...]] = {
    "assigned": ("in the booth",),
    "in the booth": ("handed in",),
    "handed in": ("cleared", "returned", "in the booth"),
    "cleared": ("placed", "returned"),
    "returned": ("in the booth", "handed in"),
    "placed": ("aired", "cleared", "returned"),
    "aired": ("placed",),
}
"""Where a reading can go from each state; an aired one can be placed again."""

SETTLED: tuple[ReadingState, ...] = ("cleared", "placed", "aired")
"""States in which what is heard does not change."""


def admit(standing: Standing, edit: Edit) -> None:
    """Refuse an entry that the reading as it stands cannot take.

    Raises
    ------
    Conflict
        If it was decided on a reading that has changed since, or a state does not allow it.
    Invalid
        If it does not hold together: a wrong number, a place outside its take.
    """
    what = edit.what
    if edit.number != standing.revision + 1 or not 0 <= edit.revision <= standing.revision:
        raise Invalid(
            "ledger/number",
            f"The next entry of this ledger is number {standing.revision + 1}, made on a revision "
            f"up to {standing.revision}; number {edit.number} made on {edit.revision} came.",
        )
    if edit.at.utcoffset() != timedelta(0):
        raise Invalid("ledger/time", f"An entry holds its time in UTC; {edit.at.isoformat()} came.")
    if isinstance(what, Opened) != (standing.revision == 0):
        raise Invalid(
            "ledger/opened",
            "A ledger begins by saying what the reading is for, and says so once.",
        )
    if isinstance(what, Cut | Decided | Undo | StateSet) and edit.revision != standing.revision:
        changed = standing.edits[-1]
        raise Conflict(
            "ledger/stale",
            f"This reading has changed since you saw it: {changed.author} made entry "
            f"{changed.number} meanwhile. Look at it again, then decide.",
        )
    match what:
        case Opened():
            pass
        case StateSet():
            _admit_state(standing, what)
        case Undo():
            _admit_undo(standing, what)
        case RoomChecked() | HandedIn():
            _admit_while_open(standing)
        case _:
            _admit_while_open(standing)
            _admit_places(standing, what)


def _admit_state(standing: Standing, what: StateSet) -> None:
    present = state(standing)
    if what.state not in NEXT_STATES[present]:
        raise Conflict(
            "ledger/state",
            f"This reading is {present}; from there it can be "
            f"{' or '.join(NEXT_STATES[present])}, not {what.state}.",
        )


def _admit_undo(standing: Standing, what: Undo) -> None:
    if not 2 <= what.of <= standing.revision:
        raise Invalid(
            "ledger/undo",
            f"What can be taken back are the entries 2 to {standing.revision}; "
            f"{what.of} was asked for.",
        )
    if what.of in standing.undone:
        raise Conflict("ledger/undone", f"Entry {what.of} has been taken back already.")
    target = standing.edits[what.of - 1].what
    if isinstance(target, TakeSealed):
        for edit in standing.edits[: what.of - 1]:
            if isinstance(edit.what, TakeRolled) and edit.what.take == target.take:
                raise Invalid(
                    "ledger/undo-seal",
                    f"That take {target.take} came to its end is not taken back; to leave the "
                    f"take out, take back that it rolled: entry {edit.number}.",
                )
    if not isinstance(target, StateSet):
        _admit_while_open(standing)


def _admit_while_open(standing: Standing) -> None:
    present = state(standing)
    if present in SETTLED:
        raise Conflict(
            "ledger/settled",
            f"This reading is {present}, and what is heard stays as it is. Return it first.",
        )


def _admit_places(
    standing: Standing,
    what: TakeRolled
    | TakeSealed
    | Again
    | Cut
    | ArticleStarted
    | WordsBegun
    | SoundMissing
    | Decided
    | Remarked,
) -> None:
    known = takes(standing)
    if isinstance(what, TakeRolled | TakeSealed):
        growing = known.get(what.take)
        finishes = (
            isinstance(what, TakeSealed)
            and growing is not None
            and growing.samples is None
            and growing.sample_rate_hz == what.sample_rate_hz
        )
        if not finishes and what.take != len(known) + 1:
            raise Invalid(
                "ledger/take",
                f"The next take of this reading is number {len(known) + 1}; {what.take} came.",
            )
        if what.sample_rate_hz < 1 or (isinstance(what, TakeSealed) and what.samples < 0):
            raise Invalid("ledger/take-size", "A take has a sampling rate and a length.")
        return
    places: tuple[tuple[int, int], ...]
    match what:
        case Again(take=take, mark=mark, back_take=back_take, back_sample=back, resume=resume):
            places = ((back_take, back), (take, mark), (take, resume))
        case Cut(take=take, start=start, stop=stop):
            places = ((take, start), (take, stop))
        case Decided(start=first, stop=last):
            places = (first, last)
        case Remarked(place=place):
            places = (place,)
        case (
            ArticleStarted(take=take, sample=sample)
            | WordsBegun(take=take, sample=sample)
            | SoundMissing(take=take, sample=sample)
        ):
            places = ((take, sample),)
    for take, sample in places:
        if take not in known:
            raise Invalid(
                "ledger/no-take",
                f"This reading has {len(known)} takes; a place in take {take} was named.",
            )
        longest = known[take].samples
        if sample < 0 or (longest is not None and sample > longest):
            raise Invalid(
                "ledger/place",
                f"Take {take} has {longest} samples; sample {sample} was named.",
            )
    empty = isinstance(what, Cut | Decided) and places[0] == places[-1]
    if list(places) != sorted(places) or empty:
        raise Invalid(
            "ledger/order",
            "The places of an entry come in the order of the reading: first where it leaves off, "
            "then where it goes on.",
        )
