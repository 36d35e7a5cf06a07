"""See for how long the disk has room, and say so before it is full."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from quietleaf.work.tools import Tools

BYTES_AN_HOUR = 1_100_000_000
"""A take and its master, 48 kHz and 24 bits each (518 MB an hour), and an MP3."""
HOURS_MIN = 20.0
DAYS_MIN = 14.0
"""With room for less the desk is told. Ours: time enough to buy a disk."""
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
        return self.hours < HOURS_MIN or (self.days is not None and self.days < DAYS_MIN)


def see_disk(tools: Tools) -> DiskSeen:
    """Say for how long there is room on the disk of the readings."""
    hours = tools.free_bytes() / BYTES_AN_HOUR
    read_s = tools.database.read_s((tools.clock() - _LOOKED_BACK).date())
    read_a_day_h = read_s / 3600.0 / _LOOKED_BACK.days
    return DiskSeen(hours=hours, days=hours / read_a_day_h if read_a_day_h else None)
