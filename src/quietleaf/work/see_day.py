"""See a day: what is planned, who reads it, how far each reading is, and what the desk is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo

from quietleaf.errors import NotFound, QuietleafError
from quietleaf.planning.check_station import FIRST_DAY, LAST_DAY
from quietleaf.planning.day import Slot, nearest_assigned_day, slots_of_day
from quietleaf.planning.message import Message, MessageKind
from quietleaf.planning.programme import USUAL_REVIEW
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station, programme_named
from quietleaf.storage.index_rows import recorded_row
from quietleaf.storage.reading_places import READINGS, folder_of, place_of
from quietleaf.storage.zones import zone_named
from quietleaf.work.recorders import WriterSeen
from quietleaf.work.see_disk import DiskSeen, see_disk
from quietleaf.work.summary import Summary, summary_of
from quietleaf.work.told_index import row_as_it_is
from quietleaf.work.tools import Tools

WriterOf = Callable[[str], WriterSeen | None]
"""Says who records the reading at a place just now."""


def nobody(_place: str) -> WriterSeen | None:
    """Say that nobody records anything."""
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenWriter:
    """Somebody who is recording just now.

    Attributes
    ----------
    where : str
        The booth's name; empty at home.
    is_rolling : bool
        False while held.
    """

    reader: str
    where: str
    is_rolling: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenMessage:
    """A message to the desk that nobody has seen yet.

    Attributes
    ----------
    at : datetime
        Aware, in the station's zone.
    where : str
        The booth's name; empty from home.
    programme_title : str
        Of the assignment that it is about; empty where that is not known.
    """

    message_id: str
    kind: MessageKind
    at: datetime
    where: str
    reader: str
    programme_title: str
    reading_id: str | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenSlot:
    """A slot as the desk sees it.

    Attributes
    ----------
    starts_at, ends_at : datetime
        Aware, in the station's zone.
    issue_date : date or None
        None where nothing is assigned.
    readers : tuple of str
        Empty is a hole.
    has_begun, is_over : bool
        Its time on air has come; has passed.
    readings : tuple of Summary
        What was read for it, the newest first.
    assignment_key : str or None
        None where nothing is assigned.
    writer : SeenWriter or None
        Who records the newest reading just now.
    """

    starts_at: datetime
    ends_at: datetime
    programme_key: str
    programme_title: str
    publication: Publication
    issue_date: date | None
    part: int | None
    readers: tuple[str, ...]
    has_begun: bool
    is_over: bool
    readings: tuple[Summary, ...]
    assignment_key: str | None
    writer: SeenWriter | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenDay:
    """A day as the desk sees it.

    Attributes
    ----------
    now : datetime or None
        The present moment in the station's zone; None on another day.
    begun : int
        How many of the slots have begun: the present moment lies after so many.
    before, after : date or None
        The days beside it; None at the ends of the calendar.
    nearest : date or None
        Where nothing is assigned on this day: the nearest day that has an assignment.
    messages : tuple of SeenMessage
        What the desk was told and has not seen, oldest first; on every day.
    disk : DiskSeen
        For how long there is room.
    """

    station_name: str
    station_note: str
    day: date
    today: date
    now: datetime | None
    begun: int
    before: date | None
    after: date | None
    slots: tuple[SeenSlot, ...]
    nearest: date | None
    messages: tuple[SeenMessage, ...]
    disk: DiskSeen


def see_day(day: date | None, tools: Tools, writer_of: WriterOf = nobody) -> SeenDay:
    """Gather what the board of a day shows; None is today in the station's zone.

    Parameters
    ----------
    writer_of : callable
        Asked for each reading that is in the booth.

    Raises
    ------
    NotFound
        If no station is planned here yet, or the day is out of reach.
    """
    station = tools.database.load_station()
    zone = zone_named(station.zone)
    now = tools.clock()
    today = now.astimezone(zone).date()
    shown = today if day is None else day
    if not FIRST_DAY <= shown <= LAST_DAY:
        raise NotFound(
            "day/out-of-reach",
            f"Days can be looked at from {FIRST_DAY.year} to {LAST_DAY.year}; "
            f"{shown.isoformat()} is out of reach.",
        )
    slots = _seen_slots(station, shown, zone, now, tools, writer_of)
    assigned = any(slot.readers for slot in slots)
    return SeenDay(
        station_name=station.name,
        station_note=station.note,
        day=shown,
        today=today,
        now=now.astimezone(zone) if shown == today else None,
        begun=sum(slot.starts_at.astimezone(UTC) <= now for slot in slots),
        before=shown - timedelta(days=1) if shown > FIRST_DAY else None,
        after=shown + timedelta(days=1) if shown < LAST_DAY else None,
        slots=slots,
        nearest=None if assigned else nearest_assigned_day(station, shown),
        messages=tuple(
            _seen_message(message, station, zone)
            for message in tools.database.messages(open_only=True)
        ),
        disk=see_disk(tools),
    )


def _seen_slots(
    station: Station,
    day: date,
    zone: tzinfo,
    now: datetime,
    tools: Tools,
    writer_of: WriterOf,
) -> tuple[SeenSlot, ...]:
    publications = {publication.title: publication for publication in station.publications}
    booths = {booth.key: booth.name for booth in station.booths}
    reviews = {programme.key: programme.review for programme in station.programmes}
    read: dict[str, list[Summary]] = {}
    writers: dict[str, SeenWriter] = {}
    for indexed in tools.database.readings(air_date=day):
        row = row_as_it_is(indexed, tools)
        summary = summary_of(row, reviews.get(row.programme_key, USUAL_REVIEW))
        place = place_of(READINGS, row.reading_id)
        if row.state == "in the booth" and (writer := writer_of(place)) is not None:
            summary = replace(summary, duration_s=_recorded_s(place, summary.duration_s, tools))
            writers[row.reading_id] = SeenWriter(
                reader=writer.reader,
                where=booths.get(writer.booth or "", ""),
                is_rolling=writer.is_rolling,
            )
        read.setdefault(row.programme_key, []).insert(0, summary)
    seen = []
    for slot in slots_of_day(station, day, zone):
        readings = tuple(read.get(slot.programme.key, ()))
        seen.append(
            _seen_slot(
                slot,
                publications[slot.programme.publication],
                readings,
                now,
                writers.get(readings[0].reading_id) if readings else None,
            )
        )
    return tuple(seen)


def _seen_slot(
    slot: Slot,
    publication: Publication,
    readings: tuple[Summary, ...],
    now: datetime,
    writer: SeenWriter | None,
) -> SeenSlot:
    assignment = slot.assignment
    readers = readings[0].readers if readings else assignment.readers if assignment else ()
    issue_date = (
        readings[0].issue_date if readings else assignment.issue_date if assignment else None
    )
    return SeenSlot(
        starts_at=slot.starts_at,
        ends_at=slot.ends_at,
        programme_key=slot.programme.key,
        programme_title=slot.programme.title,
        publication=publication,
        issue_date=issue_date,
        part=assignment.part if assignment else None,
        readers=readers,
        has_begun=slot.starts_at.astimezone(UTC) <= now,
        is_over=slot.ends_at.astimezone(UTC) <= now,
        readings=readings,
        assignment_key=assignment.key if assignment else None,
        writer=writer,
    )


def _recorded_s(place: str, indexed_s: float, tools: Tools) -> float:
    """Give how much is on the disk by now; the index hears of it at the end of a take alone."""
    try:
        return recorded_row(folder_of(tools.data, place)).duration_s
    except QuietleafError:
        # What the recorder writes at this moment may be half a line; the index will do.
        return indexed_s


def _seen_message(message: Message, station: Station, zone: tzinfo) -> SeenMessage:
    booths = {booth.key: booth.name for booth in station.booths}
    titles = (
        programme_named(station, one.programme_key).title
        for one in station.assignments
        if one.key == message.assignment_key
    )
    return SeenMessage(
        message_id=message.message_id,
        kind=message.kind,
        at=message.at.astimezone(zone),
        where=booths.get(message.booth or "", ""),
        reader=message.reader,
        programme_title=next(titles, ""),
        reading_id=message.reading_id,
        text=message.text,
    )
