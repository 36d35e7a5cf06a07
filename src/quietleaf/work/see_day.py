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


LATE_AFTER = timedelta(minutes=15)
"""So long after the time that was agreed nobody has begun: somebody should ask. Ours."""
LATE_BEFORE = timedelta(hours=1)
"""So long before its time on air a programme should be in. Ours."""
CAME_IN_MOST = 20
"""What came in is listed up to so many; the day itself tells the rest."""


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
    assignment_key: str | None
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
    reads_at : datetime or None
        When it was agreed to be read, in the station's zone.
    is_late : bool
        It should be in, or begun, by now, and can still be helped.
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
    reads_at: datetime | None
    is_late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CameIn:
    """A reading that was handed in while one did not look.

    Attributes
    ----------
    at : datetime
        Aware, in the station's zone.
    """

    summary: Summary
    at: datetime


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
    tomorrow : tuple of SeenSlot
        Of today's board alone; empty where nothing airs.
    since : datetime or None
        From when on `came_in` tells, in the station's zone; None where nobody looked before.
    came_in : tuple of CameIn
        What was handed in since, for whichever day, the last first; at most `CAME_IN_MOST`.
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
    tomorrow: tuple[SeenSlot, ...]
    since: datetime | None
    came_in: tuple[CameIn, ...]


def see_day(
    day: date | None,
    tools: Tools,
    writer_of: WriterOf = nobody,
    since: datetime | None = None,
) -> SeenDay:
    """Gather what the board of a day shows; None is today in the station's zone.

    Parameters
    ----------
    writer_of : callable
        Asked for each reading that is in the booth.
    since : datetime or None
        When whoever asks looked last, aware.

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
    for asked in (shown, shown if since is None else since.date()):
        if not FIRST_DAY <= asked <= LAST_DAY:
            raise NotFound(
                "day/out-of-reach",
                f"Days can be looked at from {FIRST_DAY.year} to {LAST_DAY.year}; "
                f"{asked.isoformat()} is out of reach.",
            )
    after = shown + timedelta(days=1) if shown < LAST_DAY else None
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
        after=after,
        slots=slots,
        nearest=None if assigned else nearest_assigned_day(station, shown),
        messages=tuple(
            _seen_message(message, station, zone)
            for message in tools.database.messages(open_only=True)
        ),
        disk=see_disk(tools),
        tomorrow=(
            _seen_slots(station, after, zone, now, tools, writer_of)
            if shown == today and after is not None
            else ()
        ),
        since=None if since is None else since.astimezone(zone),
        came_in=() if since is None else _came_in(since, station, zone, tools),
    )


def _came_in(since: datetime, station: Station, zone: tzinfo, tools: Tools) -> tuple[CameIn, ...]:
    reviews = {programme.key: programme.review for programme in station.programmes}
    return tuple(
        CameIn(
            summary=summary_of(row, reviews.get(row.programme_key, USUAL_REVIEW)),
            at=row.came_in_at.astimezone(zone),
        )
        for row in tools.database.came_in(since, CAME_IN_MOST)
        if row.came_in_at is not None
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
                zone,
                writers.get(readings[0].reading_id) if readings else None,
            )
        )
    return tuple(seen)


def _seen_slot(
    slot: Slot,
    publication: Publication,
    readings: tuple[Summary, ...],
    now: datetime,
    zone: tzinfo,
    writer: SeenWriter | None,
) -> SeenSlot:
    assignment = slot.assignment
    reads_at = assignment.reads_at if assignment else None
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
        reads_at=None if reads_at is None else reads_at.astimezone(zone),
        is_late=_is_late(slot, reads_at, readings[0] if readings else None, now),
    )


def _is_late(slot: Slot, reads_at: datetime | None, newest: Summary | None, now: datetime) -> bool:
    if slot.starts_at.astimezone(UTC) <= now or slot.is_hole:
        return False  # what is on the air, or over, is told as that; a hole as a hole
    if newest is not None and newest.state not in ("in the booth", "returned"):
        return False
    airs_soon = slot.starts_at.astimezone(UTC) - now <= LATE_BEFORE
    return airs_soon or (newest is None and reads_at is not None and now - reads_at >= LATE_AFTER)


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
        assignment_key=message.assignment_key,
        reading_id=message.reading_id,
        text=message.text,
    )
