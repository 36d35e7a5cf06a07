"""Plan a programme: add it, change it, take it out where nothing hangs on it."""

from __future__ import annotations

from dataclasses import replace

from quietleaf.delivery.report_words import counted
from quietleaf.errors import Conflict
from quietleaf.planning.check_station import check_turn
from quietleaf.planning.keys import key_of
from quietleaf.planning.programme import Programme
from quietleaf.planning.station import Station, programme_named
from quietleaf.storage.zones import zone_named
from quietleaf.work.tools import Tools


def add_programme(programme: Programme, tools: Tools) -> Programme:
    """Add a programme; its key is made of its title.

    Raises
    ------
    Invalid
        If it does not hold together: a blank that nothing fills, a window outside its slot.
    """

    def change(station: Station) -> Station:
        taken = {one.key for one in station.programmes}
        added = replace(programme, key=key_of(programme.title, taken, "programme"))
        return replace(station, programmes=(*station.programmes, added))

    return tools.database.change_station(change).programmes[-1]


def change_programme(programme: Programme, tools: Tools) -> Programme:
    """Change the programme of this key; readings that were made of it keep what they say.

    Raises
    ------
    NotFound
        If there is none of that key.
    Invalid
        If it does not hold together, or an assignment that is to come would not fit it.
    """

    def change(station: Station) -> Station:
        before = programme_named(station, programme.key)
        today = tools.clock().astimezone(zone_named(station.zone)).date()
        for assignment in station.assignments:
            is_over = assignment.air_date is not None and assignment.air_date < today
            if assignment.programme_key == programme.key and not is_over:
                check_turn(assignment, programme)
        return replace(
            station,
            programmes=tuple(programme if one is before else one for one in station.programmes),
        )

    return programme_named(tools.database.change_station(change), programme.key)


def remove_programme(key: str, tools: Tools) -> None:
    """Take a programme out of the plan.

    Raises
    ------
    NotFound
        If there is none of that key.
    Conflict
        If somebody is assigned to it, or a reading was made of it.
    """
    made = len(tools.database.readings(programme_key=key))

    def change(station: Station) -> Station:
        gone = programme_named(station, key)
        assigned = sum(one.programme_key == key for one in station.assignments)
        if assigned or made:
            hangs = " and ".join(
                counted(count, one, more)
                for count, one, more in (
                    (assigned, "assignment", "assignments"),
                    (made, "reading", "readings"),
                )
                if count
            )
            raise Conflict(
                "plan/programme-used",
                f"{gone.title} stays, since it has {hangs}. Take its days out of the week if it "
                "is not to air any more.",
            )
        return replace(
            station, programmes=tuple(one for one in station.programmes if one is not gone)
        )

    tools.database.change_station(change)
