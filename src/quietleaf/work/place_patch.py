"""Put what was read again in the place of the sentence that was sent back, by listening.

Both joins are chosen as for *again* (`finishing.join_place`): from the old sound into the new one,
and from there into the old sound again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.booth.corrections import as_returned, is_returned
from quietleaf.booth.edits import Again, Patch
from quietleaf.booth.replay import TakeFacts, counting, takes, timeline, try_timeline
from quietleaf.booth.timeline import Place, Span, Timeline
from quietleaf.finishing.join_place import choose_join, real_pause_s
from quietleaf.finishing.join_sides import old_side
from quietleaf.listening.reader_pauses import ReaderPauses
from quietleaf.listening.structure import structure_of_sound
from quietleaf.listening.take_edges import word_edges
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.take_reader import TakeReader
from quietleaf.work.place_again import AUTHOR, next_mark, pauses_of
from quietleaf.work.read_on import read_on_from
from quietleaf.work.record_reading import ARRIVED
from quietleaf.work.sent_back import SentBack, readers_of, sent_back
from quietleaf.work.spans_sound import (
    SpansSound,
    first_spans,
    last_spans,
    read_at,
    spans_sound,
)
from quietleaf.work.tools import Tools

_OLD_S = 12.0
"""So much of the old sound is listened to, on each side of the sentence."""
_READ_S = 45.0
"""So much of what is read again, until somebody speaks."""
_AFTER_S = 4.0
_BEFORE_S = 0.3
_FOLLOWS_S = 20.0
"""So much of what follows is held against a reading that goes on into it."""
_LONGER, _LONGER_S = 1.1, 1.0
"""What takes no longer than this has nothing in it that follows on the sentence."""
AFTER_LAST_S = 0.3
"""So much room stays after a last word that nothing follows; as at the end of a take."""


def place_patch(folder: ReadingFolder, take: int, tools: Tools) -> None:
    """Put what was read with a take in its place, both joins chosen by listening.

    Where nobody reads in it, or its end never came, the old sentence stays. Asking twice enters it
    once.

    Raises
    ------
    Conflict
        If the reading is cleared.
    NotFound, Damaged
        If a take is not there, or not what was written.
    """
    # An object of its own: the one that records may be used at the same moment.
    reading = ReadingFolder(folder.path)
    known = takes(reading.standing)
    edit_id = f"patch:{take}"
    is_whole = known[take].samples is not None and not known[take].origin.endswith(ARRIVED)
    if not is_whole or any(edit.edit_id == edit_id for edit in reading.ledger()):
        return
    piece = _piece(sent_back(reading), known[take])
    if piece is None:
        return
    first_take = known[take].first_take
    assert first_take is not None, "what is read for a sentence belongs to a try"
    patch = _patch(reading, piece, first_take)
    if patch is not None:
        reading.append(patch, author=AUTHOR, at=tools.clock(), edit_id=edit_id)


def place_patches(folder: ReadingFolder, tools: Tools) -> None:
    """Put everything in its place that was read again and is not in it yet.

    What is listened to when a take ends may have been stopped before it came to that.
    """
    for known in folder.reload().takes():
        if known.read_for is not None:
            place_patch(folder, known.take, tools)
    folder.reload()


def sent_back_now(folder: ReadingFolder, tools: Tools) -> tuple[SentBack, ...]:
    """Give what a reader has to read again just now: until the reading is handed in again.

    What a stop left out of putting sentences in their places is done first.
    """
    if not is_returned(folder.standing):
        return ()
    place_patches(folder, tools)
    return sent_back(folder)


def _piece(sentences: tuple[SentBack, ...], take: TakeFacts) -> SentBack | None:
    """Give what a take was read for; None where the desk does not ask for it any more."""
    return next((one for one in sentences if one.number == take.read_for), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sides:
    """What both joins of a patch are chosen from.

    Attributes
    ----------
    whole : Timeline
        The programme that the sentence was sent back in.
    rate : int
        Of the sound that is listened to.
    """

    reading: ReadingFolder
    piece: SentBack
    whole: Timeline
    readers: Mapping[int, TakeReader]
    rate: int
    pauses: ReaderPauses


def _patch(reading: ReadingFolder, piece: SentBack, first_take: int) -> Patch | None:
    """Choose both joins; None where nobody reads."""
    whole = timeline(as_returned(reading.standing))
    own = [take.take for take in reading.takes() if take.first_take == first_take and take.samples]
    with readers_of(reading, [*{span.take for span in whole.spans}, *own]) as readers:
        head = _head(reading, first_take)
        sides = _Sides(
            reading=reading,
            piece=piece,
            whole=whole,
            readers=readers,
            rate=readers[head.take].info.sample_rate_hz,
            pauses=pauses_of(readers),
        )
        first = _first_join(sides, head)
        if first is None:
            return None
        start, begin = first
        until, stop = _second_join(sides, begin)
    if until <= begin:
        return None
    return Patch(read_for=piece.number, begin=begin, until=until, start=start, stop=stop)


def _head(reading: ReadingFolder, first_take: int) -> Again:
    """Give the last time that the sentence was begun in this try."""
    begun = [
        edit.what
        for edit in counting(reading.standing)
        if isinstance(edit.what, Again)
        and (edit.what.back_take, edit.what.back_sample) == (first_take, 0)
    ]
    if begun:
        return begun[-1]
    return Again(take=first_take, mark=0, back_take=first_take, back_sample=0, resume=0)


def _first_join(sides: _Sides, head: Again) -> tuple[Place, Place] | None:
    """Choose where the old sound is left, and where the new one is entered."""
    sound, rate = sides.readers[head.take], sides.rate
    before = sides.whole.spans_before(sides.piece.start)
    old = spans_sound(last_spans(before, sides.readers, _OLD_S), sides.readers, rate)
    played = last_spans(before, sides.readers, head.lead_in / rate)
    begin = max(0, head.mark - round(_AFTER_S * rate))
    until = min(
        next_mark(sides.reading, head, sound.info.frames), head.resume + round(_READ_S * rate)
    )
    found = choose_join(
        np.concatenate([old.samples, _after(sides, old)]),
        read_at(sound, begin, until, rate),
        rate,
        back=old.samples.size,
        resume=head.resume - begin,
        earliest=0,
        mark=head.mark - begin,
        lead_in=spans_sound(played, sides.readers, rate).samples if played else None,
        pauses=sides.pauses,
    )
    if found.reason == "no voice":
        return None
    start = sides.piece.start
    if found.reason != "nothing before it":
        start = old.place(found.back)
    elif before and old.spans == before:
        # Of the very beginning nothing stays but what is read again.
        start = (before[0].take, before[0].start)
    return start, (head.take, begin + found.resume)


def _after(sides: _Sides, old: SpansSound) -> NDArray[np.float64]:
    """Give what follows in the take: how long the pause there was."""
    if not old.spans:
        return np.zeros(0)
    last = old.spans[-1]
    reader = sides.readers[last.take]
    stop = last.stop + round(_AFTER_S * reader.info.sample_rate_hz)
    return read_at(reader, last.stop, min(stop, reader.info.frames), sides.rate)


def _second_join(sides: _Sides, begin: Place) -> tuple[Place, Place]:
    """Choose where the new sound is left, and where the old one is entered."""
    readers, rate = sides.readers, sides.rate
    read = try_timeline(sides.reading.standing, begin).spans
    new = spans_sound(last_spans(read, readers, _READ_S), readers, rate)
    after = sides.whole.spans_after(sides.piece.stop)
    until = _read_on(sides, new, after) or new.samples.size
    heard_from = max(0, until - round(_OLD_S * rate))
    if after:
        pause = _pause_before(sides, after[0])
        sound = readers[after[0].take]
        ratio = sound.info.sample_rate_hz / rate
        first = max(0, pause.start - round(_BEFORE_S * sound.info.sample_rate_hz))
        found = choose_join(
            new.samples[heard_from:],
            read_at(sound, first, pause.until, rate),
            rate,
            back=until - heard_from,
            resume=round((pause.start - first) / ratio),
            earliest=0,
            mark=None,
            lead_in=None,
            pauses=sides.pauses,
            old_until=until - heard_from,
            paused_s=pause.length_s,
        )
        if found.reason not in ("no voice", "nothing before it"):
            stop = (after[0].take, first + round(found.resume * ratio))
            return new.place(heard_from + found.back), stop
    edges = word_edges(new.samples, rate)
    last = new.samples.size
    if edges is not None:
        last = min(last, edges.last_word_end + round(AFTER_LAST_S * rate))
    return new.place(last), sides.piece.stop


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pause:
    """The pause that old sound is entered in, in samples of its take.

    Attributes
    ----------
    start : int
        Where the room begins after the last word of the old sentence.
    until : int
        So far the take is listened to.
    length_s : float or None
        How long it was; None where that is not known.
    """

    start: int
    until: int
    length_s: float | None


def _read_on(sides: _Sides, new: SpansSound, after: tuple[Span, ...]) -> int | None:
    """Give from where on the reader went on into what follows; None where they did not."""
    longest_s = _LONGER * sides.piece.length_s + _LONGER_S
    if not after or new.samples.size <= longest_s * sides.rate:
        return None
    following = first_spans(after, sides.readers, _FOLLOWS_S)
    old = spans_sound(following, sides.readers, sides.rate)
    return read_on_from(new.samples, old.samples, sides.rate)


def _pause_before(sides: _Sides, after: Span) -> _Pause:
    """Look at the pause before a span; where it goes over a join, what comes before is outside."""
    span = next(
        each
        for each in sides.whole.spans
        if each.take == after.take and each.start <= after.start < each.stop
    )
    reader = sides.readers[after.take]
    own = reader.info.sample_rate_hz
    until = min(span.stop, after.start + round(_OLD_S * own))
    begin = max(span.start, after.start - round(_OLD_S * own))
    heard = read_at(reader, begin, min(until, after.start + round(_AFTER_S * own)), sides.rate)
    structure = structure_of_sound(heard, sides.rate)
    back = round((after.start - begin) * sides.rate / own)
    left = None
    if structure is not None and back:
        left = old_side(heard, sides.rate, structure, back=back, earliest=0, until=heard.size)
    if left is None:
        return _Pause(start=span.start, until=until, length_s=None)
    start = min(begin + round(left.room_start * own / sides.rate), after.start)
    return _Pause(start=start, until=until, length_s=real_pause_s(left, sides.rate))
