"""How often programs may ask: so many times a minute for each that asks."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta

A_MINUTE = 300
"""Ours: a board that is asked for every second leaves as much again and more."""
_MINUTE = timedelta(minutes=1)
_REMEMBERED_MOST = 10_000


class Throttle:
    """Counts who asks, minute by minute; any thread may ask.

    What it remembers is gone when the station starts anew.
    """

    def __init__(self) -> None:
        self._asked: dict[str, tuple[datetime, int]] = {}
        self._changing = threading.Lock()

    def wait_s(self, who: str, now: datetime, most: int | None = None) -> int:
        """Count a request; give for how many seconds its sender has to wait, 0 for none.

        Parameters
        ----------
        most : int, optional
            So many a minute, if not `A_MINUTE`.
        """
        with self._changing:
            since, count = self._asked.pop(who, (now, 0))
            if not timedelta() <= now - since < _MINUTE:
                since, count = now, 0
            # The one that asked longest ago goes first.
            self._asked[who] = since, count + 1
            while len(self._asked) > _REMEMBERED_MOST:
                self._asked.pop(next(iter(self._asked)))
            if count < (A_MINUTE if most is None else most):
                return 0
            return max(1, round((since + _MINUTE - now).total_seconds()))
