"""Begin a station of one's own: the example, if it is there, is put away whole."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

import quietleaf.example
from quietleaf.errors import Conflict, NotFound
from quietleaf.planning.check_station import check_station
from quietleaf.planning.station import Station
from quietleaf.planning.words import names_in_words
from quietleaf.storage.put_away import put_away
from quietleaf.storage.reading_places import READINGS, place_of
from quietleaf.storage.station_file import read_station
from quietleaf.storage.tokens import TokenPurpose
from quietleaf.storage.zones import zone_named
from quietleaf.work.plan_station import plan_station
from quietleaf.work.rebuild_index import rebuild_index
from quietleaf.work.see_day import WriterOf
from quietleaf.work.tools import Tools

EXAMPLE_FILE = Path(*quietleaf.example.__path__) / "station.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnStation:
    """What a new station says of itself.

    Attributes
    ----------
    place : str
        Where the service is; may be empty.
    zone : str
        IANA name.
    originator : str
        Goes into Broadcast Wave files; at most 32 ASCII characters.
    """

    name: str
    place: str
    zone: str
    originator: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StationBegun:
    """A station of one's own is there.

    Attributes
    ----------
    put_away : Path or None
        Where the example lies now; None where there was none.
    """

    station: Station
    put_away: Path | None


def is_example(station: Station) -> bool:
    """Say whether a station is the example, whatever of its plan was changed since."""
    return station.note == read_station(EXAMPLE_FILE).note


def own_station(asked: OwnStation, writer_of: WriterOf, tools: Tools) -> StationBegun:
    """Begin a station with an empty plan.

    Each step leaves what can be asked for again: the plan is replaced last.

    Raises
    ------
    Invalid
        If its name, zone or originator does not hold.
    Conflict
        If a station of one's own is there already, or somebody is recording.
    """
    zone = zone_named(asked.zone)
    begun = Station(
        name=asked.name,
        note="",
        zone=asked.zone,
        originator=asked.originator,
        place=asked.place,
        programmes=(),
        readers=(),
        assignments=(),
    )
    try:
        before = tools.database.load_station()
    except NotFound:
        plan_station(begun, tools)
        return StationBegun(station=begun, put_away=None)
    # A plan that does not hold must be refused before anything moves.
    check_station(begun)
    if not is_example(before):
        raise Conflict(
            "own-station/there-already",
            f"{before.name} is a station of your own, and its readings stay. Change what it says "
            "of itself here; for another station start Quietleaf with another folder.",
        )
    _refuse_while_recording(writer_of, tools)
    now = tools.clock()
    away = put_away(tools.data, before, now.astimezone(zone).date())
    rebuild_index(tools)
    for purpose in get_args(TokenPurpose):
        for token in tools.database.tokens(purpose=purpose):
            if token.is_live(now):
                tools.database.end_token(token.sha256, now)
    for message in tools.database.messages(open_only=True):
        tools.database.see_message(message.message_id, now)
    plan_station(begun, tools)
    return StationBegun(station=begun, put_away=away)


def describe_station(asked: OwnStation, tidy_list: tuple[str, ...], tools: Tools) -> Station:
    """Change what the station says of itself, and what readers tidy on handing in.

    Raises
    ------
    Invalid
        If its name, zone or originator does not hold.
    """
    zone_named(asked.zone)
    return tools.database.change_station(
        lambda station: replace(
            station,
            name=asked.name,
            place=asked.place,
            zone=asked.zone,
            originator=asked.originator,
            tidy_list=tidy_list,
        )
    )


def _refuse_while_recording(writer_of: WriterOf, tools: Tools) -> None:
    writers = [
        writer.reader
        for row in tools.database.readings(state="in the booth")
        if (writer := writer_of(place_of(READINGS, row.reading_id))) is not None
    ]
    if writers:
        raise Conflict(
            "own-station/recording",
            f"{names_in_words(writers)} {'is' if len(writers) == 1 else 'are'} recording just "
            "now. Wait until that is handed in, or close that page, then do this again.",
        )
