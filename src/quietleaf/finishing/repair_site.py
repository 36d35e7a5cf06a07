"""Where a repair may be made: what lies in a pause, how far the room is quiet beside it, and which
room tone can take its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from quietleaf.finishing.repairs import Ranges
from quietleaf.finishing.structure import quiet_ranges
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.listening.structure import FRAMES_PER_S, Structure, floor_near
from quietleaf.units import db_of_power

SETTLED_DB = 4.0
_SETTLED_FRAMES = 3
_REACH_FRAMES = round(0.5 * FRAMES_PER_S)
"""What does not settle within half a second goes on: it touches something."""
_STANDS_OUT_DB = 8.0
_PART_GAP_FRAMES = round(0.1 * FRAMES_PER_S)
_PARTS_MOST = 3
_NEAR_FRAMES = 3 * FRAMES_PER_S
_QUIET_WITHIN_S = (4, 15, 60)
_QUIET_ENOUGH_SAMPLES = 24_000
_QUIET_LEAST_SAMPLES = 9_600
_QUIET_MOST_SAMPLES = 96_000
_QUIET_SHORTEST_SAMPLES = 2_400
_BESIDE_FRAMES = round(0.3 * FRAMES_PER_S)
_BESIDE_LEAST = 8
_TONE_DB_MOST = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A range in a pause, in frames, from settled room to settled room.

    Attributes
    ----------
    touches_before, touches_after : bool
        There is no room between it and what is before, or after.
    floor_dbov : float
        Of the room around.
    """

    first: int
    stop: int
    touches_before: bool
    touches_after: bool
    floor_dbov: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """Room tone for a place: where it is drawn from, and by how much it is laid louder."""

    quiet: Ranges
    tone_db: float


def sites_of(structure: Structure, first: int, stop: int) -> list[Site]:
    """Walk from what was found, a range of frames, to where 15 ms lie under the room + 4 dB.

    Returns
    -------
    sites : list of Site
        The one that takes in what follows within 0.1 s, or is before it, comes first: a cough has
        parts. The last one is the plain one.
    """
    floor = floor_near(structure, first - _NEAR_FRAMES, stop + _NEAR_FRAMES)
    plain = _site(structure, first, stop, floor)
    loud = structure.level >= floor + _STANDS_OUT_DB
    more = plain
    for _ in range(_PARTS_MOST):
        lowest = max(0, more.first - _PART_GAP_FRAMES)
        before = np.flatnonzero(loud[lowest : more.first])
        after = np.flatnonzero(loud[more.stop : more.stop + _PART_GAP_FRAMES])
        if not before.size and not after.size:
            break
        first = lowest + int(before[0]) if before.size else more.first + _SETTLED_FRAMES
        stop = more.stop + (int(after[-1]) + 1 if after.size else -_SETTLED_FRAMES)
        more = _site(structure, first, stop, floor)
    return [plain] if more == plain else [more, plain]


def _site(structure: Structure, first: int, stop: int, floor: float) -> Site:
    level, limit = structure.level, floor + SETTLED_DB
    begin, found_before = _settled(level, first, -1, limit)
    end, found_after = _settled(level, stop - 1, 1, limit)
    return Site(
        first=begin,
        stop=end + 1,
        touches_before=not found_before,
        touches_after=not found_after,
        floor_dbov=floor,
    )


def drawn_near(structure: Structure, site: Site, taken: Sequence[tuple[int, int]]) -> Drawn | None:
    """Choose room tone near by; None where there is under 0.2 s of it within a minute.

    Parameters
    ----------
    taken : sequence of (int, int)
        Samples that something was found in.
    """
    chosen: list[tuple[int, int]] = []
    for within_s in _QUIET_WITHIN_S:
        reach = within_s * FRAMES_PER_S
        found = quiet_ranges(
            structure, site.first - reach, site.stop + reach, _QUIET_SHORTEST_SAMPLES
        )
        free = [one for one in found if not any(one[0] < b and a < one[1] for a, b in taken)]
        chosen = _first_of(free)
        if sum(stop - start for start, stop in chosen) >= _QUIET_ENOUGH_SAMPLES:
            break
    if sum(stop - start for start, stop in chosen) < _QUIET_LEAST_SAMPLES:
        return None
    return Drawn(quiet=tuple(sorted(chosen)), tone_db=round(_tone_db(structure, site, chosen), 2))


def _settled(
    level: np.ndarray[tuple[int], np.dtype[np.float64]], frame: int, step: int, limit: float
) -> tuple[int, bool]:
    quiet = 0
    last = frame
    for _ in range(_REACH_FRAMES + _SETTLED_FRAMES):
        if not 0 <= last + step < level.size:
            return last, True
        last += step
        quiet = quiet + 1 if level[last] < limit else 0
        if quiet == _SETTLED_FRAMES:
            return last, True
    return frame, False


def _first_of(free: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    chosen: list[tuple[int, int]] = []
    total = 0
    for start, stop in free:
        if total >= _QUIET_MOST_SAMPLES:
            break
        stop = min(stop, start + _QUIET_MOST_SAMPLES - total)
        chosen.append((int(start), int(stop)))
        total += int(stop) - int(start)
    return chosen


def _tone_db(structure: Structure, site: Site, chosen: Sequence[tuple[int, int]]) -> float:
    """Give by how much the room right beside a site is louder than what is drawn."""
    level = structure.level
    beside = np.concatenate(
        [
            level[max(0, site.first - _BESIDE_FRAMES) : site.first],
            level[site.stop : site.stop + _BESIDE_FRAMES],
        ]
    )
    beside = beside[beside < site.floor_dbov + SETTLED_DB]
    if beside.size < _BESIDE_LEAST:
        return 0.0
    drawn = np.concatenate(
        [level[start // FRAME_SAMPLES : stop // FRAME_SAMPLES] for start, stop in chosen]
    )
    here, there = (db_of_power(float(np.mean(10.0 ** (one / 10.0)))) for one in (beside, drawn))
    return float(np.clip(here - there, -_TONE_DB_MOST, _TONE_DB_MOST))
