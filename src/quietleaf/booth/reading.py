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
    assignment_key : str or None
        The assignment that it was opened for; None where it was brought in without one.
    part : int or None
        Which part of a serial; None elsewhere.
    """

    reading_id: str
    programme_key: str
    programme_title: str
    publication: str
    issue_date: date
    readers: tuple[str, ...]
    air_date: date | None
    assignment_key: str | None = None
    part: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandIn:
    """What a reader leaves with the reading on handing it in.

    Attributes
    ----------
    place_page, place_headline : str
        The place left off, for whoever reads on; empty where nothing goes on.
    recap : str
        The sentence or two that open the next part of a serial.
    remark : str
        For the desk.
    tidied : tuple of str
        What was ticked on the station's tidy list.
    """

    place_page: str = ""
    place_headline: str = ""
    recap: str = ""
    remark: str = ""
    tidied: tuple[str, ...] = ()
