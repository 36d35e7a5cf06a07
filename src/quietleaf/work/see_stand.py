"""See the stand: all that a reader has before them while reading."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from quietleaf.booth.admission import SETTLED
from quietleaf.booth.edits import WhichWords, WordsBegun
from quietleaf.booth.reading import HandIn, ReadingFacts
from quietleaf.booth.replay import counting
from quietleaf.errors import Conflict, NotFound
from quietleaf.planning.day import slots_of_day
from quietleaf.planning.programme import Programme
from quietleaf.planning.station import Station, booth_named, programme_named
from quietleaf.planning.words import WordsPart, filled_parts
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import PRACTICE, folder_of
from quietleaf.storage.zones import zone_named
from quietleaf.units import Window
from quietleaf.work.open_reading import parts_of
from quietleaf.work.place_patch import sent_back_now
from quietleaf.work.practice_words import PracticePage, practice_of
from quietleaf.work.reading_words import words_for
from quietleaf.work.sent_back import SentBack
from quietleaf.work.tools import Tools


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenStand:
    """What the stand shows of one reading.

    Attributes
    ----------
    place : str
        ``readings:<id>`` or ``practice:<id>``.
    readers : tuple of str
        Everybody who reads it.
    reader : str
        Who sits here.
    booth_name : str
        Empty at home.
    today : date
        In the station's zone.
    airs_at : datetime or None
        The first time on its air date, in the station's zone.
    opening, closing : tuple of WordsPart
        The words to say, with what the blanks were filled with; empty where there are none.
    left_off : HandIn or None
        What the reader of the part before left; serials alone.
    pages : tuple of PracticePage
        What is read aloud; in practice alone.
    window : Window or None
        None where length is free: no clock is shown then.
    pace_wpm : float
        Words a minute of the reader who sits here, or the usual pace.
    pace_measured : bool
        Whether it is this reader's own.
    recorded_s : float
        Length of the reading as it stands.
    takes, articles : int
        How many there are already.
    words_begun : frozenset of str
        Which of the fixed words have been read.
    sent_back : tuple of SentBack
        What the desk has sent back to be read again; then that alone is read.
    """

    station_name: str
    station_note: str
    place: str
    programme_title: str
    publication: str
    issue_date: date
    part: int | None
    readers: tuple[str, ...]
    reader: str
    booth_name: str
    today: date
    airs_at: datetime | None
    opening: tuple[WordsPart, ...]
    closing: tuple[WordsPart, ...]
    left_off: HandIn | None
    pages: tuple[PracticePage, ...]
    window: Window | None
    pace_wpm: float
    pace_measured: bool
    recorded_s: float
    takes: int
    articles: int
    words_begun: frozenset[WhichWords]
    sent_back: tuple[SentBack, ...] = ()

    @property
    def is_practice(self) -> bool:
        """Say whether this is never aired."""
        return self.place.startswith(f"{PRACTICE}:")


def see_stand(
    place: str, reader: str, booth: str | None, usual_pace_wpm: float, tools: Tools
) -> SeenStand:
    """Gather what the stand shows.

    Parameters
    ----------
    place : str
        Where the reading lies: ``readings:<id>`` or ``practice:<id>``.
    reader : str
        Who sits at the stand.
    booth : str or None
        Key of the booth; None at home.
    usual_pace_wpm : float
        Taken for a reader whose pace is not known.

    Raises
    ------
    NotFound
        If nothing is at this place (any more).
    Conflict
        If the reading is done with: cleared for the air, or on it.
    """
    station = tools.database.load_station()
    folder = folder_of(tools.data, place)
    if folder.state in SETTLED:
        raise Conflict(
            "stand/closed",
            f"This reading of {folder.facts.programme_title} is {folder.state}, and nothing is "
            "recorded into it any more. If it needs mending, ask the desk to return it.",
        )
    facts = folder.facts
    programme = _programme(station, facts)
    timeline = folder.timeline()
    rates = {take.take: take.sample_rate_hz for take in folder.takes()}
    pace = tools.database.pace(reader)
    practice = practice_of(facts, station.name)
    if practice is None:
        opening, closing = _words(station, programme, facts)
    else:
        opening, closing = _plain(practice.opening_words), _plain(practice.closing_words)
    now = tools.clock().astimezone(zone_named(station.zone))
    return SeenStand(
        station_name=station.name,
        station_note=station.note,
        place=place,
        programme_title=facts.programme_title,
        publication=facts.publication,
        issue_date=facts.issue_date,
        part=facts.part,
        readers=facts.readers,
        reader=reader,
        booth_name=_booth_name(station, booth),
        today=now.date(),
        airs_at=_airs_at(station, facts),
        opening=opening,
        closing=closing,
        left_off=_left_off(programme, facts, station, tools),
        pages=practice.pages if practice else (),
        window=programme.window if programme else None,
        pace_wpm=usual_pace_wpm if pace is None else pace,
        pace_measured=pace is not None,
        recorded_s=sum((span.stop - span.start) / rates[span.take] for span in timeline.spans),
        takes=len(rates),
        articles=len(timeline.articles),
        words_begun=_words_begun(folder),
        sent_back=sent_back_now(folder, tools),
    )


def _programme(station: Station, facts: ReadingFacts) -> Programme | None:
    try:
        return programme_named(station, facts.programme_key)
    except NotFound:
        # Practice has none, and one may have left the plan while its reading was open.
        return None


def _booth_name(station: Station, booth: str | None) -> str:
    try:
        return "" if booth is None else booth_named(station, booth).name
    except NotFound:
        # The desk may have taken it out of the plan since it was enrolled.
        return ""


def _words(
    station: Station, programme: Programme | None, facts: ReadingFacts
) -> tuple[tuple[WordsPart, ...], tuple[WordsPart, ...]]:
    if programme is None:
        return (), ()
    given = words_for(facts, facts.programme_title, station)
    opening = filled_parts(programme.opening_words, given)
    return opening, filled_parts(programme.closing_words, given)


def _plain(words: str) -> tuple[WordsPart, ...]:
    return (WordsPart(text=words, filled=False),) if words else ()


def _airs_at(station: Station, facts: ReadingFacts) -> datetime | None:
    if facts.air_date is None:
        return None
    slots = slots_of_day(station, facts.air_date, zone_named(station.zone))
    return next(
        (slot.starts_at for slot in slots if slot.programme.key == facts.programme_key), None
    )


def _left_off(
    programme: Programme | None, facts: ReadingFacts, station: Station, tools: Tools
) -> HandIn | None:
    """Give what the last part before this one left; parts may be read out of order of days."""
    if programme is None or not programme.serial or facts.part is None:
        return None
    handed_in = [
        row
        for row in tools.database.readings(programme_key=programme.key)
        if row.hand_in is not None and row.reading_id != facts.reading_id
    ]
    parts = parts_of(handed_in, station, tools)
    earlier = [row for row in handed_in if parts.get(row.reading_id, facts.part) < facts.part]
    # The rows come by issue date: of two readings of one part the later counts.
    latest = max(reversed(earlier), key=lambda row: parts[row.reading_id], default=None)
    return None if latest is None else latest.hand_in


def _words_begun(folder: ReadingFolder) -> frozenset[WhichWords]:
    return frozenset(
        edit.what.which for edit in counting(folder.standing) if isinstance(edit.what, WordsBegun)
    )
