"""What is shown of each repair: the sound as it came, and the master at the same place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, pairwise, zip_longest

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


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRepair:
    """A repair that is shown and compared, and how its sound becomes that of the master.

    Attributes
    ----------
    start, stop : int
        What is shown around it, in samples of the sound as it came.
    moved : int
        By how many samples that lies later in the master.
    gain : float
        What makes it as loud as the master.
    """

    repair: Repair
    start: int
    stop: int
    moved: int
    gain: float


def shown_repairs(plan: Plan) -> list[ShownRepair]:
    """Give the repairs that are shown, in order: of many the first of each kind."""
    layout = plan.layout
    moves = moves_of(layout)
    shown = []
    for repair in _first_of_each_kind(_heard_repairs(layout)):
        start, stop = _range_shown(repair, layout)
        middle = (start + stop) // 2
        gain = float(np.asarray(voice_gain(layout, moves, laid_place(layout, middle), 1)).item())
        shown.append(
            ShownRepair(
                repair=repair,
                start=start,
                stop=stop,
                moved=master_place(layout, middle) - middle,
                gain=gain * ratio_of_db(plan.wave.gain_db),
            )
        )
    return shown


def pictures_of_repairs(plan: Plan, sound: Sound, master: Sound) -> RepairPictures:
    """Draw the repairs that a plan made.

    Parameters
    ----------
    sound : Sound
        As it came.
    master : Sound
        The wave master of this plan.
    """
    pictures = tuple(
        picture_of_repair(_moment(shown, sound, master)) for shown in shown_repairs(plan)
    )
    return RepairPictures(shown=pictures, repairs=len(_heard_repairs(plan.layout)))


def around(sound: Sound, start: int, stop: int) -> NDArray[np.float64]:
    """Read a range, shape (stop - start,); beyond the ends of the sound there is silence."""
    samples = np.zeros(stop - start)
    first, last = max(0, start), min(stop, sound.info.frames)
    if first < last:
        samples[first - start : last - start] = sound.read(first, last)[:, 0]
    return samples


def _moment(shown: ShownRepair, sound: Sound, master: Sound) -> RepairedMoment:
    repair = shown.repair
    scale = LOW if repair.kind in _LOW_KINDS else WIDE
    start, stop = shown.start - scale.window_samples // 2, shown.stop + scale.window_samples // 2
    span = shown.stop - shown.start
    return RepairedMoment(
        kind=repair.kind,
        start_s=max(0, repair.start + shown.moved) / RATE_HZ,
        length_s=span / RATE_HZ,
        place=(
            max(0.0, (repair.start - shown.start) / span),
            min(1.0, (repair.stop - shown.start) / span),
        ),
        scale=scale,
        before=shown.gain * around(sound, start, stop),
        after=around(master, start + shown.moved, stop + shown.moved),
        told=_told(repair),
    )


def _heard_repairs(layout: Layout) -> list[Repair]:
    """Give what was repaired and is heard: its place was not cut out afterwards."""
    kept = kept_ranges(layout)
    heard = []
    for repair in layout.repairs:
        first, stop = _range_shown(repair, layout)
        if repair.state == "made" and any(a <= (first + stop) // 2 < b for a, b in kept):
            heard.append(repair)
    return heard


def _first_of_each_kind(repairs: Sequence[Repair]) -> list[Repair]:
    by_kind: dict[FindingKind, list[Repair]] = defaultdict(list)
    for repair in repairs:
        by_kind[repair.kind].append(repair)
    in_turn = [one for one in chain.from_iterable(zip_longest(*by_kind.values())) if one]
    return sorted(in_turn[:PICTURES_MOST], key=lambda one: (one.start, one.stop))


def _range_shown(repair: Repair, layout: Layout) -> tuple[int, int]:
    """Give 1.5 s around a repair, and more where it is longer: at most 3 s, of its middle.

    Of a hum it is the widest pause that was left whole: under the voice it hardly shows.
    """
    start, stop = repair.start, repair.stop
    if isinstance(repair, Interpolation) and repair.runs:
        start, stop = max(repair.runs, key=lambda run: run[1] - run[0])
    length = min(max(_SHORTEST_SAMPLES, stop - start + _AROUND_SAMPLES), _LONGEST_SAMPLES)
    if isinstance(repair, LinesTaken):
        length, kept = _SHORTEST_SAMPLES, kept_ranges(layout)
        pauses = [
            (before.stop, after.start)
            for before, after in pairwise(layout.sentences)
            if start <= before.stop
            and after.start <= stop
            and any(a <= before.stop and after.start <= b for a, b in kept)
        ]
        start, stop = max(pauses, key=lambda one: one[1] - one[0], default=(start, stop))
    length -= length % (2 * COLUMNS)
    first = (start + stop) // 2 - length // 2
    return first, first + length


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
