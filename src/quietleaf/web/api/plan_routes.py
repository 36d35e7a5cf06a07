"""The plan: the station, programmes, publications, readers, booths and assignments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

from fastapi import APIRouter

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.booth import Booth
from quietleaf.planning.programme import Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import (
    Station,
    assignment_named,
    booth_named,
    programme_named,
)
from quietleaf.web.api.asking import PageAsked, StationTools
from quietleaf.web.api.records import STRICT, Listed, body_of, filled, listed
from quietleaf.work.own_station import OwnStation, describe_station
from quietleaf.work.plan_assignment import add_assignment, change_assignment, remove_assignment
from quietleaf.work.plan_booth import add_booth, change_booth, remove_booth
from quietleaf.work.plan_programme import add_programme, change_programme, remove_programme
from quietleaf.work.plan_publication import (
    add_publication,
    change_publication,
    publication_of_key,
    remove_publication,
)
from quietleaf.work.plan_reader import add_reader, change_reader, find_reader, remove_reader

ROUTER = APIRouter(prefix="/plan", tags=["plan"])

if TYPE_CHECKING:
    ProgrammeBody: TypeAlias = Any
    PublicationBody: TypeAlias = Any
    AssignmentBody: TypeAlias = Any
else:
    ProgrammeBody = body_of(Programme, "ProgrammeBody", without=["key"])
    PublicationBody = body_of(Publication, "PublicationBody", without=["key"])
    AssignmentBody = body_of(Assignment, "AssignmentBody", without=["key"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A reader, or what a booth is called."""

    __pydantic_config__ = STRICT
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSeen:
    """What a station says of itself."""

    __pydantic_config__ = STRICT
    name: str
    place: str
    zone: str
    originator: str
    tidy_list: tuple[str, ...]


@ROUTER.get("/station")
def station(tools: StationTools) -> StationSeen:
    """Give what the station says of itself."""
    return _station(tools.database.load_station())


@ROUTER.put("/station")
def put_station(body: StationSeen, tools: StationTools) -> StationSeen:
    """Change what the station says of itself."""
    asked = OwnStation(name=body.name, place=body.place, zone=body.zone, originator=body.originator)
    return _station(describe_station(asked, body.tidy_list, tools))


@ROUTER.get("/programmes")
def programmes(tools: StationTools, page: PageAsked = 1) -> Listed[Programme]:
    """List the programmes."""
    return listed(tools.database.load_station().programmes, page)


@ROUTER.post("/programmes", status_code=201)
def post_programme(body: ProgrammeBody, tools: StationTools) -> Programme:
    """Add a programme; its key is made of its title."""
    return add_programme(filled(Programme, body, key=""), tools)


@ROUTER.get("/programmes/{key}")
def programme(key: str, tools: StationTools) -> Programme:
    """Give a programme."""
    return programme_named(tools.database.load_station(), key)


@ROUTER.put("/programmes/{key}")
def put_programme(key: str, body: ProgrammeBody, tools: StationTools) -> Programme:
    """Change a programme."""
    return change_programme(filled(Programme, body, key=key), tools)


@ROUTER.delete("/programmes/{key}", status_code=204)
def delete_programme(key: str, tools: StationTools) -> None:
    """Remove a programme on which nothing hangs."""
    remove_programme(key, tools)


@ROUTER.get("/publications")
def publications(tools: StationTools, page: PageAsked = 1) -> Listed[Publication]:
    """List the publications."""
    return listed(tools.database.load_station().publications, page)


@ROUTER.post("/publications", status_code=201)
def post_publication(body: PublicationBody, tools: StationTools) -> Publication:
    """Add a publication; its key is made of its title."""
    return add_publication(filled(Publication, body, key=""), tools)


@ROUTER.get("/publications/{key}")
def publication(key: str, tools: StationTools) -> Publication:
    """Give a publication."""
    return publication_of_key(tools.database.load_station(), key)


