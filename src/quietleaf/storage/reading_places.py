"""Where a reading lies: among the station's readings, or among those that are only practice."""

from __future__ import annotations

from pathlib import Path

from quietleaf.errors import NotFound
from quietleaf.storage.reading_folder import ReadingFolder, find_reading

READINGS = "readings"
PRACTICE = "practice"


def place_of(kind: str, reading_id: str) -> str:
    """Write a place.

    Examples
    --------
    >>> place_of(PRACTICE, "k3")
    'practice:k3'
    """
    return f"{kind}:{reading_id}"


def root_of(data: Path, place: str) -> Path:
    """Give the folder that holds ``readings/`` for this place.

    Raises
    ------
    NotFound
        If it is no place.
    """
    kind, _, reading_id = place.partition(":")
    if kind not in (READINGS, PRACTICE) or not reading_id:
        raise NotFound("reading/no-place", f"{place!r} names no reading of this station.")
    return data if kind == READINGS else data / PRACTICE


def folder_of(data: Path, place: str) -> ReadingFolder:
    """Open the reading at a place.

    Raises
    ------
    NotFound
        If it is no place, or nothing is there (any more).
    """
    return find_reading(root_of(data, place), place.partition(":")[2])
