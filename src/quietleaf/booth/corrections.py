"""What a return asks its reader to read again, and what has been read again for it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from quietleaf.booth.edits import Decided, Edit, Happening, Patch, StateSet
from quietleaf.booth.replay import Standing, counting
from quietleaf.booth.review import DecisionEntry, review
from quietleaf.booth.timeline import Place, Timeline


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A place that was sent back.

    Attributes
    ----------
    entry : DecisionEntry
    patch : Patch or None
        What was read again for it, and stands in its place; None until then.
    """

    entry: DecisionEntry
    patch: Patch | None


def corrections(standing: Standing) -> tuple[Correction, ...]:
    """Give what the last return asks for, in the order of the programme; nothing before one.

    What was sent back before and has been read again since is over, unless a decision was made
    about it anew. After the reader has handed in again, those with a patch are what the desk
    looks at for the second time.
    """
    returned = _returned_at(standing)
    found = review(standing)
    patches = [edit for edit in counting(standing) if isinstance(edit.what, Patch)]
    asked: list[Correction] = []
    for entry in found.to_read_again:
        if entry.number > returned:
            continue
        patch = _patch_for(entry, patches, found.whole)
        if patch is None or patch.number > returned:
            asked.append(Correction(entry=entry, patch=None if patch is None else _patch(patch)))
    return tuple(asked)


def as_returned(standing: Standing) -> Standing:
    """Give a reading as it was returned: without what has been read again since."""
    since = {
        edit.number
        for edit in standing.edits[_returned_at(standing) :]
        if isinstance(edit.what, Patch)
    }
    return replace(standing, undone=standing.undone | since)


def is_sent_back(what: Happening) -> bool:
    """Say whether an entry sends a place back to be read again."""
    return isinstance(what, Decided) and what.decision == "read again"


def followed(standing: Standing) -> dict[int, Patch]:
    """Give what was read again for each decision that still asks for it, by its entry's number.

    It stands until somebody decides about the place anew: that is the second look.
    """
    found = review(standing)
    patches = [edit for edit in counting(standing) if isinstance(edit.what, Patch)]
    answers = {
        entry.number: _patch_for(entry, patches, found.whole) for entry in found.to_read_again
    }
    return {number: _patch(edit) for number, edit in answers.items() if edit is not None}


def is_returned(standing: Standing) -> bool:
    """Say whether a reading is with its reader to be read again: not handed in since."""
    last = _last_state(standing)
    return last is not None and last.state == "returned"


def note_of(standing: Standing) -> str:
    """Give what the desk wrote when it gave a reading back; empty where it is not given back."""
    last = _last_state(standing)
    return last.note if last is not None and last.state == "returned" else ""


def _last_state(standing: Standing) -> StateSet | None:
    states = [edit.what for edit in counting(standing) if isinstance(edit.what, StateSet)]
    return states[-1] if states else None


def _returned_at(standing: Standing) -> int:
    """Give the number of the last return; 0 before one: then nothing was asked for."""
    returned = [
        edit.number
        for edit in counting(standing)
        if isinstance(edit.what, StateSet) and edit.what.state == "returned"
    ]
    return returned[-1] if returned else 0


def _patch_for(entry: DecisionEntry, patches: list[Edit], whole: Timeline) -> Edit | None:
    """Give the last patch that stands in place of what was decided about."""
    holding = [
        edit
        for edit in patches
        if edit.number > entry.number and _holds(_patch(edit), entry, whole)
    ]
    return holding[-1] if holding else None


def _holds(patch: Patch, entry: DecisionEntry, whole: Timeline) -> bool:
    def is_in(place: Place) -> bool:
        return whole.rank(patch.start) <= whole.rank(place) <= whole.rank(patch.stop)

    return patch.read_for == entry.number or (is_in(entry.what.start) and is_in(entry.what.stop))


def _patch(edit: Edit) -> Patch:
    assert isinstance(edit.what, Patch)
    return edit.what
