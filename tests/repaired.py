"""A finished reading in which one dropout was repaired, for tests that compare before and now."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from quietleaf.booth.reading import ReadingFacts
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, new_reading
from quietleaf.work.finish_programme import finish_programme
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.tools import Tools
from tests.stations import STATION, WEDNESDAY
from tests.voices import RATE_HZ, reading

AT = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
FACTS = ReadingFacts(
    reading_id="r7",
    programme_key="hour",
    programme_title="The Hour",
    publication="The Post",
    issue_date=WEDNESDAY,
    readers=("Tomas Välë",),
    air_date=WEDNESDAY,
)
GAP = 240


def add_take(folder: ReadingFolder, samples: np.ndarray) -> None:
    """Seal one more take."""
    writer = folder.next_take(RATE_HZ)
    writer.append(pcm24_of_samples(samples))
    folder.seal(writer, origin="a test", author="Desk", at=AT)


@contextmanager
def repaired_station(data: Path) -> Iterator[Tools]:
    """Give a station with reading r7, 5 ms of which are missing where it is loudest."""
    samples = reading(seed=13, sentences=4).samples()
    loudest = 3 * RATE_HZ + int(np.abs(samples[3 * RATE_HZ : 6 * RATE_HZ]).argmax())
    samples[loudest : loudest + GAP] = 0.0
    with Database(database_url(data)) as database:
        database.save_station(STATION)
        tools = Tools(data=data, database=database, clock=lambda: AT)
        with new_reading(data, FACTS, at=AT, author="Desk") as folder:
            add_take(folder, samples)
        database.index_reading(reading_row(folder))
        finish_programme(FinishProgramme(source="r7"), tools)
        yield tools
