"""See for how long the disk has room, and say so before it is full.

Days decide, not hours: 13 hours are nothing where ten are read a day, and months where one is read
a week.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from quietleaf.work.tools import Tools

BYTES_AN_HOUR = 1_100_000_000
"""A take and its master, 48 kHz and 24 bits each (518 MB an hour), and an MP3."""
DAYS_MIN = 14.0
"""With room for less the desk is told. Ours: time enough to buy a disk."""
HOURS_MIN = 20.0
"""With room for less it is mentioned; where nothing was read lately, so that no days are known, the
desk is told. Ours."""
HOURS_FULL = 1.0
"""With room for less no programme should be begun. Ours."""
_LOOKED_BACK = timedelta(days=28)


@dataclass(frozen=True, slots=True, kw_only=True)
class DiskSeen:
    """How much room there is.

    Attributes
    ----------
    hours : float
        Of reading, with its masters.
    days : float or None
        At the pace of the last four weeks; None where nothing was read in them.
    """

    hours: float
    days: float | None

    @property
    def is_short(self) -> bool:
        """The desk should be told."""
        if self.hours < HOURS_FULL:
            return True
        return self.hours < HOURS_MIN if self.days is None else self.days < DAYS_MIN

    @property
    def is_small(self) -> bool:
        """It is worth a mention, and no more: it lasts a good while as it goes now."""
        return self.hours < HOURS_MIN and not self.is_short


def see_disk(tools: Tools) -> DiskSeen:
    """Say for how long there is room on the disk of the readings."""
    hours = tools.free_bytes() / BYTES_AN_HOUR
    read_s = tools.database.read_s((tools.clock() - _LOOKED_BACK).date())
    read_a_day_h = read_s / 3600.0 / _LOOKED_BACK.days
    return DiskSeen(hours=hours, days=hours / read_a_day_h if read_a_day_h else None)
