"""Hear what was begun and read again as it was read, and cut: joined as finishing joins it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from quietleaf.booth.timeline import Place
from quietleaf.errors import Conflict, NotFound
from quietleaf.finishing.assembly import dry_range
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.storage.reading_folder import find_reading
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.units import clock, ratio_of_db
from quietleaf.work.heard_sound import plan_of
from quietleaf.work.take_places import TakePlaces
from quietleaf.work.things_to_decide import cut_at
from quietleaf.work.tools import Tools

BEFORE_SAMPLES = 4 * RATE_HZ
AFTER_SAMPLES = 4 * RATE_HZ
"""A few words on both sides. Ours."""
LONGEST_SAMPLES = 120 * RATE_HZ
"""So much of a first try is rendered at once: memory stays flat. Ours."""


def hear_cut(
    reading_id: str, start: Place, stop: Place, is_out: bool, tools: Tools
) -> NDArray[np.float64]:
    """Render the sound around a place at which finishing knows of a cut.

    Parameters
    ----------
    is_out : bool
        With the cut made; without it as it was read.

    Returns
    -------
    sound : ndarray, shape (n,), full scale 1.0
        At 48 kHz, as loud as the master, before its limiter; turned down where it would go beyond
        full scale.

    Raises
    ------
    NotFound
        If there is no such reading, it was not finished, or no cut is known at the place.
    Conflict
        If the reading was changed since it was finished, or the cut is too long to compare.
    """
    folder = find_reading(tools.data, reading_id)
    plan = plan_of(tools.database.reading(reading_id), tools)
    places = TakePlaces(folder)
    if plan is None:
        raise NotFound("review/no-plan", "This reading is not finished yet. Finish it to compare.")
    layout = plan.layout
    if layout.sound_samples != places.samples:
        raise Conflict(
            "reading/other-sound",
            "This reading was changed since it was finished. Finish it again to compare.",
        )
    cut = cut_at((places.sample_of(start), places.sample_of(stop)), layout)
    if cut is None:
        raise NotFound("review/no-cut", "No cut is known at that place of this reading.")
    if cut.stop - cut.start > LONGEST_SAMPLES:
        raise Conflict(
            "review/long-cut",
            f"This cut takes out {clock((cut.stop - cut.start) / RATE_HZ)}, which is too long to "
            "compare. Hear it in the reading.",
        )
    wanted = replace(cut, state="made" if is_out else "refused")
    cuts = tuple(wanted if one is cut else one for one in layout.cuts)
    with TimelineSound(folder, RATE_HZ) as sound:
        heard, _ = dry_range(
            replace(layout, cuts=cuts),
            sound,
            cut.start - BEFORE_SAMPLES,
            cut.stop + AFTER_SAMPLES,
        )
    heard = heard * ratio_of_db(plan.wave.gain_db)
    louder: NDArray[np.float64] = heard / max(1.0, float(np.abs(heard).max()))
    return louder
