"""Which entry a ledger takes, and which it refuses with a sentence.

What a reader does while reading (a take rolls or is sealed, *again*, an article or fixed words
begin, sound goes missing, the room is measured, what is left on handing in) is a fact, and is
taken on any revision; so is an observation. What somebody decides while looking at the reading
(about a finding or an entry of the plan, a cut, an undo, a state) must have been decided on the
reading as it stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from quietleaf.booth.edits import (
    Again,
    ArticleStarted,
    Cut,
    Decided,
    Edit,
    HandedIn,
    Opened,
    Patch,
    PlanDecided,
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
from quietleaf.booth.replay import Standing, TakeFacts, state, takes, timeline
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

_JUDGED = (Cut, Decided, PlanDecided, Undo, StateSet)
"""What is decided on a reading as somebody saw it."""


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
    if isinstance(what, _JUDGED) and edit.revision != standing.revision:
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
    | Patch
    | Cut
    | ArticleStarted
    | WordsBegun
    | SoundMissing
    | Decided
    | Remarked
    | PlanDecided,
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
        if isinstance(what, TakeRolled):
            _admit_apart(standing, what)
        if what.sample_rate_hz < 1 or (isinstance(what, TakeSealed) and what.samples < 0):
            raise Invalid("ledger/take-size", "A take has a sampling rate and a length.")
        return
    places: tuple[tuple[int, int], ...]
    match what:
        case Again(take=take, mark=mark, back_take=back_take, back_sample=back, resume=resume):
            places = ((back_take, back), (take, mark), (take, resume))
        case Patch(begin=begin, until=until, start=first, stop=last):
            places = (first, last, begin, until)
        case Cut(take=take, start=start, stop=stop):
            places = ((take, start), (take, stop))
        case Decided(start=first, stop=last):
            places = (first, last)
        case PlanDecided(start=begun, stop=ended):
            places = () if begun is None or ended is None else (begun, ended)
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
    if isinstance(what, Again) and known[what.take].first_take != known[what.back_take].first_take:
        raise Invalid(
            "ledger/apart",
            f"Take {what.take} stands apart from take {what.back_take}; nobody goes back from one "
            "into the other.",
        )
    if isinstance(what, Patch):
        _admit_patch(known, what)
        places = (what.start, what.stop)
    if isinstance(what, Patch | Decided):
        # What stands in place of a sentence has a later take than what follows it.
        places = tuple(timeline(standing).rank(place) for place in places)
    empty = isinstance(what, Cut | Decided | Patch) and places[0] == places[-1]
    if list(places) != sorted(places) or empty:
        raise Invalid(
            "ledger/order",
            "The places of an entry come in the order of the reading: first where it leaves off, "
            "then where it goes on.",
        )


def _admit_apart(standing: Standing, what: TakeRolled) -> None:
    """Refuse a take for a patch that belongs to nothing that was sent back, or to no try."""
    if what.read_for is None and what.first_take is None:
        return
    sent_back = (edit.what for edit in standing.edits if edit.number == what.read_for)
    known = takes(standing)
    first = known.get(what.first_take or 0)
    goes_on = first is not None and (first.read_for, first.first_take) == (
        what.read_for,
        what.first_take,
    )
    asked = any(isinstance(each, Decided) and each.decision == "read again" for each in sent_back)
    if not asked or not (what.first_take == what.take or goes_on):
        raise Invalid(
            "ledger/read-for",
            f"Take {what.take} is to be read for entry {what.read_for}, which sent nothing back to "
            "be read again, or goes on with a take that was not read for it.",
        )


def _admit_patch(known: Mapping[int, TakeFacts], what: Patch) -> None:
    tried = known[what.begin[0]]
    if (
        tried.read_for != what.read_for
        or tried.first_take != known[what.until[0]].first_take
        or what.until <= what.begin
        or max(what.start[0], what.stop[0]) >= (tried.first_take or 0)
    ):
        raise Invalid(
            "ledger/patch",
            f"What stands in place of a sentence was read for the entry that sent it back "
            f"({what.read_for}), in one try, after it.",
        )
