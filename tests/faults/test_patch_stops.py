"""Handing in what was read again, stopped at every write: the old sentence stands, or the new."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from quietleaf.booth.corrections import corrections, is_returned
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import folder_of
from quietleaf.work.hand_in import hand_in
from quietleaf.work.tools import Tools
from tests.faults.stopping import StoppingDisk, runs_until_it_succeeds
from tests.handing_in import request_of
from tests.readings import AT
from tests.sent_back import Stand, patches, read_later, sent_back_reading, spans
from tests.stations_served import opened_station


def opened(data: Path) -> Tools:
    """Open a station's tools."""
    return Tools(data=data, database=Database(database_url(data)), clock=lambda: AT)


@pytest.mark.long
def test_the_new_sentence_is_in_its_place_or_is_put_there_by_a_second_try(tmp_path: Path) -> None:
    # As if the station had been killed before it could listen to what was read.
    read = tmp_path / "read"
    made = sent_back_reading(read, 4)
    whole = spans(made.folder)
    with opened_station(read) as tools:
        Stand(made.folder, tools, listens=False).read(made.numbers[4], read_later().samples())
    assert spans(made.folder) == whole

    def run(_stopping: StoppingDisk, place: Path) -> None:
        tools = opened(shutil.copytree(read, place / "station"))
        with tools.database:
            hand_in(request_of(folder_of(tools.data, "readings:r7")), tools)

    outcomes = set()
    for _, place in runs_until_it_succeeds(run, tmp_path, (1.0,)):
        tools = opened(place / "station")
        with tools.database:
            folder: ReadingFolder = folder_of(tools.data, "readings:r7")
            outcomes.add((len(patches(folder)), folder.state))
            assert patches(folder) or spans(folder) == whole
            hand_in(request_of(folder), tools)
            assert folder.reload().state == "handed in"
            assert not is_returned(folder.standing)
            assert [take for take, _, _ in spans(folder)] == [1, 2, 1]
            assert len(patches(folder)) == 1
            assert all(one.patch is not None for one in corrections(folder.standing))
    assert outcomes == {(0, "in the booth"), (1, "in the booth"), (1, "handed in")}
