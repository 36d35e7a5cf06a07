"""What a reading is for, and the states it goes through."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

ReadingState = Literal[
    "assigned", "in the booth", "handed in", "cleared", "returned", "placed", "aired"
]
READING_STATES: tuple[ReadingState, ...] = (
    "assigned",
    "in the booth",
    "handed in",
    "cleared",
    "returned",
    "placed",
    "aired",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFacts:
    """What the first ledger entry says, so that the folder alone rebuilds the reading.

    Attributes
    ----------
    reading_id : str
        Short, unique at the station; ends the folder's name.
    readers : tuple of str
        Names as spoken; at least one.
    air_date : date or None
        None where nothing is planned yet.
    """

    reading_id: str
    programme_key: str
    programme_title: str
    publication: str
    issue_date: date
    readers: tuple[str, ...]
    air_date: date | None
