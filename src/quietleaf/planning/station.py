"""A station: the service's name, its zone, its publications, programmes, readers, assignments."""

from __future__ import annotations

from dataclasses import dataclass

from quietleaf.planning.assignment import Assignment
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
    place : str
        Where the service is; empty if it does not say.
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
