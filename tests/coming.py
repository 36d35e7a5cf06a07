"""A station whose clock can be moved, for those who come in."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from quietleaf.booth.edits import HandedIn, StateSet
from quietleaf.booth.reading import HandIn, ReadingState
from quietleaf.planning.booth import Booth
from quietleaf.planning.station import Station
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.station_file import read_station
from quietleaf.work.enrol_booth import enrol_booth, make_enrolment
from quietleaf.work.open_reading import open_reading
from quietleaf.work.plan_station import plan_station
from quietleaf.work.sit_down import Sitting, new_sitting, sitting_of
from quietleaf.work.tools import Tools
from tests.finished import EXAMPLE, NOW
from tests.readings import noise

RATE_HZ = 48_000
BOOTH = Booth(key="booth-1", name="Booth 1")


@dataclass
class Clock:
    """A clock that stands still until it is moved."""

    at: datetime = NOW

    def __call__(self) -> datetime:
        return self.at

    def move(self, **by: float) -> None:
        """Move it on, as `timedelta` has it."""
        self.at += timedelta(**by)


@contextmanager
def coming_station(data: Path, clock: Clock, station: Station | None = None) -> Iterator[Tools]:
    """Plan the example station, or another, in a folder."""
    with Database(database_url(data)) as database:
        tools = Tools(data=data, database=database, clock=clock)
        plan_station(station or read_station(EXAMPLE), tools)
        yield tools


def enrolled(tools: Tools, booth: str = BOOTH.key) -> str:
    """Enrol a booth; give its browser's secret."""
    _, secret = enrol_booth(make_enrolment(booth, tools), tools)
    return secret


def sat(tools: Tools, reader: str, booth: str | None = BOOTH.key) -> Sitting:
    """Let a reader sit down."""
    return sitting_of(new_sitting(reader, tools, booth=booth), tools)


def record(folder: ReadingFolder, tools: Tools, seconds: float = 1.0) -> None:
    """Put a sealed take into a reading."""
    writer = folder.next_take(RATE_HZ)
    writer.append(pcm24_of_samples(noise(int(seconds * RATE_HZ))))
    folder.seal(writer, origin="a test", author="Desk", at=tools.clock())
    tools.database.index_reading(reading_row(folder))


def handed_in(
    tools: Tools,
    key: str,
    reader: str,
    left: HandIn | None = None,
    state: ReadingState = "handed in",
    note: str = "",
) -> ReadingFolder:
    """Read an assignment and hand it in; take it on to another state if asked."""
    folder = open_reading(key, sat(tools, reader), tools).folder
    record(folder, tools)
    folder.append(HandedIn(hand_in=left or HandIn()), author=reader, at=tools.clock())
    folder.append(StateSet(state="handed in", note=""), author=reader, at=tools.clock())
    steps: dict[ReadingState, tuple[ReadingState, ...]] = {
        "handed in": (),
        "returned": ("returned",),
        "cleared": ("cleared",),
        "placed": ("cleared", "placed"),
        "aired": ("cleared", "placed", "aired"),
    }
    for step in steps[state]:
        folder.append(StateSet(state=step, note=note), author="Desk", at=tools.clock())
    tools.database.index_reading(reading_row(folder))
    return folder
