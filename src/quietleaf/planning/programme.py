"""A programme: a recurring title with a slot, a window, and fixed words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from typing import Literal, get_args

from quietleaf.units import Window

HOUR_SLOT_S = 3600.0
HOUR_WINDOW = Window(shortest_s=3360.0, longest_s=3480.0)
"""An hour's slot is read to 56 to 58 minutes (common practice, no source)."""

ReviewDepth = Literal["none", "things to hear", "whole"]
"""What somebody hears of a reading before it goes out: nothing, what was found in it, or all."""
REVIEW_DEPTHS: tuple[ReviewDepth, ...] = get_args(ReviewDepth)
USUAL_REVIEW: ReviewDepth = "things to hear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """A recurring title.

    Attributes
    ----------
    key : str
        Lower-case letters, digits and hyphens; names folders.
    publication : str
        Title of the publication that it is read from.
    slot_s : float or None
        Time on air; None for a private request, which has no slot.
    window : Window or None
        Least and greatest length of a reading; None where length is free.
    opening_words, closing_words : str
        Fixed words with blanks such as ``{reader}``.
    weekdays : tuple of int
        Days on air, Monday 0.
    air_times : tuple of datetime.time
        Civil times on air on those days, in the station's zone.
    serial : bool
        Each reading goes on from the one before, as a book in parts does.
    review : {"none", "things to hear", "whole"}
        Services differ: dailies have no time for it, books are heard whole by a third person
        (common practice).
    other_reviewer : bool
        Whoever decides about a reading and clears it is not one of its readers.
    """

    key: str
    title: str
    publication: str
    slot_s: float | None
    window: Window | None
    opening_words: str
    closing_words: str
    weekdays: tuple[int, ...] = ()
    air_times: tuple[time, ...] = ()
    serial: bool = False
    review: ReviewDepth = USUAL_REVIEW
    other_reviewer: bool = False


def usual_window(slot_s: float | None) -> Window | None:
    """Give the window that a slot has where none is named; None where none is usual.

    Examples
    --------
    >>> str(usual_window(3600.0)), usual_window(1800.0)
    ('56:00 to 58:00', None)
    """
    return HOUR_WINDOW if slot_s == HOUR_SLOT_S else None
