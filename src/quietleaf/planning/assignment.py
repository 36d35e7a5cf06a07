"""An assignment: this reader reads this programme from this issue for this air date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """Who reads what. Issue date and air date are kept apart.

    Attributes
    ----------
    air_date : date or None
        None where the programme never airs, as a private request.
    readers : tuple of str
        Names as they are spoken; two may share a programme; empty is a hole.
    part : int or None
        Which part of a serial; None elsewhere.
    """

    programme_key: str
    issue_date: date
    air_date: date | None
    readers: tuple[str, ...] = ()
    part: int | None = None
