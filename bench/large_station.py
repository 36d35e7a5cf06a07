"""A large station: 400 people, 200 programmes, two years of readings, made as the verbs make them.

Every reading is in the plan and in the index, and has its folder. Those of the last `FOLDER_DAYS`
days have a short take in it; older ones lie empty, since pages that look far back look into the
index alone.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from quietleaf.booth.edits import HandedIn, StateSet
from quietleaf.booth.reading import HandIn, ReadingFacts
from quietleaf.planning.assignment import Assignment, with_keys
from quietleaf.planning.booth import Booth
from quietleaf.planning.message import Message
from quietleaf.planning.programme import HOUR_SLOT_S, HOUR_WINDOW, Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import MasterRow, ReadingRow, reading_row
from quietleaf.storage.reading_folder import new_reading
from quietleaf.work.plan_station import plan_station
from quietleaf.work.tools import Tools

PEOPLE, PROGRAMMES, YEARS = 400, 200, 2
DAILY = 12
"""So many programmes air on weekdays, the others once a week: 35 a day."""
FOLDER_DAYS = 63
DAYS_AHEAD = 14
NOW = datetime(2026, 11, 25, 14, 20, tzinfo=UTC)
TODAY = NOW.date()
RATE_HZ = 48_000
_MADE = ("plan", "wave", "mp3", "report", "report-facts")


def make_large_station(data: Path, share: float = 1.0) -> Tools:
    """Make it in a folder.

    Parameters
    ----------
    share : float
        Of the days before today; programmes and people are always all.
    """
    tools = Tools(data=data, database=Database(database_url(data)), clock=lambda: NOW)
    days_back = round(365 * YEARS * share)
    station = _planned(days_back)
    plan_station(station, tools)
    titles = {programme.key: programme.title for programme in station.programmes}
    folders_from = TODAY - timedelta(days=min(FOLDER_DAYS, days_back))
    rows = []
    for number, assignment in enumerate(station.assignments):
        assert assignment.air_date is not None
        if assignment.air_date >= TODAY:
            continue
        facts = ReadingFacts(
            reading_id=f"r{number}",
            programme_key=assignment.programme_key,
            programme_title=titles[assignment.programme_key],
            publication=f"Publication {number % 50}",
            issue_date=assignment.issue_date,
            readers=assignment.readers,
            air_date=assignment.air_date,
            assignment_key=assignment.key,
        )
        if assignment.air_date >= folders_from:
            rows.append(_read(facts, tools))
        else:
            rows.append(_row(facts))
            (data / rows[-1].folder).mkdir(parents=True)
    tools.database.replace_index(rows)
    for number in range(10):
        tools.database.add_message(
            Message(
                message_id=f"m{number}",
                kind="help",
                at=NOW - timedelta(minutes=number),
                booth="booth-1",
                reader=station.readers[number],
                assignment_key=None,
                reading_id=None,
                text="",
                seen_at=None,
            )
        )
    return tools


def _planned(days_back: int) -> Station:
    publications = tuple(
        Publication(
            key=f"publication-{number}",
            title=f"Publication {number}",
            kind="newspaper",
            appears="daily",
        )
        for number in range(50)
    )
    programmes = tuple(
        Programme(
            key=f"programme-{number}",
            title=f"Programme {number}",
            publication=publications[number % 50].title,
            slot_s=HOUR_SLOT_S,
            window=HOUR_WINDOW,
            opening_words="This is {programme}, read by {reader}.",
            closing_words="That was {programme}.",
            weekdays=tuple(range(5)) if number < DAILY else (number % 7,),
            air_times=(time(6 + number % 17, 30 * (number % 2)),),
        )
        for number in range(PROGRAMMES)
    )
    readers = tuple(f"Reader {number}" for number in range(PEOPLE))
    days = [TODAY + timedelta(days=day) for day in range(-days_back, DAYS_AHEAD)]
    return Station(
        name="A large service",
        note="",
        zone="Europe/London",
        originator="A large service",
        publications=publications,
        programmes=programmes,
        readers=readers,
        booths=tuple(Booth(key=f"booth-{one}", name=f"Booth {one}") for one in range(1, 5)),
        assignments=with_keys(_assigned(programmes, readers, days)),
    )


def _assigned(
    programmes: tuple[Programme, ...], readers: tuple[str, ...], days: list[date]
) -> list[Assignment]:
    return [
        Assignment(
            programme_key=programme.key,
            issue_date=day,
            air_date=day,
            readers=(readers[(7 * number + day.toordinal()) % len(readers)],),
            booth=f"booth-{1 + number % 4}",
        )
        for day in days
        for number, programme in enumerate(programmes)
        if day.weekday() in programme.weekdays
    ]


def _read(facts: ReadingFacts, tools: Tools) -> ReadingRow:
    """Read a tenth of a second, and hand it in."""
    at = datetime.combine(facts.issue_date, time(9), UTC)
    with new_reading(tools.data, facts, at=at, author=facts.readers[0]) as folder:
        writer = folder.next_take(RATE_HZ)
        writer.append(bytes(3 * RATE_HZ // 10))
        folder.seal(writer, origin="bench", author=facts.readers[0], at=at)
        folder.append(HandedIn(hand_in=HandIn(place_page="3")), author=facts.readers[0], at=at)
        folder.append(StateSet(state="handed in", note=""), author=facts.readers[0], at=at)
    return replace(reading_row(folder), masters=_masters())


def _row(facts: ReadingFacts) -> ReadingRow:
    return ReadingRow(
        reading_id=facts.reading_id,
        programme_key=facts.programme_key,
        programme_title=facts.programme_title,
        publication=facts.publication,
        issue_date=facts.issue_date,
        readers=facts.readers,
        air_date=facts.air_date,
        folder=f"readings/{facts.programme_key}/{facts.issue_date}-{facts.reading_id}",
        state="handed in",
        revision=5,
        takes=1,
        duration_s=3400.0,
        masters=_masters(),
        assignment_key=facts.assignment_key,
        hand_in=HandIn(place_page="3"),
    )


def _masters() -> tuple[MasterRow, ...]:
    summed = {"weights": ["ear"], "things_to_hear": 2, "misfit_s": 0.0, "duration_s": 3390.0}
    return tuple(
        MasterRow(
            kind=kind,
            path=f"masters/{kind}",
            bytes=1_000_000,
            sha256="0" * 64,
            facts=summed if kind == "report" else {},
        )
        for kind in _MADE
    )
