"""Plan a booth: add it, name it otherwise, take it out where nobody reads in it."""

from __future__ import annotations

from dataclasses import replace

from quietleaf.errors import Conflict
from quietleaf.planning.booth import Booth
from quietleaf.planning.keys import key_of
from quietleaf.planning.station import Station, booth_named
from quietleaf.work.tools import Tools


def add_booth(name: str, tools: Tools) -> Booth:
    """Add a booth; its key is made of its name.

    Raises
    ------
    Invalid
        If another has that name, or it is empty.
    """

    def change(station: Station) -> Station:
        taken = {one.key for one in station.booths}
        added = Booth(key=key_of(name, taken, "booth"), name=name)
        return replace(station, booths=(*station.booths, added))

    return tools.database.change_station(change).booths[-1]


def change_booth(booth: Booth, tools: Tools) -> Booth:
    """Give the booth of this key another name.

    Raises
    ------
    NotFound
        If there is none of that key.
    Invalid
        If another has that name, or it is empty.
    """

    def change(station: Station) -> Station:
        before = booth_named(station, booth.key)
        return replace(
            station, booths=tuple(booth if one is before else one for one in station.booths)
        )

    return booth_named(tools.database.change_station(change), booth.key)


def remove_booth(key: str, tools: Tools) -> None:
    """Take a booth out of the plan; what was enrolled as it is a booth no longer.

    Raises
    ------
    NotFound
        If there is none of that key.
    Conflict
        If somebody is assigned to read in it.
    """

    def change(station: Station) -> Station:
        gone = booth_named(station, key)
        assigned = sum(one.booth == key for one in station.assignments)
        if assigned:
            raise Conflict(
                "plan/booth-used",
                f"{gone.name} stays, since {assigned} of the assignments "
                f"{'is' if assigned == 1 else 'are'} to be read there. Give them another booth, "
                "or none, first.",
            )
        return replace(station, booths=tuple(one for one in station.booths if one is not gone))

    tools.database.change_station(change)
    now = tools.clock()
    for purpose in ("enrol", "booth", "sitting"):
        for token in tools.database.tokens(purpose=purpose, booth=key):
            if token.is_live(now):
                tools.database.end_token(token.sha256, now)
