"""Plan a station: keep its programmes, readers and assignments."""

from __future__ import annotations

from quietleaf.planning.check_station import check_station
from quietleaf.planning.station import Station
from quietleaf.storage.zones import zone_named
from quietleaf.work.tools import Tools


def plan_station(station: Station, tools: Tools) -> None:
    """Keep all that is planned, in place of what was planned before; readings are not touched.

    Raises
    ------
    Invalid
        If the station does not hold together.
    """
    check_station(station)
    zone_named(station.zone)
    tools.database.save_station(station)
