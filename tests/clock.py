"""A clock that tests put forward."""

from __future__ import annotations

from datetime import datetime

from tests.finished import NOW


class Clock:
    """A clock that is put forward by hand."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now
