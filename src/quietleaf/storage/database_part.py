"""What parts of the database share: how they open a transaction."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager

from sqlalchemy import Connection

Transaction = Callable[[], AbstractContextManager[Connection]]


class DatabasePart:
    """A part of the database; any thread may ask.

    Parameters
    ----------
    asking, writing : callable
        Open a transaction that reads, or one that writes.
    """

    def __init__(self, asking: Transaction, writing: Transaction) -> None:
        self._asking = asking
        self._writing = writing
