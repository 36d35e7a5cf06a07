"""What the fit puts into a plan, as JSON and back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from quietleaf.finishing.entries import AUTHORS, STATES
from quietleaf.finishing.fit_entries import (
    PAUSE_KINDS,
    PaceChange,
    PauseChange,
    ShortItem,
    StopPlace,
)
from quietleaf.finishing.plan import Fit
from quietleaf.finishing.plan_entry import Entry, place_clock, read_pairs, read_range, refusal
from quietleaf.finishing.tempo import STRETCH_SAMPLES_MIN

_PACE_MOST = 0.05
"""A desk that changes an entry may go beyond what is planned, and no further than is unheard."""


def fit_to_json(fit: Fit) -> dict[str, Any]:
    """Write what was done for a length; nothing where nothing was wanted."""
    written: dict[str, Any] = {}
    if fit.wanted_samples is not None:
        written = {
            "wanted_samples": fit.wanted_samples,
            "reason": fit.reason,
            "measured": dict(fit.measured),
        }
    if not fit.stops:
        return written
    stops = [
        {
            "at": place_clock(stop.sample),
            "sample": stop.sample,
            "length_s": stop.length_s,
            "leaves_out_s": stop.leaves_out_s,
            "leaves_out": list(stop.leaves_out),
            "state": stop.state,
            "by": stop.by,
        }
        for stop in fit.stops
    ]
    return {**written, "stops": stops}


def stop_of_entry(entry: Entry) -> StopPlace:
    """Read a place to stop."""
    stop = StopPlace(
        sample=entry.whole("sample"),
        length_s=entry.number("length_s", 0.0),
        leaves_out_s=entry.number("leaves_out_s", 0.0),
        leaves_out=entry.texts("leaves_out"),
        # Plans from before one could be chosen have neither.
        state=entry.text("state", STATES) if entry.has("state") else "left",
        by=entry.text("by", AUTHORS) if entry.has("by") else "plan",
    )
    entry.finished()
    return stop


def pause_of_entry(entry: Entry) -> PauseChange:
    """Read a pause that changes."""
    start, stop = read_range(entry)
    pause = PauseChange(
        kind=entry.text("kind", PAUSE_KINDS),
        start=start,
        stop=stop,
        samples=entry.whole("samples", least=1),
        place=entry.whole("place"),
        seed=entry.whole("seed"),
        quiet=read_pairs(entry, "quiet"),
        state=entry.text("state", STATES),
        by=entry.text("by", AUTHORS),
        reason=entry.text("reason"),
        measured=entry.measured(),
    )
    entry.finished()
    if not start <= pause.place <= pause.place - min(pause.change, 0) <= stop:
        raise refusal(entry.where, "takes more than its pause holds")
    return pause


def pace_of_entry(entry: Entry) -> PaceChange:
    """Read a stretch of speech that changes its pace."""
    start, stop = read_range(entry)
    pace = PaceChange(
        start=start,
        stop=stop,
        samples=entry.whole("samples", least=1),
        state=entry.text("state", STATES),
        by=entry.text("by", AUTHORS),
        reason=entry.text("reason"),
        measured=entry.measured(),
    )
    entry.finished()
    if stop - start < STRETCH_SAMPLES_MIN or abs(pace.change) > _PACE_MOST * (stop - start):
        raise refusal(entry.where, "changes the pace by more than can be done to it")
    return pace


def item_of_entry(entry: Entry) -> ShortItem:
    """Read a short item."""
    item = ShortItem(
        key=entry.text("key"),
        title=entry.text("title"),
        samples=entry.whole("samples", least=1),
        gain_db=entry.number("gain_db", -60.0, 60.0),
        state=entry.text("state", STATES),
        by=entry.text("by", AUTHORS),
        reason=entry.text("reason"),
        measured=entry.measured(),
    )
    entry.finished()
    return item


def check_changes(name: str, changes: Sequence[PauseChange | PaceChange], samples: int) -> None:
    """See to it that changes are in order, apart, and inside the sound."""
    reached = 0
    for index, change in enumerate(changes):
        if change.start < reached or change.stop > samples:
            raise refusal(f"plan.{name}[{index}]", "overlaps another, or the sound's end")
        reached = change.stop
        quiet = change.quiet if isinstance(change, PauseChange) else ()
        if any(stop > samples for _, stop in quiet):
            raise refusal(f"plan.{name}[{index}]", "is taken from past the end of the sound")
