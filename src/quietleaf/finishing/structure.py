"""Where the voice is in a recording that was surveyed, and where it has room tone to take."""

from __future__ import annotations

import numpy as np

from quietleaf.finishing.survey import FRAME_SAMPLES, Survey
from quietleaf.listening.mask_ranges import ranges_of
from quietleaf.listening.structure import Structure, structure_of_power

_OVER_FLOOR_DB = 6.0
_FLOOR_PERCENTILE = 10.0
_FLOOR_SPREAD_DB = 3.5
_PLACES_MOST = 10


def structure_of(survey: Survey) -> Structure | None:
    """Find the runs of sound in it; None where nothing stands out of the rest."""
    return structure_of_power(survey.power.astype(np.float64))


def quiet_ranges(
    structure: Structure, first: int, stop: int, shortest: int
) -> list[tuple[int, int]]:
    """Find stretches of undisturbed room tone, in samples, longest first.

    Frames are kept while under the 10th percentile of the range's own quiet frames + 3.5 dB and
    at least 60 ms from any run of sound.

    Parameters
    ----------
    first, stop : int
        Range of frames to look in.
    shortest : int
        Stretches of fewer samples are left out.
    """
    first, stop = max(0, first), min(structure.level.size, stop)
    near = structure.level[first:stop]
    away = np.ones(near.size, dtype=np.bool_)
    guard = 12
    runs = structure.runs
    for start, end in runs[(runs[:, 0] < stop + guard) & (runs[:, 1] > first - guard)]:
        away[max(0, start - guard - first) : max(0, end + guard - first)] = False
    if not away.any():
        return []
    limit = np.percentile(near[away], _FLOOR_PERCENTILE) + _FLOOR_SPREAD_DB
    found = [
        ((start + first) * FRAME_SAMPLES, (end + first) * FRAME_SAMPLES)
        for start, end in ranges_of(away & (near <= limit))
        if (end - start) * FRAME_SAMPLES >= shortest
    ]
    return sorted(found, key=lambda pair: pair[0] - pair[1])


def quietest_places(structure: Structure, samples: int) -> list[tuple[int, int]]:
    """Give up to ten of the quietest stretches of a length, wherever they lie, quietest first.

    For recordings without a single pause: what is nearest to room tone in them.
    """
    frames = max(1, samples // FRAME_SAMPLES)
    if structure.level.size < frames:
        return []
    smooth = np.convolve(structure.level, np.full(frames, 1.0 / frames), mode="valid")
    found: list[int] = []
    for place in np.argsort(smooth, kind="stable"):
        if all(abs(int(place) - other) >= frames for other in found):
            found.append(int(place))
        if len(found) == _PLACES_MOST or smooth[place] > smooth[found[0]] + _OVER_FLOOR_DB:
            break
    return [(place * FRAME_SAMPLES, place * FRAME_SAMPLES + samples) for place in found]
