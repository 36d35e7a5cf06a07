"""Handing in, and leaving a practice, stopped anywhere: a second try finishes what was begun."""

from __future__ import annotations

import errno
import shutil
import threading
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import NoReturn

import pytest

from quietleaf.booth.edits import HandedIn
from quietleaf.booth.reading import HandIn
from quietleaf.errors import NotFound, QuietleafError
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.reading_places import folder_of
from quietleaf.work.checked_takes import checked_takes
from quietleaf.work.hand_in import hand_in
from quietleaf.work.practice import begin_practice, leave_practice, practice_folder, sweep_practice
from quietleaf.work.tools import Tools
from tests.faults.stopping import StoppingDisk, runs_until_it_succeeds
from tests.finished import NOW, example_station
from tests.handing_in import LEFT, READER, add_take, booth_reading, request_of

PLACE = "readings:t5"


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a station with a reading whose last take broke off."""
    data = tmp_path_factory.mktemp("begun") / "station"
    tools = example_station(data)
    with tools.database:
        add_take(booth_reading(tools, seconds=0.2), 0.2, seal=False)
    return data


def opened(data: Path) -> Tools:
    """Open a station's tools."""
    return Tools(data=data, database=Database(database_url(data)), clock=lambda: NOW)


def test_handing_in_is_wholly_done_or_done_by_a_second_try(begun: Path, tmp_path: Path) -> None:
    def run(_stopping: StoppingDisk, place: Path) -> None:
        data = shutil.copytree(begun, place / "station")
        tools = opened(data)
        with tools.database:
            hand_in(request_of(folder_of(data, PLACE), as_arrived=True), tools)

    outcomes = set()
    for _, place in runs_until_it_succeeds(run, tmp_path, (0.0, 1.0)):
        tools = opened(place / "station")
        with tools.database:
            folder = folder_of(tools.data, PLACE)
            outcomes.add(folder.state)
            assert folder.state in ("in the booth", "handed in")
            # Nothing is told, and nobody's sitting ended, before it is.
            assert tools.database.messages() == ()
            hand_in(request_of(folder, as_arrived=True), tools)
            folder.reload()
            assert folder.state == "handed in"
            assert [take.samples for take in folder.takes()] == [9_600, 9_600]
            assert checked_takes(folder, tools).whole
            row = tools.database.reading("t5")
            assert (row.hand_in, row.state) == (LEFT, "handed in")
            assert [message.text for message in tools.database.messages()] == [LEFT.remark]
    assert outcomes == {"in the booth", "handed in"}


def test_two_who_hand_in_at_one_moment_hand_in_once(begun: Path, tmp_path: Path) -> None:
    tools = opened(shutil.copytree(begun, tmp_path / "station"))
    with tools.database:
        together = threading.Barrier(4)

        def go(remark: str) -> None:
            asked = request_of(
                folder_of(tools.data, PLACE), left=HandIn(remark=remark), as_arrived=True
            )
            together.wait()
            for _ in range(20):
                # Who comes second may be asked to try once more.
                with suppress(QuietleafError):
                    hand_in(asked, tools)
                    return

        threads = [threading.Thread(target=go, args=(f"from {name}",)) for name in "abcd"]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        folder = folder_of(tools.data, PLACE)
        assert folder.state == "handed in"
        given = {
            edit.what.hand_in.remark for edit in folder.ledger() if isinstance(edit.what, HandedIn)
        }
        assert given
        assert {message.text for message in tools.database.messages()} == given
        assert tools.database.reading("t5").state == "handed in"


@pytest.mark.parametrize("gone", [False, True])
def test_a_leaving_that_stops_is_finished_by_the_sweep(
    begun: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gone: bool
) -> None:
    tools = opened(shutil.copytree(begun, tmp_path / "station"))
    with tools.database:
        folder = begin_practice("practice", tools)
        place = f"practice:{folder.facts.reading_id}"
        add_take(folder, 0.2)
        real = shutil.rmtree

        def stops(path: Path) -> NoReturn:
            if gone:
                real(path / "takes")
            raise OSError(errno.EIO, "it does not spin")

        with monkeypatch.context() as patched:
            patched.setattr(shutil, "rmtree", stops)
            with pytest.raises(Exception, match="did not do what was asked"):
                leave_practice(place, tools)
        # It can be opened no more, and by nobody.
        with pytest.raises(NotFound):
            practice_folder(place, tools)
        assert sweep_practice(replace(tools)) == 1
        assert list(folder.path.parent.iterdir()) == []
        assert folder_of(tools.data, PLACE).facts.readers == (READER,)
