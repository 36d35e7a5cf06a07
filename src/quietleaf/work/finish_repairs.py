"""What a report says of the repairs: what was done, with figures, what was not, what stayed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from quietleaf.delivery.report import Deed
from quietleaf.finishing.assembly import kept_ranges, master_place
from quietleaf.finishing.plan import RATE_HZ, Cut, Layout
from quietleaf.finishing.repairs import (
    Interpolation,
    LinesTaken,
    LowBand,
    Repair,
    Replaced,
    TurnedDown,
)
from quietleaf.listening.findings import Finding, FindingKind
from quietleaf.units import clock, samples_of_s

_NAMES: dict[FindingKind, tuple[str, str]] = {
    "clip": ("moment of clipping", "moments of clipping"),
    "dropout": ("dropout", "dropouts"),
    "click": ("click", "clicks"),
    "pop": ("popped consonant", "popped consonants"),
    "breath": ("loud breath", "loud breaths"),
    "noise": ("noise", "noises"),
    "rustle": ("paper noise", "paper noises"),
    "cough": ("cough", "coughs"),
    "hum": ("stretch of hum", "stretches of hum"),
}
_DONE: dict[type[Repair], str] = {
    Interpolation: "made anew from the sound around",
    LowBand: "turned down in the low band alone",
    TurnedDown: "turned down",
    Replaced: "replaced by room tone",
    LinesTaken: "taken out of the sound",
}
_FIGURES: dict[FindingKind, Callable[[Repair], str]] = {
    "clip": lambda one: _figures(one, "runs", "after_runs", "flat tops", 0),
    "dropout": lambda one: f"{one.measured.get('gap_ms', 0.0):.1f} ms",
    "pop": lambda one: _figures(one, "over_voice_db", "after_db", "dB over the voice"),
    "breath": lambda one: _figures(one, "over_db", "after_db", "dB"),
    "hum": lambda one: _figures(one, "under_voice_db", "after_db", "dB under the voice"),
}


def deeds_of_repairs(layout: Layout) -> list[Deed]:
    """Say what was repaired, kind by kind with a figure before and after each, and what was not."""
    deeds = []
    made = [one for one in layout.repairs if one.state == "made"]
    for sort, done in _DONE.items():
        for kind in _NAMES:
            mine = [one for one in made if isinstance(one, sort) and one.kind == kind]
            if mine:
                deeds.append(
                    Deed(
                        text=f"{_counted(kind, len(mine))} {done}",
                        reason="; ".join(f"{_place(one)}: {_told(one)}" for one in mine),
                    )
                )
    for state, words in (("left", "not repaired"), ("refused", "not repaired, as the desk wished")):
        left = [one for one in layout.repairs if one.state == state]
        if left:
            count = f"{len(left)} thing{'s' * (len(left) > 1)}"
            reason = "; ".join(f"{_place(one)}: {one.reason}" for one in left)
            deeds.append(Deed(text=f"{count} {words}", reason=reason))
    return deeds


def deeds_of_repairs_heard(layout: Layout, heard: Sequence[Finding]) -> list[Deed]:
    """Say whether what was repaired or cut is heard in the master again."""
    again = repaired_and_heard(layout, heard)
    if not again:
        return []
    places = ", ".join(clock(one.start_s) for one in again)
    many = len(again) > 1
    return [
        Deed(
            text=f"{len(again)} repair{'s' * many} did not help enough",
            reason=f"heard in the master again, at {places}: {'they are' if many else 'it is'} "
            "among the things to hear",
        )
    ]


def repaired_and_heard(layout: Layout, heard: Sequence[Finding]) -> list[Finding]:
    """Give what is found in the master, in its own seconds, where the same was repaired or cut.

    A first try that was left, beside one that was cut, is none of it.
    """
    repaired = [
        (one.kind, _in_master(layout, one)) for one in layout.repairs if one.state == "made"
    ]
    restarts = [cut for cut in layout.cuts if cut.kind == "restart"]
    left = [_in_master(layout, cut) for cut in restarts if cut.state != "made"]
    joins = [_in_master(layout, cut)[1] for cut in restarts if cut.state == "made"]
    again = []
    for finding in heard:
        span = (round(finding.start_s * RATE_HZ), round(finding.end_s * RATE_HZ))
        if finding.severity == "note":
            continue
        if finding.kind == "restart":
            is_left = any(2 * _shared(span, one) > span[1] - span[0] for one in left)
            if not is_left and any(abs(span[1] - join) < RATE_HZ for join in joins):
                again.append(finding)
        elif any(kind == finding.kind and _shared(span, one) > 0 for kind, one in repaired):
            again.append(finding)
    return again


def is_done_with(layout: Layout, finding: Finding) -> bool:
    """Say whether what was found in the sound as it came was repaired, or cut out.

    Of clipping with runs that were too long, some is left.
    """
    start, stop = (samples_of_s(at_s, RATE_HZ) for at_s in (finding.start_s, finding.end_s))
    if finding.kind == "restart":
        kept = sum(max(0, min(b, stop) - max(a, start)) for a, b in kept_ranges(layout))
        return kept < (stop - start) / 2
    return any(
        one.state == "made"
        and one.kind == finding.kind
        and one.start < stop + 1
        and one.stop > start
        and not _is_partial(one)
        for one in layout.repairs
    )


def _is_partial(repair: Repair) -> bool:
    return (
        isinstance(repair, Interpolation)
        and repair.kind == "clip"
        and repair.measured.get("runs", 0.0) > len(repair.runs)
    )


def _in_master(layout: Layout, entry: Repair | Cut) -> tuple[int, int]:
    return master_place(layout, entry.start), master_place(layout, entry.stop)


def _shared(one: tuple[int, int], other: tuple[int, int]) -> int:
    return min(one[1], other[1]) - max(one[0], other[0])


def _counted(kind: FindingKind, count: int) -> str:
    return f"{count} {_NAMES[kind][count > 1]}"


def _place(repair: Repair) -> str:
    return clock(repair.start / RATE_HZ)


def _told(repair: Repair) -> str:
    if repair.by == "desk":
        return f"by the desk: {repair.reason}"
    told = _FIGURES.get(repair.kind)
    if told is None or isinstance(repair, Replaced):
        return _figures(repair, "over_room_db", "after_db", "dB over the room", 0)
    return told(repair)


def _figures(repair: Repair, before: str, after: str, unit: str, decimals: int = 1) -> str:
    measured = repair.measured
    if before not in measured or after not in measured:
        return repair.reason
    return f"{measured[before]:.{decimals}f} {unit} before, {measured[after]:.{decimals}f} after"
