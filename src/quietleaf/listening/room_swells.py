"""Swells of the room: a fan, traffic, hiss that comes and goes again while somebody reads.

What the room sounds like between words, twice a second; where it rises and falls back within
a minute, that is a noise. What stays is another room, not a swell.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.mask_ranges import ranges_of

SLOT_FRAMES = 50
SLOTS_PER_S = FRAMES_PER_S // SLOT_FRAMES
UNKNOWN_CDB = int(np.iinfo(np.int16).min)
QUIET_SHARE = 0.3
QUIET_FRAMES_MIN = 20
"""Less lies between the sounds of a word."""
KNOWN_SLOTS_MIN = 3
"""So often the room must be heard while it is louder."""
AFTER_SPEECH_FRAMES = 8
"""Words die away in a room."""
SWELL_S_MAX = 70.0
SMOOTHED_SLOTS = 5
_HUM_SHARE_MOST = 0.5
LEAST_DBOV = -75.0
"""Softer rooms are all alike under a voice."""


def quiet_cdb(level_dbov: NDArray[np.float32], speech: NDArray[np.bool_]) -> NDArray[np.int16]:
    """Measure the room between words.

    Parameters
    ----------
    level_dbov, speech : ndarray, shape (k,)
        Of frames of 10 ms.

    Returns
    -------
    level : ndarray, shape (k // 50,), int16
        Hundredths of a decibel (dBov): the 30th percentile of the frames without speech of each
        half second; the least value where there are too few.

    Examples
    --------
    >>> quiet_cdb(np.full(100, -60.0, dtype=np.float32), np.arange(100) < 50).tolist()
    [-32768, -6000]
    """
    spoken = speech.copy()
    for later in range(1, AFTER_SPEECH_FRAMES + 1):
        spoken[later:] |= speech[:-later]
    found = np.full(speech.size // SLOT_FRAMES, UNKNOWN_CDB, dtype=np.int16)
    for slot in range(found.size):
        frames = slice(slot * SLOT_FRAMES, (slot + 1) * SLOT_FRAMES)
        quiet = np.sort(level_dbov[frames][~spoken[frames]])
        if quiet.size >= QUIET_FRAMES_MIN:
            found[slot] = round(100.0 * float(quiet[int(QUIET_SHARE * quiet.size)]))
    return found


def swell_findings(
    slots_cdb: NDArray[np.int16], others: Iterable[Finding], limits: HearingLimits
) -> list[Finding]:
    """Find where the room rises and falls back.

    Parameters
    ----------
    others : iterable of Finding
        What is hum for more than half of it is told as hum alone.

    Notes
    -----
    The usual room is the louder of the least before and the least after, each within 70 s: the
    opening of mathematical morphology. Ours.
    """
    known = np.flatnonzero(slots_cdb != UNKNOWN_CDB)
    if known.size < SMOOTHED_SLOTS:
        return []
    level = np.interp(np.arange(slots_cdb.size), known, slots_cdb[known] / 100.0)
    level = np.maximum(level, LEAST_DBOV)
    level = np.median(_windows(level, SMOOTHED_SLOTS // 2, SMOOTHED_SLOTS // 2), axis=1)
    reach = round(SWELL_S_MAX * SLOTS_PER_S)
    usual = np.maximum(_windows(level, reach, 0).min(axis=1), _windows(level, 0, reach).min(axis=1))
    hum = np.zeros(slots_cdb.size, dtype=np.bool_)
    for other in others:
        if other.kind == "hum":
            hum[int(other.start_s * SLOTS_PER_S) : int(other.end_s * SLOTS_PER_S) + 1] = True
    return [
        _finding(int(start), int(stop), level - usual, limits)
        for start, stop in ranges_of(level > usual + limits.swell_db)
        if hum[start:stop].mean() <= _HUM_SHARE_MOST
        and (stop - start) / SLOTS_PER_S >= limits.swell_s_min
        and np.count_nonzero((known >= start) & (known < stop)) >= KNOWN_SLOTS_MIN
    ]


def _windows(level: NDArray[np.float64], before: int, after: int) -> NDArray[np.float64]:
    """Give each place with so many before and after it; what lies beyond the ends is as there."""
    padded = np.pad(level, (before, after), mode="edge")
    return np.lib.stride_tricks.sliding_window_view(padded, before + after + 1)


def _finding(start: int, stop: int, rise_db: NDArray[np.float64], limits: HearingLimits) -> Finding:
    return Finding(
        kind="noise",
        start_s=start / SLOTS_PER_S,
        end_s=stop / SLOTS_PER_S,
        severity="hear",
        value=round(float(np.median(rise_db[start:stop])), 1),
        limit=limits.swell_db,
        unit="dB over the room",
        advice="A noise came and went under the reading; "
        "if it disturbs, read this again when it is quiet.",
    )
