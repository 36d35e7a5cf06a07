"""A station throws the example away and works with its own; nothing is destroyed."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from quietleaf.errors import Conflict, Invalid, Unavailable
from quietleaf.planning.message import Message
from quietleaf.storage import disk
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.tokens import Token
from quietleaf.work.own_station import OwnStation, describe_station, is_example, own_station
from quietleaf.work.recorders import WriterSeen
from quietleaf.work.see_day import nobody
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station, finished_station

OWN = OwnStation(
    name="Fenmouth Talking Pages", place="Fenmouth", zone="Europe/Paris", originator="Fenmouth"
)


def files_under(folder: Path) -> dict[str, bytes]:
    """Give every file's bytes by its path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_where_nothing_is_yet_a_station_begins(tmp_path: Path) -> None:
    with Database(database_url(tmp_path)) as database:
        tools = Tools(data=tmp_path, database=database, clock=lambda: NOW)
        begun = own_station(OWN, nobody, tools)
        station = database.load_station()
    assert begun.put_away is None
    assert (station.name, station.place, station.zone) == (OWN.name, OWN.place, OWN.zone)
    assert not is_example(station)
    assert not (tmp_path / "put-away").exists()


def test_the_examples_readings_are_put_away_whole(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    before = files_under(tmp_path / "readings")
    with tools.database as database:
        assert is_example(database.load_station())
        database.add_token(Token(sha256="a" * 64, purpose="booth", made_at=NOW, booth="booth-1"))
        database.add_message(
            Message(
                message_id="m",
                kind="help",
                at=NOW,
                booth="booth-1",
                reader="Ada Fenwick",
                assignment_key=None,
                reading_id=None,
                text="",
                seen_at=None,
            )
        )
        begun = own_station(OWN, nobody, tools)
        station = database.load_station()
        assert database.readings() == ()
        assert database.messages(open_only=True) == ()
        assert not database.token("a" * 64).is_live(NOW)
    assert begun.put_away == tmp_path / "put-away" / "2026-11-25-1"
    assert files_under(begun.put_away / "readings") == before != {}
    plan = json.loads((begun.put_away / "plan.json").read_text("utf-8"))
    assert plan["name"] == "Marrowby Reading Service"
    assert len(plan["programmes"]) == 8
    assert station.name == OWN.name
    assert not any((station.programmes, station.readers, station.assignments, station.booths))


def test_a_station_of_ones_own_is_never_put_away(tmp_path: Path) -> None:
    with Database(database_url(tmp_path)) as database:
        tools = Tools(data=tmp_path, database=database, clock=lambda: NOW)
        own_station(OWN, nobody, tools)
        with pytest.raises(Conflict, match="its readings stay"):
            own_station(OWN, nobody, tools)


@pytest.mark.parametrize(
    "change", [{"name": ""}, {"zone": "Nowhere"}, {"originator": "É"}, {"originator": "o" * 33}]
)
def test_what_does_not_hold_moves_nothing(tmp_path: Path, change: dict[str, str]) -> None:
    tools = finished_station(tmp_path)
    asked = OwnStation(
        **{
            "name": OWN.name,
            "place": OWN.place,
            "zone": OWN.zone,
            "originator": OWN.originator,
            **change,
        }
    )
    with tools.database as database:
        before = files_under(tmp_path / "readings"), database.load_station()
        with pytest.raises(Invalid):
            own_station(asked, nobody, tools)
        assert (files_under(tmp_path / "readings"), database.load_station()) == before


def test_nothing_moves_while_somebody_records(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        bring_reading(tools, state="in the booth")
        writer = WriterSeen(
            booth=None,
            reader="Ada Fenwick",
            since=datetime(2026, 11, 25, tzinfo=UTC),
            is_rolling=True,
            samples=0,
        )
        with pytest.raises(Conflict, match="Ada Fenwick is recording just now"):
            own_station(OWN, lambda _place: writer, tools)
        assert (tmp_path / "readings").exists()


def test_a_disk_that_refuses_leaves_the_example_and_it_can_be_asked_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tools = finished_station(tmp_path)

    def full(_old: Path, new: Path) -> None:
        raise Unavailable("disk/full", f"The disk that holds {new} is full.")

    with tools.database as database:
        before = database.load_station()
        with monkeypatch.context() as broken:
            broken.setattr(disk, "move", full)
            with pytest.raises(Unavailable):
                own_station(OWN, nobody, tools)
        assert database.load_station() == before
        assert len(database.readings()) == 1
        own_station(OWN, nobody, tools)
        assert database.load_station().name == OWN.name


def test_what_a_station_says_of_itself_can_change(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database as database:
        describe_station(OWN, ("The window is shut",), tools)
        station = database.load_station()
        assert (station.name, station.tidy_list) == (OWN.name, ("The window is shut",))
        assert len(station.programmes) == 8
        with pytest.raises(Invalid, match="time zone"):
            describe_station(OwnStation(name="S", place="", zone="X", originator=""), (), tools)
