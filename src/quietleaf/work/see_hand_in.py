"""See what is handed in: the reading so far, its closing words, and how far the copy is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from quietleaf.booth.edits import WordsBegun
from quietleaf.booth.reading import HandIn, ReadingState
from quietleaf.booth.replay import counting, hand_in
from quietleaf.errors import Invalid, NotFound
from quietleaf.planning.programme import Programme
from quietleaf.planning.station import Station, programme_named
from quietleaf.planning.words import fill_words
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import folder_of
from quietleaf.storage.take_sums import count_samples, read_sums
from quietleaf.units import Window
from quietleaf.work.reading_words import words_for
from quietleaf.work.tools import Tools


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenTake:
    """A take that has not come to its end, as far as the station has it."""

    take: int
    length_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CopySeen:
    """How far the station's copy of a reading is.

    Attributes
    ----------
    takes : int
        Complete ones.
    held_s : float
        All that is on the station's disk, with what is outside the programme.
    open_takes : tuple of OpenTake
        Takes whose end the station has not heard of yet.
    """

    takes: int
    held_s: float
    open_takes: tuple[OpenTake, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenHandIn:
    """What the page of handing in shows.

    Attributes
    ----------
    closing_words : str
        Written out; empty where the programme has none.
    closing_marked : bool
        The reader marked where they begin.
    length_s : float
        Of the programme as it stands.
    before : HandIn or None
        What was left the last time, where the reading came back.
    """

    reading_id: str
    programme_title: str
    issue_date: date
    serial: bool
    part: int | None
    closing_words: str
    closing_marked: bool
    length_s: float
    window: Window | None
    tidy_list: tuple[str, ...]
    copy: CopySeen
    before: HandIn | None
    state: ReadingState


def see_hand_in(place: str, tools: Tools) -> SeenHandIn:
    """Gather what the page of handing in shows.

    Raises
    ------
    NotFound
        If there is no such reading.
    """
    folder = folder_of(tools.data, place)
    station = tools.database.load_station()
    programme = _programme(folder, station)
    return SeenHandIn(
        reading_id=folder.facts.reading_id,
        programme_title=folder.facts.programme_title,
        issue_date=folder.facts.issue_date,
        serial=programme is not None and programme.serial,
        part=folder.facts.part,
        closing_words=_closing_words(folder, programme, station),
        closing_marked=any(
            isinstance(edit.what, WordsBegun) and edit.what.which == "closing"
            for edit in counting(folder.standing)
        ),
        length_s=length_of(folder),
        window=programme.window if programme else None,
        tidy_list=station.tidy_list,
        copy=copy_of(folder),
        before=hand_in(folder.standing),
        state=folder.state,
    )


def see_copy(place: str, tools: Tools) -> CopySeen:
    """Say how far the station's copy of a reading is."""
    return copy_of(folder_of(tools.data, place))


def copy_of(folder: ReadingFolder) -> CopySeen:
    """Say how far the station's copy of a reading is; of an open take what is confirmed counts."""
    held_s = 0.0
    open_takes: list[OpenTake] = []
    for take in folder.takes():
        samples = take.samples
        if samples is None:
            samples = count_samples(read_sums(folder.take_path(take.take)))
            open_takes.append(OpenTake(take=take.take, length_s=samples / take.sample_rate_hz))
        held_s += samples / take.sample_rate_hz
    return CopySeen(
        takes=len(folder.takes()) - len(open_takes), held_s=held_s, open_takes=tuple(open_takes)
    )


def length_of(folder: ReadingFolder) -> float:
    """Give the length of a reading as it stands, in seconds; its takes are not opened."""
    rates = {take.take: take.sample_rate_hz for take in folder.takes()}
    return sum((span.stop - span.start) / rates[span.take] for span in folder.timeline().spans)


def _programme(folder: ReadingFolder, station: Station) -> Programme | None:
    try:
        return programme_named(station, folder.facts.programme_key)
    except NotFound:
        # It was taken out of the plan while it was being read.
        return None


def _closing_words(folder: ReadingFolder, programme: Programme | None, station: Station) -> str:
    if programme is None or not programme.closing_words:
        return ""
    given = words_for(folder.facts, programme.title, station)
    try:
        return fill_words(programme.closing_words, given)
    except Invalid:
        # The plan was changed meanwhile: no words are better than none of this page.
        return ""
