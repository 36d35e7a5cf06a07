"""Hear the end of a reading as it stands: where its reader goes on from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.storage.reading_places import folder_of
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.tools import Tools

RATE_HZ = 48_000


@dataclass(frozen=True, slots=True, kw_only=True)
class LastHeard:
    """The end of a reading.

    Attributes
    ----------
    samples : array of float64, shape (n,)
        Full scale 1.0; the whole reading where it is shorter than what was asked for.
    """

    samples: NDArray[np.float64]
    sample_rate_hz: int


def hear_last(place: str, length_s: float, tools: Tools) -> LastHeard:
    """Give the last seconds of a reading's timeline, joins and cuts as they stand.

    Parameters
    ----------
    place : str
        Where the reading lies: ``readings:<id>`` or ``practice:<id>``.
    length_s : float
        In seconds, more than 0.

    Raises
    ------
    NotFound
        If nothing is at this place (any more).
    AudioUnfit
        If nothing is in its programme.
    Damaged
        If a take is not what was recorded.
    """
    with TimelineSound(folder_of(tools.data, place), RATE_HZ) as sound:
        stop = sound.info.frames
        start = max(0, stop - round(length_s * RATE_HZ))
        return LastHeard(samples=sound.read(start, stop)[:, 0], sample_rate_hz=RATE_HZ)
