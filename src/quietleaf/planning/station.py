"""A station: the service's name, its zone, its publications, programmes, readers, assignments."""

from __future__ import annotations

from dataclasses import dataclass

from quietleaf.errors import NotFound
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.booth import Booth
from quietleaf.planning.outlet import Outlet
from quietleaf.planning.programme import Programme
from quietleaf.planning.publication import Publication


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """Everything planned at one station.

    Attributes
    ----------
    note : str
        A line shown beside the name; the example says here that it is invented.
    zone : str
        IANA name of the zone that air times are meant in.
    originator : str
        Goes into Broadcast Wave files; at most 32 ASCII characters.
    readers : tuple of str
        Names as they are spoken.
    retired : tuple of str
        Who read here and does no longer: offered nowhere, and named where they read.
    place : str
        Where the service is; empty if it does not say.
    tidy_list : tuple of str
        What a reader is asked to tidy on handing in.
    outlets : tuple of Outlet
        What is made of every programme besides its masters.
    """

    name: str
    note: str
    zone: str
    originator: str
    programmes: tuple[Programme, ...]
    readers: tuple[str, ...]
    assignments: tuple[Assignment, ...]
    publications: tuple[Publication, ...] = ()
    place: str = ""
    booths: tuple[Booth, ...] = ()
    tidy_list: tuple[str, ...] = ()
    outlets: tuple[Outlet, ...] = ()
    retired: tuple[str, ...] = ()


def assignment_named(station: Station, key: str) -> Assignment:
    """Find an assignment.

    Raises
    ------
    NotFound
        If it is not planned, or no longer.
    """
    for assignment in station.assignments:
        if assignment.key == key:
            return assignment
    raise NotFound(
        "planning/no-assignment", "This assignment is not in the plan any more. Ask the desk."
    )


def programme_named(station: Station, key: str) -> Programme:
    """Find a programme by its key.

    Raises
    ------
    NotFound
        If the station has none of that key.
    """
    for programme in station.programmes:
        if programme.key == key:
            return programme
    raise NotFound("planning/no-programme", f"There is no programme {key!r} at {station.name}.")


def booth_named(station: Station, key: str) -> Booth:
    """Find a booth by its key.

    Raises
    ------
    NotFound
        If the station has none of that key.
    """
    for booth in station.booths:
        if booth.key == key:
            return booth
    raise NotFound("planning/no-booth", f"There is no booth {key!r} at {station.name}.")
