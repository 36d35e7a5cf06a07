"""Hear a repair: the sound as it came and the master at the same place, equally loud."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import Conflict, NotFound
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.plan_json import plan_of_text
from quietleaf.storage.codecs import open_sound
from quietleaf.storage.reading_folder import find_reading
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.finish_pictures import ShownRepair, around, shown_repairs
from quietleaf.work.see_reading import find_made_file
from quietleaf.work.tools import Tools

LEAD_IN_SAMPLES = RATE_HZ * 3 // 2
"""A word or two before what is shown, and after it. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardRepair:
    """Both sounds around a repair.

    Attributes
    ----------
    before, now : ndarray, shape (n,), full scale 1.0
        Turned down together where one would go beyond full scale.
    """

    before: NDArray[np.float64]
    now: NDArray[np.float64]
    sample_rate_hz: int


def hear_repair(reading_id: str, number: str, tools: Tools) -> HeardRepair:
    """Give the sound around one of the repairs that a report shows.

    Parameters
    ----------
    number : str
        Which of them, counted from 1.

    Raises
    ------
    NotFound
        If there is no such reading, no master of it, or no such repair.
    Conflict
        If the reading was changed since it was finished.
    Damaged
        If a take or the master is not as it was written.
    """
    names = {made.kind: made.path for made in tools.database.reading(reading_id).masters}
    paths = [names.get(kind, "").rpartition("/")[2] for kind in ("plan", "wave")]
    plan_path, wave_path = (find_made_file(reading_id, name, tools) for name in paths)
    plan = plan_of_text(plan_path.read_text(encoding="utf-8"))
    shown = _numbered(shown_repairs(plan), number)
    start, stop = shown.start - LEAD_IN_SAMPLES, shown.stop + LEAD_IN_SAMPLES
    with TimelineSound(find_reading(tools.data, reading_id), RATE_HZ) as sound:
        if sound.info.frames != plan.layout.sound_samples:
            raise Conflict(
                "reading/other-sound",
                "This reading was changed since it was finished. Finish it again to compare.",
            )
        before = shown.gain * around(sound, start, stop)
    with open_sound(wave_path) as master:
        now = around(master, start + shown.moved, stop + shown.moved)
    fits = 1.0 / max(1.0, float(np.abs(before).max()), float(np.abs(now).max()))
    return HeardRepair(before=fits * before, now=fits * now, sample_rate_hz=RATE_HZ)


def _numbered(shown: list[ShownRepair], number: str) -> ShownRepair:
    wanted = int(number) if re.fullmatch("[0-9]{1,6}", number) else 0
    if not 1 <= wanted <= len(shown):
        raise NotFound("reading/no-repair", "There is no repair of that number in this reading.")
    return shown[wanted - 1]
