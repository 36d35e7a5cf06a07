"""Place the joins of *again* anew: the stand's places are quick, these are chosen by listening."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from dataclasses import replace

from quietleaf.booth.edits import Again, Edit, Undo
from quietleaf.booth.replay import counting, takes
from quietleaf.errors import Conflict
from quietleaf.finishing.join_place import JoinPlace, choose_join
from quietleaf.listening.reader_pauses import (
    KNOWN_FROM,
    UNKNOWN_SIGMA,
    ReaderPauses,
    reader_pauses,
)
from quietleaf.listening.sentence_model import LIKELY
from quietleaf.listening.sentence_starts import start_sentences, step_sentences
from quietleaf.listening.structure import FRAMES_PER_S, frame_starts, structure_of_sound
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.take_reader import TakeReader
from quietleaf.work.again_sound import PLACED, lead_in_sound, old_sound
from quietleaf.work.enter import enter
from quietleaf.work.tools import Tools

AUTHOR = "Quietleaf"
INSIDE = ReaderPauses(count=0, median_s=0.25, sigma=0.3)
"""Pauses inside sentences: Campione and Véronis 2002 call those of 0.2 s and more the lasting ones;
where in that range a reader who had pressed by mistake goes on is ours."""
_BEFORE_MARK_S = 4.0
_READ_S = (12.0, 45.0)
"""So much of what is read again; more, where nobody speaks in the first."""
_PAUSES_FROM_S = 600.0
_WINDOW_S = 30.0


def place_agains(folder: ReadingFolder, take: int, tools: Tools) -> None:
    """Place each *again* of a take that is complete by listening to both of its sides.

    The new entry stands before the old one is taken back, so that nothing comes back in between.
    One that was placed, or taken back, is left as it is; asking twice changes nothing. Where
    nobody reads on, the stand's own places stay.

    Raises
    ------
    Conflict
        If the reading goes on changing at each attempt, or is cleared.
    NotFound, Damaged
        If a take is not there, or not what was written.
    """
    # An object of its own: the one that records may be used at the same moment.
    reading = ReadingFolder(folder.path)
    if any(known.take == take and known.samples is None for known in reading.takes()):
        return
    _finish_placing(reading, tools)
    waiting = _waiting(reading, take)
    if not waiting:
        return
    with ExitStack() as opened:
        readers = {
            known.take: opened.enter_context(reading.open_take(known.take))
            for known in reading.takes()
            if known.take <= take
        }
        pauses = pauses_of(readers)
        for edit in waiting:
            placed = _placed(reading, edit, readers, pauses)
            if placed is not None and placed != edit.what:
                _enter(reading, edit.number, placed, tools)


def _waiting(reading: ReadingFolder, take: int) -> list[Edit]:
    ids = {edit.edit_id for edit in reading.ledger()}
    first_take = takes(reading.standing)[take].first_take
    return [
        edit
        for edit in counting(reading.standing)
        if isinstance(edit.what, Again)
        and edit.what.take == take
        # Where a patch begins is placed with it.
        and (edit.what.back_take, edit.what.back_sample) != (first_take, 0)
        and not edit.edit_id.startswith(PLACED)
        and f"{PLACED}{edit.number}" not in ids
    ]


def _placed(
    reading: ReadingFolder, edit: Edit, readers: Mapping[int, TakeReader], pauses: ReaderPauses
) -> Again | None:
    """Choose better places; None where nobody reads on."""
    again = edit.what
    assert isinstance(again, Again)
    sound = readers[again.take]
    rate = sound.info.sample_rate_hz
    old = old_sound(reading.standing, edit, readers, rate)
    is_back = _is_taken_back(reading, again)
    begin = max(0, again.mark - round(_BEFORE_MARK_S * rate))
    until = next_mark(reading, again, sound.info.frames)
    lead_in = lead_in_sound(reading.standing, edit, readers, rate)
    left = sound.read(0, 0)[:, 0] if old is None else old.samples
    found: JoinPlace | None = None
    for read_s in _READ_S:
        stop = min(again.resume + round(read_s * rate), until)
        found = choose_join(
            left,
            sound.read(begin, stop)[:, 0],
            rate,
            back=0 if old is None else old.back,
            resume=again.resume - begin,
            earliest=0,
            mark=None if is_back else again.mark - begin,
            lead_in=lead_in,
            pauses=INSIDE if is_back else pauses,
            old_until=None if old is None or not is_back else old.back,
        )
        if found.reason != "no voice" or stop == until:
            break
    if found is None or found.reason == "no voice":
        return None
    resume = begin + found.resume
    back = (again.back_take, again.back_sample)
    if old is not None and (old.has_words or old.from_start):
        back = old.programme.place(found.back if old.has_words else 0)
    # Where the reader went on before the key of taking back was down.
    mark = min(again.mark, resume)
    back = min(back, (again.take, mark))
    return replace(again, back_take=back[0], back_sample=back[1], mark=mark, resume=resume)


def _is_taken_back(reading: ReadingFolder, again: Again) -> bool:
    """Say whether it gives back what an earlier one took: the programme goes on from that press."""
    return any(
        isinstance(other.what, Again)
        and other.number in reading.standing.undone
        and (other.what.take, other.what.mark) == (again.back_take, again.back_sample)
        and again.lead_in == 0
        for other in reading.ledger()
    )


def next_mark(reading: ReadingFolder, again: Again, frames: int) -> int:
    """Give where what was read again ends: at the next press, if there is one."""
    marks = (
        edit.what.mark
        for edit in counting(reading.standing)
        if isinstance(edit.what, Again) and edit.what.take == again.take
    )
    return min((mark for mark in marks if mark > again.resume), default=frames)


def pauses_of(readers: Mapping[int, TakeReader]) -> ReaderPauses:
    """Learn how the reader pauses.

    Parameters
    ----------
    readers : mapping of int to TakeReader
        Takes by their numbers. The last minutes count, those of earlier takes where they are
        needed.
    """
    likely: list[float] = []
    every: list[float] = []
    for take in sorted(readers, reverse=True):
        for pause_s, is_likely in _pauses_in(readers[take]):
            every.append(pause_s)
            if is_likely:
                likely.append(pause_s)
        known = reader_pauses(likely)
        if known.count >= KNOWN_FROM:
            # Sentence starts are known by their long pauses: the short ones are missing here.
            return replace(known, sigma=max(known.sigma, UNKNOWN_SIGMA))
    # Of a few sentences the pauses inside them say more than nothing.
    return reader_pauses(every)


def _pauses_in(sound: TakeReader) -> Iterator[tuple[float, bool]]:
    """Give the pauses of a take's last minutes, and whether a sentence is likely to begin there."""
    rate, frames = sound.info.sample_rate_hz, sound.info.frames
    step = round(_WINDOW_S * rate)
    memory = start_sentences(rate)
    for start in range(max(0, frames - round(_PAUSES_FROM_S * rate)), frames, step):
        heard = sound.read(start, min(start + step, frames))[:, 0]
        first = memory.samples
        found = step_sentences(memory, heard)
        places = [one.place - first for one in found if one.likelihood >= LIKELY]
        structure = structure_of_sound(heard, rate)
        if structure is None:
            continue
        starts = frame_starts(structure.level.size, rate)
        for stop, onset in zip(structure.runs[:-1, 1], structure.runs[1:, 0], strict=True):
            is_likely = any(starts[stop] <= place <= starts[onset] for place in places)
            yield float(onset - stop) / FRAMES_PER_S, is_likely


