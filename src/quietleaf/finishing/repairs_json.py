"""The repairs of a plan as entries of its file, and back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from itertools import combinations
from typing import Any, get_args

from quietleaf.finishing.entries import AUTHORS, STATES
from quietleaf.finishing.plan_entry import Entry, read_pairs, refusal
from quietleaf.finishing.repaired_sound import same_layer
from quietleaf.finishing.repairs import (
    Interpolation,
    LinesTaken,
    LowBand,
    Repair,
    Replaced,
    TurnedDown,
)
from quietleaf.listening.findings import FindingKind

_KINDS: tuple[str, ...] = get_args(FindingKind)
_MOST_DB = 60.0


def repair_to_json(repair: Repair) -> dict[str, Any]:
    """Write a repair; ``how`` says what is done."""
    values = asdict(repair)
    how = next(name for name, (sort, _) in _SORTS.items() if isinstance(repair, sort))
    return {"kind": values.pop("kind"), "how": how, **values, "measured": dict(repair.measured)}


def repair_of_entry(entry: Entry) -> Repair:
    """Read a repair.

    Raises
    ------
    Invalid
        If it does not hold together.
    """
    _, read = _SORTS[entry.text("how", tuple(_SORTS))]
    start, stop = entry.whole("start"), entry.whole("stop")
    if stop <= start:
        raise refusal(entry.where, f"ends at {stop}, before it begins")
    repair = read(
        entry,
        {
            "kind": entry.text("kind", _KINDS),
            "start": start,
            "stop": stop,
            "state": entry.text("state", STATES),
            "by": entry.text("by", AUTHORS),
            "reason": entry.text("reason"),
            "measured": entry.measured(),
        },
    )
    entry.finished()
    return repair


def check_repairs(repairs: Sequence[Repair], samples: int) -> None:
    """See to it that repairs fit the sound, and that no two are made of the same sound there.

    Raises
    ------
    Invalid
    """
    for index, repair in enumerate(repairs):
        where = f"plan.repairs[{index}]"
        if repair.stop > samples:
            raise refusal(where, "reaches past the end of the sound")
        quiet = repair.quiet if isinstance(repair, TurnedDown | Replaced) else ()
        if any(stop > samples for _, stop in quiet):
            raise refusal(where, "is taken from past the end of the sound")
        if isinstance(repair, Interpolation):
            _check_runs(repair, where)
    made = [one for one in repairs if one.state == "made"]
    ordered = sorted(made, key=lambda one: one.start)
    for one, other in combinations(ordered, 2):
        if other.start < one.stop and same_layer(one, other):
            raise refusal(
                "plan.repairs", f"has two of one sort over each other at sample {other.start}"
            )


def _check_runs(repair: Interpolation, where: str) -> None:
    reached = repair.start
    for start, stop in repair.runs:
        if start < reached or stop > repair.stop:
            raise refusal(f"{where}.runs", "are not in order inside of it")
        reached = stop
    if not repair.runs and repair.state == "made":
        raise refusal(f"{where}.runs", "is empty")


def _interpolation(entry: Entry, common: dict[str, Any]) -> Repair:
    return Interpolation(**common, runs=read_pairs(entry, "runs"))


def _low_band(entry: Entry, common: dict[str, Any]) -> Repair:
    return LowBand(
        **common,
        corner_hz=entry.number("corner_hz", 20.0, 400.0),
        by_db=entry.number("by_db", 0.0, _MOST_DB),
    )


def _turned_down(entry: Entry, common: dict[str, Any]) -> Repair:
    return TurnedDown(
        **common,
        by_db=entry.number("by_db", 0.0, _MOST_DB),
        quiet=read_pairs(entry, "quiet"),
        seed=entry.whole("seed"),
        tone_db=entry.number("tone_db", -_MOST_DB, _MOST_DB),
    )


def _replaced(entry: Entry, common: dict[str, Any]) -> Repair:
    return Replaced(
        **common,
        quiet=read_pairs(entry, "quiet"),
        seed=entry.whole("seed"),
        tone_db=entry.number("tone_db", -_MOST_DB, _MOST_DB),
    )


def _lines_taken(entry: Entry, common: dict[str, Any]) -> Repair:
    lines = entry.take("lines")
    where = f"{entry.where}.lines"
    if not isinstance(lines, list):
        raise refusal(where, "is not a list")
    each = Entry({str(index): line for index, line in enumerate(lines)}, where)
    return LinesTaken(
        **common,
        mains_hz=entry.number("mains_hz", 40.0, 70.0),
        lines=tuple(each.whole(str(index), least=1) for index in range(len(lines))),
    )


_SORTS: dict[str, tuple[type[Repair], Callable[[Entry, dict[str, Any]], Repair]]] = {
    "interpolated": (Interpolation, _interpolation),
    "low band turned down": (LowBand, _low_band),
    "turned down": (TurnedDown, _turned_down),
    "replaced by room tone": (Replaced, _replaced),
    "lines taken away": (LinesTaken, _lines_taken),
}
