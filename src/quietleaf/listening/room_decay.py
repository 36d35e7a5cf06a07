"""From how fast the sounds of a voice fall to how long a room sounds on."""

from __future__ import annotations

_SCALE, _POWER = 2.47, 1.8
"""Ours: see `room_echo`."""


def decay_of_fall_s(fall_db_a_s: float) -> float:
    """Give the time to -60 dB of a room in which a tenth of all pieces fall faster than this.

    Examples
    --------
    >>> round(decay_of_fall_s(150.0), 2)
    0.47
    """
    return float(_SCALE * (60.0 / fall_db_a_s) ** _POWER)