@ROUTER.put("/publications/{key}")
def put_publication(key: str, body: PublicationBody, tools: StationTools) -> Publication:
    """Change a publication; programmes follow a title that changes."""
    return change_publication(filled(Publication, body, key=key), tools)


@ROUTER.delete("/publications/{key}", status_code=204)
def delete_publication(key: str, tools: StationTools) -> None:
    """Remove a publication from which nothing is read."""
    remove_publication(key, tools)


@ROUTER.get("/readers")
def readers(tools: StationTools, page: PageAsked = 1) -> Listed[str]:
    """List the readers by name."""
    return listed(tools.database.load_station().readers, page)


@ROUTER.post("/readers", status_code=201)
def post_reader(body: Named, tools: StationTools) -> Named:
    """Add a reader."""
    return Named(name=add_reader(body.name, tools))


@ROUTER.get("/readers/{name}")
def reader(name: str, tools: StationTools) -> Named:
    """Give a reader."""
    return Named(name=find_reader(tools.database.load_station(), name))


@ROUTER.put("/readers/{name}")
def put_reader(name: str, body: Named, tools: StationTools) -> Named:
    """Give a reader another name; links to the old one end."""
    return Named(name=change_reader(name, body.name, tools))


@ROUTER.delete("/readers/{name}", status_code=204)
def delete_reader(name: str, tools: StationTools) -> None:
    """Remove a reader."""
    remove_reader(name, tools)


@ROUTER.get("/booths")
def booths(tools: StationTools, page: PageAsked = 1) -> Listed[Booth]:
    """List the booths."""
    return listed(tools.database.load_station().booths, page)


@ROUTER.post("/booths", status_code=201)
def post_booth(body: Named, tools: StationTools) -> Booth:
    """Add a booth; its key is made of its name."""
    return add_booth(body.name, tools)


@ROUTER.get("/booths/{key}")
def booth(key: str, tools: StationTools) -> Booth:
    """Give a booth."""
    return booth_named(tools.database.load_station(), key)


@ROUTER.put("/booths/{key}")
def put_booth(key: str, body: Named, tools: StationTools) -> Booth:
    """Give a booth another name."""
    return change_booth(Booth(key=key, name=body.name), tools)


@ROUTER.delete("/booths/{key}", status_code=204)
def delete_booth(key: str, tools: StationTools) -> None:
    """Remove a booth in which nobody is to read."""
    remove_booth(key, tools)


@ROUTER.get("/assignments")
def assignments(
    tools: StationTools, page: PageAsked = 1, programme: str | None = None
) -> Listed[Assignment]:
    """List the assignments, past and to come, by air date; those that never air come last."""
    of = (
        one
        for one in tools.database.load_station().assignments
        if programme in (None, one.programme_key)
    )
    ordered = sorted(
        of, key=lambda one: (one.air_date is None, one.air_date or one.issue_date, one.key)
    )
    return listed(ordered, page)


@ROUTER.post("/assignments", status_code=201)
def post_assignment(body: AssignmentBody, tools: StationTools) -> Assignment:
    """Assign a reading; its key is made of its programme and its day."""
    return add_assignment(filled(Assignment, body), tools)


@ROUTER.get("/assignments/{key}")
def assignment(key: str, tools: StationTools) -> Assignment:
    """Give an assignment."""
    return assignment_named(tools.database.load_station(), key)


@ROUTER.put("/assignments/{key}")
def put_assignment(key: str, body: AssignmentBody, tools: StationTools) -> Assignment:
    """Change an assignment; once something was recorded, its booth and its time alone."""
    return change_assignment(filled(Assignment, body, key=key), tools)


@ROUTER.delete("/assignments/{key}", status_code=204)
def delete_assignment(key: str, tools: StationTools) -> None:
    """Remove an assignment for which nothing was recorded."""
    remove_assignment(key, tools)


def _station(of: Station) -> StationSeen:
    return StationSeen(
        name=of.name,
        place=of.place,
        zone=of.zone,
        originator=of.originator,
        tidy_list=of.tidy_list,
    )
