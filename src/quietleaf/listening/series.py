"""A row of numbers that grows while a recording is heard, without a copy at each block."""

from __future__ import annotations

import numpy as np
from numpy.typing import DTypeLike, NDArray


class Series:
    """Numbers of one kind, in order.

    Parameters
    ----------
    room : int
        How many there is room for at first. Room that is never written to takes no memory, so
        that it can be as much as is ever likely; past it the row moves, and for that moment is
        there twice.
    """

    def __init__(self, dtype: DTypeLike, room: int) -> None:
        self._room = np.empty(room, dtype=dtype)
        self._count = 0

    def __len__(self) -> int:
        return self._count

    def extend(self, values: NDArray[np.generic]) -> None:
        """Add values at the end."""
        stop = self._count + values.size
        if stop > self._room.size:
            room = np.empty(max(stop, 2 * self._room.size), dtype=self._room.dtype)
            room[: self._count] = self._room[: self._count]
            self._room = room
        self._room[self._count : stop] = values
        self._count = stop

    def values(self) -> NDArray[np.generic]:
        """Give what is there so far, without a copy; it must not be written to."""
        return self._room[: self._count]
