"""Sentences read again on another day, as they come out of the real path: both joins of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from quietleaf.booth.edits import Again, Decided, Patch, StateSet
from quietleaf.booth.timeline import Place
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.place_patch import place_patch
from quietleaf.work.sent_back import SentBack, sent_back
from quietleaf.work.tools import Tools
from tests.joins import Joined, joined_at
from tests.readings import AT, folder_with
from tests.stumbles import Kind, Pause, Reading, Stumble, read_later

SPEAKS_S = 0.3
"""The place that is sent back lies so far within a stretch of speech."""


@dataclass(frozen=True, kw_only=True)
class Later:
    """A sentence that was read again."""

    folder: ReadingFolder
    piece: SentBack
    patch: Patch | None
    joins: tuple[Joined, ...]


def returned_reading(data: Path, reading: Reading, which: int, name: str) -> ReadingFolder:
    """Hand a reading in, and send back the stretch of speech after one of its pauses."""
    rate = reading.rate_hz
    folder = folder_with(data, reading.samples, sample_rate_hz=rate, name=name)
    start = reading.pauses[which].start + round(SPEAKS_S * rate)
    for what in (
        StateSet(state="handed in", note=""),
        Decided(start=(1, start), stop=(1, start + rate // 10), finding="", decision="read again"),
        StateSet(state="returned", note=""),
    ):
        folder.append(what, author="Desk", at=AT)
    return folder


def read_it_again(
    reading: Reading, which: int, kind: Kind, tools: Tools, name: str, seed: int
) -> Later | None:
    """Return a sentence, read it again, and render it; None at the ends of the reading."""
    data = tools.data
    folder = returned_reading(data, reading, which, name)
    (piece,) = sent_back(folder)
    first, last = _pause_at(reading, piece.start), _pause_at(reading, piece.stop)
    if first is None or last is None:
        return None
    take, resume, shift = read_later(reading, first, last, kind, seed)
    rate = reading.rate_hz
    writer = folder.roll(rate, author="Ada", at=AT, read_for=piece.number, first_take=2)
    writer.append(pcm24_of_samples(np.clip(take, -0.999, 0.999)))
    folder.append(
        Again(take=2, mark=0, back_take=2, back_sample=0, resume=resume, lead_in=resume),
        author="Ada",
        at=AT,
    )
    folder.seal(writer, origin="a test", author="Ada", at=AT)
    place_patch(folder, 2, tools)
    patch = next(
        (each.what for each in folder.reload().ledger() if isinstance(each.what, Patch)), None
    )
    if patch is None:
        return Later(folder=folder, piece=piece, patch=None, joins=())
    pauses = reading.pauses[first], reading.pauses[last]
    places = (
        (patch.start[1], patch.begin[1], pauses[0], _later(pauses[0], shift)),
        (patch.until[1] - shift, patch.stop[1], pauses[1], pauses[1]),
    )
    joins = tuple(
        joined_at(
            folder,
            number,
            _as_stumble(reading, kind, old, new),
            back=back,
            resume=entered,
            mastered=True,
        )
        for number, (back, entered, old, new) in enumerate(places)
    )
    return Later(folder=folder, piece=piece, patch=patch, joins=joins)


def _pause_at(reading: Reading, place: Place) -> int | None:
    """Give the pause that a place lies in."""
    around = round(0.1 * reading.rate_hz)
    return next(
        (
            index
            for index, pause in enumerate(reading.pauses)
            if pause.stop - around <= place[1] <= pause.start + around
        ),
        None,
    )


def _later(pause: Pause, shift: int) -> Pause:
    return replace(
        pause,
        stop=pause.stop + shift,
        start=pause.start + shift,
        room=pause.room + shift,
        quiet=pause.quiet + shift,
    )


def _as_stumble(reading: Reading, kind: Kind, old: Pause, new: Pause) -> Stumble:
    """Give what the measures of a join are held against: the reading itself."""
    return Stumble(
        reading=reading,
        pause=old,
        kind=kind,
        take=reading.samples,
        back=old.quiet,
        mark=0,
        resume=new.quiet,
        lead_in=np.zeros(0),
        old=old,
        new=new,
        untouched=reading.samples,
    )
