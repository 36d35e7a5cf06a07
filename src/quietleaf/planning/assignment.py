"""An assignment: this reader reads this programme from this issue for this air date."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime


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
    key : str
        Names it for good, whatever of it is changed later; lower-case letters, digits and
        hyphens. Empty in one that was just written down: `with_keys` gives it one.
    booth : str or None
        Key of the booth where it is read; None at home, or where it does not matter.
    reads_at : datetime or None
        When it is read, aware UTC; None where no time is agreed.
    """

    programme_key: str
    issue_date: date
    air_date: date | None
    readers: tuple[str, ...] = ()
    part: int | None = None
    key: str = ""
    booth: str | None = None
    reads_at: datetime | None = None


def with_keys(assignments: Iterable[Assignment]) -> tuple[Assignment, ...]:
    """Give each assignment that has no key one made of its programme and its day.

    Examples
    --------
    >>> hour = Assignment(programme_key="hour", issue_date=date(2026, 11, 25), air_date=None)
    >>> [assignment.key for assignment in with_keys([hour, hour])]
    ['hour-2026-11-25', 'hour-2026-11-25-2']
    """
    given = list(assignments)
    taken = {assignment.key for assignment in given}
    keyed: list[Assignment] = []
    for assignment in given:
        if not assignment.key:
            day = assignment.air_date or assignment.issue_date
            first = key = f"{assignment.programme_key}-{day.isoformat()}"
            number = 1
            while key in taken:
                number += 1
                key = f"{first}-{number}"
            taken.add(key)
            assignment = replace(assignment, key=key)
        keyed.append(assignment)
    return tuple(keyed)
