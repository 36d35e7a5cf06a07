"""The sound of both sides of an *again*, and where a sample of it lies in the takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from quietleaf.booth.edits import Again, Edit
from quietleaf.booth.replay import Standing, takes, timeline, try_timeline
from quietleaf.booth.timeline import Place, Span
from quietleaf.finishing.join_early import voiced_runs
from quietleaf.listening.structure import frame_starts, structure_of_sound
from quietleaf.storage.take_reader import TakeReader
from quietleaf.work.spans_sound import SpansSound, last_spans, read_at, spans_sound

BEFORE_S = 12.0
AFTER_S = 4.0
"""So much of the old side is listened to, before its place and after it."""
_KEY_S = 0.05
_WHISPERED_S = 1.2
PLACED = "place:"
"""Begins the id of an *again* that was placed; the number of the one it stands for follows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OldSound:
    """The programme before a place, and what follows in the take, at one rate.

    Attributes
    ----------
    programme : SpansSound
        Up to the place.
    samples : ndarray, shape (n,)
        With what follows.
    has_words : bool
    from_start : bool
        Nothing of the programme comes before it.
    """

    programme: SpansSound
    samples: NDArray[np.float64]
    has_words: bool
    from_start: bool

    @property
    def back(self) -> int:
        """Where the programme ends in it."""
        return self.programme.samples.size


def old_sound(
    standing: Standing, edit: Edit, readers: Mapping[int, TakeReader], sample_rate_hz: int
) -> OldSound | None:
    """Give the sound that an *again* leaves, over the joins before it.

    Spans without a word between an earlier join and this one are left out: a sentence that is read
    for the third time is joined to what comes before its first reading.

    Returns
    -------
    sound : OldSound or None
        None where nothing of the programme comes before.
    """
    again = edit.what
    assert isinstance(again, Again)
    upto = (again.back_take, again.back_sample)
    spans = spans_before(standing, edit, upto, as_placed=True)
    found = None
    while spans:
        found = _old_sound(spans, again, readers, sample_rate_hz)
        if _has_words(found, sample_rate_hz):
            return found
        if len(found.programme.spans) == 1 and not found.from_start:
            break
        spans = spans[:-1]
    if found is None:
        return None
    return replace(found, has_words=False)


def lead_in_sound(
    standing: Standing, edit: Edit, readers: Mapping[int, TakeReader], sample_rate_hz: int
) -> NDArray[np.float64] | None:
    """Give what was played, as the stand put it together: before anything was placed anew."""
    again = edit.what
    assert isinstance(again, Again)
    if again.lead_in == 0:
        return None
    upto = (again.back_take, again.back_sample)
    spans = spans_before(standing, edit, upto, as_placed=False)
    played = last_spans(spans, readers, again.lead_in / sample_rate_hz)
    return spans_sound(played, readers, sample_rate_hz).samples if played else None


def spans_before(
    standing: Standing, edit: Edit, upto: Place, *, as_placed: bool
) -> tuple[Span, ...]:
    """Give the programme before a place, as if neither an *again* nor a later one were there.

    Parameters
    ----------
    as_placed : bool
        With the better places of earlier ones; else as the stand knew them.
    """
    undone = set(standing.undone)
    for other in standing.edits:
        if not isinstance(other.what, Again):
            continue
        stands_for = number_of(other)
        if stands_for >= edit.number:
            undone.add(other.number)
        elif stands_for != other.number and other.number not in standing.undone and not as_placed:
            undone.add(other.number)
            undone.discard(stands_for)
    # A take that is still being recorded is not gone back into by one that is complete.
    as_it_was = Standing(edits=standing.edits, undone=frozenset(undone))
    first_take = takes(standing)[upto[0]].first_take
    if first_take is None:
        return timeline(as_it_was).spans_before(upto)
    return try_timeline(as_it_was, (first_take, 0)).spans_before(upto)


def number_of(edit: Edit) -> int:
    """Give the number of the *again* that an entry stands for: its own, unless it was placed."""
    if edit.edit_id.startswith(PLACED):
        return int(edit.edit_id.removeprefix(PLACED))
    return edit.number


def _old_sound(
    spans: tuple[Span, ...],
    again: Again,
    readers: Mapping[int, TakeReader],
    sample_rate_hz: int,
) -> OldSound:
    used = last_spans(spans, readers, BEFORE_S)
    programme = spans_sound(used, readers, sample_rate_hz)
    last = spans[-1]
    reader = readers[last.take]
    rate = reader.info.sample_rate_hz
    stop = min(last.stop + round(AFTER_S * rate), reader.info.frames)
    if last.take == again.take:
        stop = max(last.stop, min(stop, again.mark - round(_KEY_S * rate)))
    after = read_at(reader, last.stop, stop, sample_rate_hz)
    return OldSound(
        programme=programme,
        samples=np.concatenate([programme.samples, after]),
        has_words=True,
        from_start=len(used) == len(spans) and used[0].start == spans[0].start,
    )


def _has_words(old: OldSound, sample_rate_hz: int) -> bool:
    """Say whether the last span has a word, or sounds for longer than paper does: whispered."""
    structure = structure_of_sound(old.samples, sample_rate_hz)
    if structure is None:
        return False
    first, _ = old.programme.pieces[-1]
    voiced = voiced_runs(old.samples, sample_rate_hz, structure)
    if any(first <= start < old.back for start, _ in voiced):
        return True
    starts = frame_starts(structure.level.size, sample_rate_hz)
    sounding = sum(
        int(stop - start)
        for start, stop in starts[structure.runs]
        if first <= start and stop <= old.back
    )
    return sounding > _WHISPERED_S * sample_rate_hz
