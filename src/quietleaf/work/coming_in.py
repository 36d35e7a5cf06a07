"""See what a reader finds on coming in, and settle which issue they hold."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from quietleaf.booth.corrections import note_of
from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.booth import Booth
from quietleaf.planning.coming_in import (
    Short,
    ToRead,
    has_issues,
    issues_a_paper_can_say,
    likely_issue,
    may_be_open,
    publication_of,
    reads_today,
    short_of,
    to_read,
)
from quietleaf.planning.message import Message
from quietleaf.planning.programme import Programme
from quietleaf.planning.publication import Publication, PublicationKind
from quietleaf.planning.station import Station, booth_named, programme_named
from quietleaf.planning.words import WordsFor, WordsPart, filled_parts, written_date
from quietleaf.storage.index_rows import ReadingRow
from quietleaf.storage.zones import zone_named
from quietleaf.units import Window
from quietleaf.work.enrol_booth import booth_of
from quietleaf.work.hand_in import HANDED_IN
from quietleaf.work.messages import own_message, tell_desk
from quietleaf.work.open_reading import LATE, ReadSoFar, own_assignment, parts_of, read_so_far
from quietleaf.work.place_patch import sent_back_now
from quietleaf.work.see_reader import SeenBefore, see_before
from quietleaf.work.sent_back import SentBack
from quietleaf.work.sit_down import Sitting
from quietleaf.work.tools import Tools

OLDEST_ISSUE_DAYS, NEWEST_ISSUE_DAYS = 400, 60
"""Dates on a paper that are believed: magazines are dated ahead."""
TOLD_DAYS, TOLD_MOST = 14, 3
"""Of so many readings it is told on coming in what became of them, if that was so lately."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenNames:
    """Who can sit down at a booth.

    Attributes
    ----------
    today : tuple of (str, tuple of str)
        Those who read today, with the titles of what they read.
    others : tuple of str
        Everybody else, by the alphabet.
    """

    booth: Booth
    today: tuple[tuple[str, tuple[str, ...]], ...]
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOff:
    """What the reader before left.

    Attributes
    ----------
    recap : str
        In a serial alone.
    """

    place_page: str
    place_headline: str
    recap: str
    issue_date: date
    part: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenAssignment:
    """An assignment as its reader sees it.

    Attributes
    ----------
    publication_kind : str
        ``newspaper``, ``magazine``, ``book`` or ``cuttings``.
    dated : bool
        A date stands on what is read; books and loose pages have none.
    words : int or None
        About so many words fill the window at this reader's pace; None where length is free.
    pace_measured : bool
        The pace is this reader's own.
    recorded_s : float or None
        What is recorded and not handed in; None where nothing is.
    opening, closing : tuple of WordsPart
        The words to say, with what the blanks were filled with.
    trouble : str
        Why the words cannot be written out; empty where they can.
    sent_back : tuple of SentBack
        What the desk has sent back to be read again.
    returned_note : str
        What the desk wrote when it gave the reading back; empty where it did not.
    """

    to_read: ToRead
    publication: str
    publication_kind: PublicationKind
    dated: bool
    window: Window | None
    words: int | None
    pace_measured: bool
    recorded_s: float | None
    left_off: LeftOff | None
    opening: tuple[WordsPart, ...]
    closing: tuple[WordsPart, ...]
    trouble: str
    sent_back: tuple[SentBack, ...]
    returned_note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenShort:
    """What nobody reads yet."""

    short: Short
    publication: str
    issue_date: date
    dated: bool
    window: Window | None
    words: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenToday:
    """What a reader finds on coming in.

    Attributes
    ----------
    booth_name : str
        Empty at home.
    message : Message or None
        What they told the desk just now.
    became : tuple of SeenBefore
        What became of what they handed in last, the latest air date first.
    """

    reader: str
    booth_name: str
    now: datetime
    mine: tuple[SeenAssignment, ...]
    short: tuple[SeenShort, ...]
    message: Message | None
    became: tuple[SeenBefore, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenPaper:
    """The question which issue somebody holds, and what there is to say about it.

    Attributes
    ----------
    likely : tuple of date
        What else the paper may say.
    says : date or None
        What it says, where that is not what was planned.
    read_before : tuple of ReadingRow
        What was read for the programme from the issue in question already, by whomever.
    """

    seen: SeenAssignment
    today: date
    likely: tuple[date, ...]
    says: date | None
    read_before: tuple[ReadingRow, ...]


def see_names(booth_secret: str | None, tools: Tools) -> SeenNames:
    """Gather the names that a booth shows.

    Raises
    ------
    NotAllowed
        If the browser is no booth.
    """
    booth = booth_of(booth_secret, tools)
    station = tools.database.load_station()
    zone = zone_named(station.zone)

    def is_done(assignment: Assignment, reader: str) -> bool:
        return _is_done(read_so_far(assignment, reader, tools))

    today = reads_today(station, tools.clock(), zone, is_done)
    return SeenNames(
        booth=booth,
        today=tuple(today.items()),
        others=tuple(
            sorted((name for name in station.readers if name not in today), key=str.casefold)
        ),
    )


def see_today(sitting: Sitting, message_id: str, usual_pace_wpm: float, tools: Tools) -> SeenToday:
    """Gather what a reader reads today, and what is short.

    Parameters
    ----------
    message_id : str
        Of a message whose standing is shown; empty for none.
    usual_pace_wpm : float
        Taken for a reader whose pace is not known.
    """
    station = tools.database.load_station()
    zone = zone_named(station.zone)
    now = tools.clock()
    own = {
        assignment.key: read_so_far(assignment, sitting.reader, tools)
        for assignment in station.assignments
        if sitting.reader in assignment.readers
        and may_be_open(assignment, now.astimezone(zone).date())
    }
    mine = to_read(
        station,
        sitting.reader,
        now,
        zone,
        done={key for key, so_far in own.items() if _is_done(so_far)},
        begun={key for key, so_far in own.items() if so_far.is_begun},
    )
    pace = tools.database.pace(sitting.reader)
    return SeenToday(
        reader=sitting.reader,
        booth_name=_booth_name(station, sitting.booth),
        now=now.astimezone(zone),
        mine=tuple(
            _seen(station, each, own[each.assignment.key], pace, usual_pace_wpm, tools)
            for each in mine
        ),
        short=tuple(
            _seen_short(station, each, pace or usual_pace_wpm)
            for each in short_of(station, now, zone)
        ),
        message=own_message(message_id, sitting, tools),
        became=_became(station, own.values(), now, tools),
    )


def _became(
    station: Station, own: Iterable[ReadSoFar], now: datetime, tools: Tools
) -> tuple[SeenBefore, ...]:
    """Say what became of the latest readings of a reader."""
    earliest = now - timedelta(days=TOLD_DAYS)
    done = [so_far.done for so_far in own if so_far.done is not None and not so_far.unfinished]
    latest = sorted(
        (folder for folder in done if folder.ledger()[-1].at >= earliest),
        key=lambda folder: (folder.facts.air_date or date.min, folder.ledger()[-1].at),
        reverse=True,
    )
    told = []
    for folder in latest[:TOLD_MOST]:
        # One that is not in the index yet is told of once it is.
        with suppress(NotFound):
            row = tools.database.reading(folder.facts.reading_id)
            told.append(see_before(replace(row, state=folder.state), station, now, tools))
    return tuple(told)


def see_paper(
    key: str, says: date | None, sitting: Sitting, usual_pace_wpm: float, tools: Tools
) -> SeenPaper:
    """Gather the question which issue a reader holds.

    Parameters
    ----------
    says : date or None
        What their paper says; None before they have answered.

    Raises
    ------
    NotFound, NotAllowed
        If this is not planned for them.
    Invalid
        If no paper in anybody's hand says that.
    """
    station = tools.database.load_station()
    zone = zone_named(station.zone)
    now = tools.clock()
    today = now.astimezone(zone).date()
    assignment = own_assignment(station, key, sitting)
    if says is not None:
        _refuse_far(says, today)
    so_far = read_so_far(assignment, sitting.reader, tools)
    # Asked for by itself, so that it is found whatever its day.
    found = to_read(station, sitting.reader, now, zone, begun={key})
    mine = next(each for each in found if each.assignment.key == key)
    programme = programme_named(station, assignment.programme_key)
    publication = publication_of(station, programme)
    return SeenPaper(
        seen=_seen(
            station,
            replace(mine, begun=so_far.is_begun),
            so_far,
            tools.database.pace(sitting.reader),
            usual_pace_wpm,
            tools,
        ),
        today=today,
        likely=issues_a_paper_can_say(publication, assignment.issue_date, today),
        says=None if says == assignment.issue_date else says,
        read_before=_read_before(assignment, says or assignment.issue_date, publication, tools),
    )


def read_this_issue(key: str, says: date, sitting: Sitting, tools: Tools) -> Assignment:
    """Plan the issue that a reader holds in place of the one that was planned; tell the desk.

    Raises
    ------
    NotFound, NotAllowed
        If this is not planned for them.
    Conflict
        If something was recorded already: its opening words name the issue.
    Invalid
        If no paper in anybody's hand says that, or what is read has no issues.
    """
    station = tools.database.load_station()
    today = tools.clock().astimezone(zone_named(station.zone)).date()
    planned = own_assignment(station, key, sitting)
    programme = programme_named(station, planned.programme_key)
    _refuse_far(says, today)
    if not has_issues(publication_of(station, programme)):
        raise Invalid(
            "paper/no-issues",
            f"{programme.publication} has no date printed on it. Ask the desk if it is not what "
            "lies before you.",
        )
    if any(read_so_far(planned, reader, tools).is_begun for reader in planned.readers):
        raise Conflict(
            "paper/begun",
            f"{programme.title} has been begun from the issue of "
            f"{written_date(planned.issue_date)}, and its opening words say so. Go on from that "
            "issue, or ask the desk.",
        )

    def change(station: Station) -> Station:
        own = own_assignment(station, key, sitting)
        return replace(
            station,
            assignments=tuple(
                replace(each, issue_date=says) if each is own else each
                for each in station.assignments
            ),
        )

    own = own_assignment(tools.database.change_station(change), key, sitting)
    if planned.issue_date != says:
        tell_desk(
            "issue-differs",
            sitting,
            tools,
            text=f"{programme.title} is read from the issue of {written_date(says)}; planned was "
            f"{written_date(planned.issue_date)}.",
            assignment_key=key,
        )
    return own


def ask_about_issue(key: str, says: date | None, sitting: Sitting, tools: Tools) -> Message:
    """Ask the desk which issue is to be read.

    Raises
    ------
    NotFound, NotAllowed
        If this is not planned for the reader.
    """
    station = tools.database.load_station()
    assignment = own_assignment(station, key, sitting)
    programme = programme_named(station, assignment.programme_key)
    planned = written_date(assignment.issue_date)
    text = (
        f"{sitting.reader} asks about {programme.title}: what lies there is not what is planned."
        if says is None
        else f"{sitting.reader} asks about {programme.title}: the paper says {written_date(says)}, "
        f"planned is {planned}. Nothing is recorded yet."
    )
    return tell_desk("issue-differs", sitting, tools, text=text, assignment_key=key)


def paper_missing(key: str, sitting: Sitting, tools: Tools) -> Message:
    """Tell the desk that what a reader is to read did not come.

    Raises
    ------
    NotFound, NotAllowed
        If this is not planned for them.
    """
    station = tools.database.load_station()
    assignment = own_assignment(station, key, sitting)
    programme = programme_named(station, assignment.programme_key)
    return tell_desk(
        "paper-missing",
        sitting,
        tools,
        text=f"{programme.publication} did not come; {programme.title} cannot be read yet.",
        assignment_key=key,
    )


def _seen(
    station: Station,
    each: ToRead,
    so_far: ReadSoFar,
    pace: float | None,
    usual_pace_wpm: float,
    tools: Tools,
) -> SeenAssignment:
    programme, assignment = each.programme, each.assignment
    if so_far.unfinished is not None and so_far.is_begun:
        # Its opening words were said: what is shown is what it was begun from.
        assignment = replace(assignment, issue_date=so_far.unfinished.facts.issue_date)
        each = replace(each, assignment=assignment)
    publication = publication_of(station, programme)
    opening, closing, trouble = _words(station, programme, assignment)
    return SeenAssignment(
        to_read=each,
        publication=programme.publication,
        publication_kind="newspaper" if publication is None else publication.kind,
        dated=has_issues(publication),
        window=programme.window,
        words=_words_in(programme.window, pace or usual_pace_wpm),
        pace_measured=pace is not None,
        recorded_s=_recorded_s(so_far),
        left_off=_left_off(station, programme, assignment, tools),
        opening=opening,
        closing=closing,
        trouble=trouble,
        sent_back=() if so_far.unfinished is None else sent_back_now(so_far.unfinished, tools),
        returned_note="" if so_far.unfinished is None else note_of(so_far.unfinished.standing),
    )


def _seen_short(station: Station, each: Short, pace_wpm: float) -> SeenShort:
    programme = each.programme
    return SeenShort(
        short=each,
        publication=programme.publication,
        issue_date=(
            likely_issue(station, programme, each.airs_at.date())
            if each.assignment is None
            else each.assignment.issue_date
        ),
        dated=has_issues(publication_of(station, programme)),
        window=programme.window,
        words=_words_in(programme.window, pace_wpm),
    )


def _words(
    station: Station, programme: Programme, assignment: Assignment
) -> tuple[tuple[WordsPart, ...], tuple[WordsPart, ...], str]:
    given = WordsFor(
        service=station.name,
        programme=programme.title,
        publication=programme.publication,
        issue_date=assignment.issue_date,
        readers=assignment.readers,
        part=assignment.part,
    )
    try:
        opening = filled_parts(programme.opening_words, given)
        return opening, filled_parts(programme.closing_words, given), ""
    except Invalid as refusal:
        return (), (), refusal.sentence


def _words_in(window: Window | None, pace_wpm: float) -> int | None:
    """Say how many words fill the middle of a window, to the nearest hundred or ten."""
    if window is None:
        return None
    words = (window.shortest_s + window.longest_s) / 2.0 / 60.0 * pace_wpm
    step = 100 if words >= 1000.0 else 10
    return round(words / step) * step


def _recorded_s(so_far: ReadSoFar) -> float | None:
    folder = so_far.unfinished
    if folder is None or not folder.takes():
        return None
    rates = {take.take: take.sample_rate_hz for take in folder.takes()}
    return sum((span.stop - span.start) / rates[span.take] for span in folder.timeline().spans)


def _left_off(
    station: Station, programme: Programme, assignment: Assignment, tools: Tools
) -> LeftOff | None:
    """Give what the reading before this one left; parts may be read out of order of days."""
    before = [
        row
        for row in tools.database.readings(programme_key=programme.key)
        if row.hand_in is not None and row.assignment_key != assignment.key
    ]
    if programme.serial:
        parts = parts_of(before, station, tools)
        own = assignment.part or 0
        earlier = [row for row in before if 0 < parts.get(row.reading_id, 0) < own]
        latest = max(earlier, key=lambda row: (parts[row.reading_id], row.issue_date), default=None)
        part = None if latest is None else parts[latest.reading_id]
    else:
        earlier = [row for row in before if row.issue_date <= assignment.issue_date]
        latest, part = max(earlier, key=lambda row: row.issue_date, default=None), None
    if latest is None or latest.hand_in is None:
        return None
    left = latest.hand_in
    found = LeftOff(
        place_page=left.place_page,
        place_headline=left.place_headline,
        recap=left.recap if programme.serial else "",
        issue_date=latest.issue_date,
        part=part,
    )
    return found if found.place_page or found.place_headline or found.recap else None


def _read_before(
    assignment: Assignment, issue_date: date, publication: Publication | None, tools: Tools
) -> tuple[ReadingRow, ...]:
    if not has_issues(publication):
        return ()
    return tuple(
        row
        for row in tools.database.readings(
            programme_key=assignment.programme_key, issue_date=issue_date
        )
        if row.state in HANDED_IN
        and row.assignment_key != assignment.key
        and not row.reading_id.startswith(LATE)
    )


def _refuse_far(says: date, today: date) -> None:
    if not -OLDEST_ISSUE_DAYS <= (says - today).days <= NEWEST_ISSUE_DAYS:
        raise Invalid(
            "paper/date",
            f"A paper that is read now is about a year old at most; {written_date(says)} came. "
            "Look at the date once more.",
        )


def _is_done(so_far: ReadSoFar) -> bool:
    return so_far.is_done and so_far.unfinished is None


def _booth_name(station: Station, booth: str | None) -> str:
    try:
        return "" if booth is None else booth_named(station, booth).name
    except NotFound:
        # The desk may have taken it out of the plan since it was enrolled.
        return ""
