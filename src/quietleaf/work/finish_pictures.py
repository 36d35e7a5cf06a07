"""What is shown of each repair: the sound as it came, and the master at the same place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import chain, zip_longest

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.repair_picture import (
    PICTURES_MOST,
    RepairedMoment,
    RepairPictures,
    picture_of_repair,
)
from quietleaf.delivery.report_words import KEPT, begun, counted
from quietleaf.delivery.spectrogram import COLUMNS, LOW, WIDE
from quietleaf.finishing.assembly import (
    kept_ranges,
    laid_place,
    master_place,
    moves_of,
    voice_gain,
)
from quietleaf.finishing.plan import RATE_HZ, Layout, Plan
from quietleaf.finishing.ranges import Sound
from quietleaf.finishing.repairs import Interpolation, LinesTaken, Repair
from quietleaf.listening.findings import FindingKind
from quietleaf.units import ratio_of_db

_SHORTEST_SAMPLES = RATE_HZ * 3 // 2
_LONGEST_SAMPLES = RATE_HZ * 3
_AROUND_SAMPLES = RATE_HZ * 4 // 5
_LOW_KINDS: tuple[FindingKind, ...] = ("pop", "hum")


def pictures_of_repairs(plan: Plan, sound: Sound, master: Sound) -> RepairPictures:
    """Draw the repairs that a plan made, in the order of the sound.

    Parameters
    ----------
    sound : Sound
        As it came.
    master : Sound
        The wave master of this plan.
    """
    layout = plan.layout
    made = [one for one in layout.repairs if one.state == "made" and _is_heard(layout, one)]
    moves = moves_of(layout)

    def moment(repair: Repair) -> RepairedMoment:
        first, stop = _range_shown(repair)
        middle = (first + stop) // 2
        gain = voice_gain(layout, moves, laid_place(layout, middle), 1)
        loudness = float(np.asarray(gain).item()) * ratio_of_db(plan.wave.gain_db)
        moved = master_place(layout, middle) - middle
        scale = LOW if repair.kind in _LOW_KINDS else WIDE
        half = scale.window_samples // 2
        span = stop - first
        return RepairedMoment(
            kind=repair.kind,
            start_s=max(0, master_place(layout, repair.start)) / RATE_HZ,
            length_s=span / RATE_HZ,
            place=(
                max(0.0, (repair.start - first) / span),
                min(1.0, (repair.stop - first) / span),
            ),
            scale=scale,
            before=loudness * _samples(sound, first - half, stop + half),
            after=_samples(master, first + moved - half, stop + moved + half),
            told=_told(repair),
        )

    shown = tuple(picture_of_repair(moment(repair)) for repair in _first_of_each_kind(made))
    return RepairPictures(shown=shown, repairs=len(made))


def _is_heard(layout: Layout, repair: Repair) -> bool:
    """Say whether the place of a repair was not cut out afterwards."""
    first, stop = _range_shown(repair)
    return any(start <= (first + stop) // 2 < end for start, end in kept_ranges(layout))


def _first_of_each_kind(repairs: Sequence[Repair]) -> list[Repair]:
    by_kind: dict[FindingKind, list[Repair]] = defaultdict(list)
    for repair in repairs:
        by_kind[repair.kind].append(repair)
    in_turn = [one for one in chain.from_iterable(zip_longest(*by_kind.values())) if one]
    return sorted(in_turn[:PICTURES_MOST], key=lambda one: (one.start, one.stop))


def _range_shown(repair: Repair) -> tuple[int, int]:
    """Give 1.5 s around a repair, and more where it is longer: at most 3 s, of its middle."""
    start, stop = repair.start, repair.stop
    if isinstance(repair, Interpolation) and repair.runs:
        start, stop = max(repair.runs, key=lambda run: run[1] - run[0])
    length = _SHORTEST_SAMPLES
    if not isinstance(repair, LinesTaken):
        length = min(max(length, stop - start + _AROUND_SAMPLES), _LONGEST_SAMPLES)
    length -= length % (2 * COLUMNS)
    first = (start + stop) // 2 - length // 2
    return first, first + length


def _samples(sound: Sound, start: int, stop: int) -> NDArray[np.float64]:
    """Read a range; there is silence before the beginning and after the end."""
    samples = np.zeros(stop - start)
    first, last = max(0, start), min(stop, sound.info.frames)
    if first < last:
        samples[first - start : last - start] = sound.read(first, last)[:, 0]
    return samples


def _told(repair: Repair) -> str:
    """Say what was measured before and after; nothing of what the desk asked for."""
    measured = repair.measured
    if "after_runs" in measured:
        tops = counted(round(measured["runs"]), "flat top was", "flat tops were")
        left = round(measured["after_runs"])
        return f"{begun(tops)} here; {counted(left, 'is', 'are') if left else 'none is'} left."
    if "after_db" not in measured:
        return ""
    after_db = measured["after_db"]
    if repair.kind == "breath" and "over_db" in measured:
        limit_db = measured["limit_db"]
        return _stood(measured["over_db"] - limit_db, after_db - limit_db, "what makes it loud")
    if "over_voice_db" in measured:
        return _stood(measured["over_voice_db"], after_db, "the voice")
    if "under_voice_db" in measured:
        return _stood(-measured["under_voice_db"], -after_db, "the voice")
    if "gap_ms" in measured:
        told = _stood(measured["before_db"], after_db, "what is around")
        return f"For {measured['gap_ms']:.1f}{KEPT}ms: {told[:1].lower()}{told[1:]}"
    return _stood(measured["over_room_db"], after_db, "the room")


def _stood(before_db: float, after_db: float, beside: str) -> str:
    return f"It stood {_over(before_db)} {beside}, and stands {_over(after_db)} it now."


def _over(level_db: float) -> str:
    return f"{abs(level_db):.1f}{KEPT}dB {'under' if level_db < 0.0 else 'over'}"
