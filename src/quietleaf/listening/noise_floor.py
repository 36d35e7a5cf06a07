"""Noise floor: how loud the room is while nobody speaks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FRAMES_A_SLOT = 5
SILENT_CDB = int(np.iinfo(np.int16).min)
_AWAY_FRAMES = 10
_SLOTS_MIN = 20
_PERCENT_WITHOUT_PAUSES = 5.0


def noise_floor_dbov(slot_cdb: NDArray[np.int16], speech_frames: NDArray[np.int64]) -> float | None:
    """Measure the level of the room.

    Parameters
    ----------
    slot_cdb : ndarray, shape (k,), int16
        Level of each 50 ms above 20 Hz, hundredths of a decibel (dBov); the least
        value stands for digital silence.
    speech_frames : ndarray, shape (j, 2), frames of 10 ms
        Where somebody speaks.

    Returns
    -------
    level : float or None, dBov
        None if all is digital silence.

    Notes
    -----
    Unweighted from 20 Hz up, the louder channel of each 50 ms. The median (50th percentile) of
    what is at least 0.1 s away from speech; where that is less than a second, the 5th percentile
    of everything. Exact zeros are no room and are left out. Ours: a breath or a page in a pause
    does not move a median, and a stationary noise reads its RMS.

    Examples
    --------
    A voice at -25 for 4 s of 6 in a room at -60:

    >>> slots = np.full(120, -6000, dtype=np.int16)
    >>> slots[20:100] = -2500
    >>> noise_floor_dbov(slots, np.array([[100, 500]]))
    -60.0
    """
    quiet = np.ones(slot_cdb.size, dtype=np.bool_)
    for start, stop in speech_frames:
        first = max(0, (start - _AWAY_FRAMES) // FRAMES_A_SLOT)
        quiet[first : -(-(stop + _AWAY_FRAMES) // FRAMES_A_SLOT)] = False
    room = slot_cdb[quiet & (slot_cdb != SILENT_CDB)]
    if room.size >= _SLOTS_MIN:
        # A median that sorts in place: ten hours are a million of them.
        return float(np.median(room, overwrite_input=True)) * 0.01
    heard = slot_cdb[slot_cdb != SILENT_CDB]
    if heard.size == 0:
        return None
    return float(np.percentile(heard, _PERCENT_WITHOUT_PAUSES)) * 0.01