def _enter(reading: ReadingFolder, number: int, placed: Again, tools: Tools) -> None:
    """Enter the better places, unless the reader has thought better of it meanwhile."""
    if number in reading.reload().standing.undone:
        return
    new = reading.append(placed, author=AUTHOR, at=tools.clock(), edit_id=f"{PLACED}{number}")
    _take_back(reading, number, new.number, tools)


def _finish_placing(reading: ReadingFolder, tools: Tools) -> None:
    """Do what a stop left out between the two entries of a placing."""
    for edit in tuple(counting(reading.standing)):
        if isinstance(edit.what, Again) and edit.edit_id.startswith(PLACED):
            _take_back(reading, int(edit.edit_id.removeprefix(PLACED)), edit.number, tools)


def _take_back(reading: ReadingFolder, number: int, placed: int, tools: Tools) -> None:
    """Take the first entry back; if its reader did so meanwhile, the placed one goes with it."""
    if any(edit.edit_id == f"placed:{number}" for edit in reading.ledger()):
        return
    if not _undo(reading, number, f"placed:{number}", tools):
        _undo(reading, placed, f"unplaced:{number}", tools)


def _undo(reading: ReadingFolder, number: int, edit_id: str, tools: Tools) -> bool:
    """Take an entry back; False where somebody else has done so."""
    try:
        enter(reading, Undo(of=number), edit_id=edit_id, author=AUTHOR, tools=tools)
    except Conflict as changed:
        if changed.code != "ledger/undone":
            raise
        return False
    return True
