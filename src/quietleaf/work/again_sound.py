"""The sound of both sides of an *again*, and where a sample of it lies in the takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.booth.edits import Again, Edit
from quietleaf.booth.replay import Standing, timeline
from quietleaf.booth.timeline import Place, Span
from quietleaf.finishing.join_early import voiced_runs
from quietleaf.listening.structure import frame_starts, structure_of_sound
from quietleaf.storage.resampled_take import ResampledTake
from quietleaf.storage.take_reader import TakeReader

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
    samples : ndarray, shape (n,)
    back : int
        Where the programme ends in it.
    pieces : tuple of (int, Span)
        Where each span begins in it; the last one goes on past its end.
    has_words : bool
    from_start : bool
        Nothing of the programme comes before it.
    """

    samples: NDArray[np.float64]
    back: int
    pieces: tuple[tuple[int, Span], ...]
    has_words: bool
    from_start: bool

    def place(self, sample: int, ratios: Mapping[int, float]) -> Place:
        """Give the take's number and its own sample; ``ratios`` are those of the takes' rates."""
        first, span = next(
            (first, span) for first, span in reversed(self.pieces) if first <= max(sample, 0)
        )
        return span.take, span.start + round((sample - first) * ratios[span.take])


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
        if len(found.pieces) == 1 and not found.from_start:
            break
        spans = spans[:-1]
    if found is None:
        return None
    return OldSound(
        samples=found.samples,
        back=found.back,
        pieces=found.pieces,
        has_words=False,
        from_start=found.from_start,
    )


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
    pieces: list[NDArray[np.float64]] = []
    missing = again.lead_in
    for span in reversed(spans):
        if missing <= 0:
            break
        heard = _read(readers[span.take], span.start, span.stop, sample_rate_hz, last=missing)
        pieces.insert(0, heard)
        missing -= heard.size
    return np.concatenate(pieces) if pieces else None


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
    spans = timeline(Standing(edits=standing.edits, undone=frozenset(undone))).spans
    kept = []
    for span in spans:
        if (span.take, span.start) >= upto:
            break
        stop = min(span.stop, upto[1]) if span.take == upto[0] else span.stop
        kept.append(Span(take=span.take, start=span.start, stop=stop))
    return tuple(kept)


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
    wanted = round(BEFORE_S * sample_rate_hz)
    parts: list[NDArray[np.float64]] = []
    used: list[Span] = []
    count = 0
    for span in reversed(spans):
        heard = _read(
            readers[span.take], span.start, span.stop, sample_rate_hz, last=wanted - count
        )
        ratio = readers[span.take].info.sample_rate_hz / sample_rate_hz
        start = max(span.start, span.stop - round(heard.size * ratio))
        parts.insert(0, heard)
        used.insert(0, Span(take=span.take, start=start, stop=span.stop))
        count += heard.size
        if count >= wanted:
            break
    last = spans[-1]
    reader = readers[last.take]
    rate = reader.info.sample_rate_hz
    stop = min(last.stop + round(AFTER_S * rate), reader.info.frames)
    if last.take == again.take:
        stop = max(last.stop, min(stop, again.mark - round(_KEY_S * rate)))
    after = _read(reader, last.stop, stop, sample_rate_hz)
    starts = np.cumsum([0, *(part.size for part in parts)]).tolist()
    return OldSound(
        samples=np.concatenate([*parts, after]),
        back=count,
        pieces=tuple(zip(starts, used, strict=False)),
        has_words=True,
        from_start=len(used) == len(spans) and used[0].start == spans[0].start,
    )


def _has_words(old: OldSound, sample_rate_hz: int) -> bool:
    """Say whether the last span has a word, or sounds for longer than paper does: whispered."""
    structure = structure_of_sound(old.samples, sample_rate_hz)
    if structure is None:
        return False
    first, _ = old.pieces[-1]
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


def _read(
    reader: TakeReader, start: int, stop: int, sample_rate_hz: int, *, last: int | None = None
) -> NDArray[np.float64]:
    """Read a range of a take at a rate; of a long one the last frames alone."""
    if last is not None:
        own = reader.info.sample_rate_hz
        start = max(start, stop - (last * own + sample_rate_hz - 1) // sample_rate_hz)
    sound = ResampledTake(reader, start, stop, sample_rate_hz)
    return sound.read(0, sound.frames)
