"""Enter what a stand asks for with *again*: the new entry first, then the old one is taken back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from quietleaf.booth.edits import Again, Edit, TakeRolled, Undo
from quietleaf.booth.wire import Again as Asked
from quietleaf.errors import Conflict, Invalid
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.enter import enter
from quietleaf.work.tools import Tools

CARRIED = "from-"
"""Begins the second half of the id of a *rolled* whose take began in another reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalTake:
    """A take that a journal rolled.

    Attributes
    ----------
    shift : int
        Which sample of the journal's take is this one's first: 0, unless its beginning lies in
        another reading.
    """

    take: int
    shift: int


def takes_of_journal(edits: Sequence[Edit], journal: str) -> tuple[JournalTake, ...]:
    """Give the takes that a journal rolled into a reading, in their order."""
    rolled = []
    for edit in edits:
        whose, _, which = edit.edit_id.partition(":")
        if whose == journal and isinstance(edit.what, TakeRolled):
            carried = which.startswith(CARRIED)
            shift = int(which.removeprefix(CARRIED)) if carried else 0
            rolled.append(JournalTake(take=edit.what.take, shift=shift))
    return tuple(rolled)


def enter_again(
    folder: ReadingFolder,
    asked: Asked,
    *,
    journal: str,
    index: int,
    takes_before: int,
    author: str,
    tools: Tools,
) -> None:
    """Enter it; asked twice, it is entered once.

    Parameters
    ----------
    index : int
        Of the entry in its journal.
    takes_before : int
        Takes of the journal that lie in another reading. Of what was said in them nothing can be
        left out here, so that a place in them is the beginning of what is here.

    Raises
    ------
    Invalid
        If it names a take that was never begun.
    Conflict
        If the reading does not take entries any more.
    """
    # What was placed anew meanwhile is known to the disk alone.
    folder.reload()
    what = _here(folder, asked, journal, takes_before)
    if what is None:
        return
    old = _standing_for(folder, journal, asked.instead)
    last = f"{journal}:{index}"
    new_id = last if asked.instead is None else f"{last}-new"
    folder.append(what, author=author, at=tools.clock(), edit_id=new_id)
    for number in old:
        # Only the last has the id that tells how far the journal has got.
        undo_id = last if number == old[-1] else f"{last}-old-{number}"
        _take_back(folder, number, undo_id, author, tools)


def _here(folder: ReadingFolder, asked: Asked, journal: str, takes_before: int) -> Again | None:
    mine = takes_of_journal(folder.ledger(), journal)
    if asked.take <= takes_before:
        return None
    if asked.take - takes_before > len(mine):
        raise Invalid("wire/again", "The stand went back in a take that was never begun.")
    lengths = {known.take: known.samples for known in folder.takes()}

    def place(take: int, sample: int) -> tuple[int, int]:
        if take <= takes_before:
            return mine[0].take, 0
        there = mine[take - takes_before - 1]
        longest = lengths[there.take]
        here = max(sample - there.shift, 0)
        return there.take, here if longest is None else min(here, longest)

    back_take, back = place(asked.back_take, asked.back_sample)
    take, mark = place(asked.take, asked.mark)
    return Again(
        take=take,
        mark=mark,
        back_take=back_take,
        back_sample=back,
        resume=place(asked.take, asked.resume)[1],
        lead_in=asked.lead_in,
    )


def _standing_for(folder: ReadingFolder, journal: str, index: int | None) -> list[int]:
    """Give the numbers of the entries that count for an earlier one: itself, or as placed anew."""
    if index is None:
        return []
    ids = {f"{journal}:{index}", f"{journal}:{index}-new"}
    agains = [edit for edit in folder.ledger() if isinstance(edit.what, Again)]
    first = [edit.number for edit in agains if edit.edit_id in ids]
    placed = {f"place:{number}" for number in first}
    numbers = [*first, *(edit.number for edit in agains if edit.edit_id in placed)]
    return [number for number in numbers if number not in folder.standing.undone]


def _take_back(folder: ReadingFolder, number: int, edit_id: str, author: str, tools: Tools) -> None:
    try:
        enter(folder, Undo(of=number), edit_id=edit_id, author=author, tools=tools)
    except Conflict as refusal:
        if refusal.code != "ledger/undone":
            raise
