"""Deciding, clearing, returning and taking back, stopped at every write: wholly before or after."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.booth.edits import Decided
from quietleaf.booth.replay import Standing
from quietleaf.errors import Conflict, Unavailable
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.reading_folder import find_reading
from quietleaf.work.clear_reading import clear_reading, return_reading
from quietleaf.work.decide import AtTheDesk, decide, observe, take_back
from quietleaf.work.see_day import see_day
from quietleaf.work.see_review import see_review
from quietleaf.work.tools import Tools
from tests.faults.stopping import StoppingDisk, runs_until_it_succeeds
from tests.finished import DAY, NOW, bring_reading, example_station, finish_reading
from tests.unit.work.test_decide import READY

ID = "k3f9"
Wish = Callable[[AtTheDesk, Tools], object]


def a_decision(desk: AtTheDesk, tools: Tools) -> object:
    thing = see_review(ID, desk.who, tools).things[0]
    what = Decided(start=thing.start, stop=thing.stop, finding="restart", decision="read again")
    return decide(desk, what, tools)


def clear_what_is_heard(desk: AtTheDesk, tools: Tools) -> object:
    return clear_reading(desk, tools, heard=see_review(ID, desk.who, tools).heard.key)


WISHES: dict[str, Wish] = {
    "decide": a_decision,
    "observe": lambda desk, tools: observe(desk, 3.0, "A good pace.", tools),
    "clear": clear_what_is_heard,
    "return": lambda desk, tools: return_reading(desk, "The closing words are missing.", tools),
    "take back": lambda desk, tools: take_back(desk, desk.revision, tools),
}


@pytest.fixture(scope="module")
def decided(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a station with a reading of which all is decided."""
    data = tmp_path_factory.mktemp("decided") / "station"
    tools = example_station(data)
    with tools.database:
        finish_reading(tools, bring_reading(tools), READY)
        for number, thing in enumerate(see_review(ID, "Ida", tools).things):
            what = Decided(
                start=thing.start, stop=thing.stop, finding=thing.finding, decision="leave"
            )
            decide(desk_of(tools, f"d{number}"), what, tools)
    return data


def opened(data: Path) -> Tools:
    return Tools(data=data, database=Database(database_url(data)), clock=lambda: NOW)


def desk_of(tools: Tools, asked_id: str) -> AtTheDesk:
    revision = find_reading(tools.data, ID).revision
    return AtTheDesk(reading_id=ID, who="Ida", revision=revision, asked_id=asked_id)


@pytest.mark.parametrize("name", list(WISHES))
def test_a_stop_anywhere_leaves_it_wholly_before_or_after(
    decided: Path, tmp_path: Path, name: str
) -> None:
    wish = WISHES[name]
    before = find_reading(decided, ID).standing

    def run(_stopping: StoppingDisk, place: Path) -> None:
        tools = opened(shutil.copytree(decided, place / "station"))
        with tools.database:
            wish(desk_of(tools, "wished"), tools)

    after: set[Standing] = set()
    for _, place in runs_until_it_succeeds(run, tmp_path):
        tools = opened(place / "station")
        with tools.database:
            standing = find_reading(tools.data, ID).standing
            assert standing.edits[: before.revision] == before.edits
            assert standing.revision in (before.revision, before.revision + 1)
            _index_says_what_the_folder_says(tools)
            # Whoever tries again with what they had before them finishes it, once.
            wish(replace(desk_of(tools, "wished"), revision=before.revision), tools)
            assert find_reading(tools.data, ID).revision == before.revision + 1
            _index_says_what_the_folder_says(tools)
            after.add(standing)
    assert {one.revision for one in after} == {before.revision, before.revision + 1}


@pytest.mark.parametrize("name", list(WISHES))
def test_an_index_that_does_not_answer_is_told_later(
    decided: Path, tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    tools = opened(shutil.copytree(decided, tmp_path / "station"))
    with tools.database:

        def fails(_row: object) -> None:
            raise Unavailable("database/away", "It does not answer.")

        desk = desk_of(tools, "wished")
        with monkeypatch.context() as patched:
            patched.setattr(tools.database, "index_reading", fails)
            with pytest.raises(Unavailable):
                WISHES[name](desk, tools)
        assert find_reading(tools.data, ID).revision == desk.revision + 1
        see_day(DAY, tools)
        _index_says_what_the_folder_says(tools)


def test_two_who_decide_at_one_moment(decided: Path, tmp_path: Path) -> None:
    tools = opened(shutil.copytree(decided, tmp_path / "station"))
    with tools.database:
        first, second = desk_of(tools, "one"), replace(desk_of(tools, "two"), who="Tom")
        clear_what_is_heard(first, tools)
        with pytest.raises(Conflict, match=r"Ida came before.*the reading is cleared"):
            return_reading(second, "Once more.", tools)
        assert find_reading(tools.data, ID).state == "cleared"


def _index_says_what_the_folder_says(tools: Tools) -> None:
    """Hold what the day shows of the reading, which looks at the end of its ledger, against it."""
    folder = find_reading(tools.data, ID)
    shown = [one for slot in see_day(DAY, tools).slots for one in slot.readings]
    assert [one.state for one in shown] == [folder.state]
    assert tools.database.reading(ID).revision == folder.revision
