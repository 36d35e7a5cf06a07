"""Decide what becomes of an entry of a reading's finishing plan, or how long it is to be."""

from __future__ import annotations

from dataclasses import dataclass

from quietleaf.booth.edits import Edit, PlanDecided, Wanted
from quietleaf.booth.timeline import Place
from quietleaf.errors import Conflict, Invalid
from quietleaf.finishing.at_places import ENTRY_SORTS
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import find_reading
from quietleaf.units import clock
from quietleaf.work.clearing import DESK
from quietleaf.work.decisions_on import LENGTH
from quietleaf.work.finish_request import LONGEST_FIT_S, SHORTEST_FIT_S, refuse_unfinishable
from quietleaf.work.tools import Tools

STRENGTH_DB = (0.5, 30.0)
GAIN_DB = (-12.0, 12.0)
PAUSE_S = (0.05, 10.0)
"""What the desk may give a repair, a sentence and a pause. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DecideOnPlan:
    """Whose wish it is, and what.

    Attributes
    ----------
    who : str
        The account; empty at a station without accounts.
    revision : int
        Of the reading, as they saw it.
    asked_id : str
        Made by the page, so that asking twice enters it once.
    of : str
        The sort of the entry; ``length`` for that of the whole.
    what : str
        Its kind, or the key of a short item.
    start, stop : Place or None
    value : float or None
        What it is changed to: dB or seconds.
    """

    reading_id: str
    who: str
    revision: int
    asked_id: str
    of: str
    what: str
    start: Place | None
    stop: Place | None
    wanted: Wanted
    value: float | None = None


def decide_on_plan(request: DecideOnPlan, tools: Tools) -> Edit:
    """Enter a decision; it is carried out when the reading is finished the next time.

    Raises
    ------
    NotFound
        If there is no such reading.
    Conflict
        If the reading has changed since it was seen, is being read, or is cleared.
    Invalid
        If the value is out of reach, or nothing can be decided about this.
    """
    if request.of not in (*ENTRY_SORTS, LENGTH):
        raise Invalid(
            "plan-decision/entry",
            "That is nothing that can be decided about. Open the page again.",
        )
    _refuse_value(request)
    folder = find_reading(tools.data, request.reading_id)
    refuse_unfinishable(folder.state)
    if request.of in (LENGTH, "stop") and request.wanted == "made":
        _refuse_private(folder.facts.programme_key, tools)
    what = PlanDecided(
        of=request.of,
        what=request.what,
        start=request.start,
        stop=request.stop,
        wanted=request.wanted,
        value=request.value,
    )
    try:
        edit = folder.append(
            what,
            author=request.who or DESK,
            at=tools.clock(),
            revision=request.revision,
            edit_id=request.asked_id,
        )
    except Conflict as refusal:
        if refusal.code != "ledger/stale":
            raise
        changed = folder.reload().ledger()[-1]
        raise Conflict(
            "plan-decision/changed",
            f"Nothing of yours was entered: {changed.author} changed this reading at "
            f"{changed.at:%H:%M} UTC, after you had opened the page. Look at it as it is now, "
            "then decide.",
        ) from refusal
    tools.database.index_reading(reading_row(folder))
    return edit


def _refuse_value(request: DecideOnPlan) -> None:
    value = request.value
    if request.wanted != "made" or value is None:
        if request.wanted == "made" and request.of == LENGTH:
            raise Invalid("plan-decision/length", "A length is needed, like 58:00.")
        return
    if request.of == LENGTH:
        if not SHORTEST_FIT_S <= value <= LONGEST_FIT_S:
            raise Invalid(
                "plan-decision/length",
                f"A programme can be fitted to a length of {clock(SHORTEST_FIT_S)} to "
                f"{clock(LONGEST_FIT_S)}; {clock(value)} was asked for.",
            )
        return
    reach = _REACH.get(request.of)
    if reach is None:
        raise Invalid(
            "plan-decision/value", "That can be made or refused, and has no strength to change."
        )
    name, unit, (least, most) = reach
    if not least <= value <= most:
        raise Invalid(
            "plan-decision/value",
            f"{name} goes from {least:g} to {most:g} {unit}; {value:g} {unit} was asked for.",
        )


_REACH = {
    "repair": ("The strength of a repair", "dB", STRENGTH_DB),
    "sentence": ("The gain of a sentence", "dB", GAIN_DB),
    "pause": ("The length of a pause", "s", PAUSE_S),
}


def _refuse_private(programme_key: str, tools: Tools) -> None:
    programmes = tools.database.load_station().programmes
    if any(one.key == programme_key and one.slot_s is None for one in programmes):
        raise Invalid(
            "plan-decision/private",
            "A private request has no slot: it is never stretched nor cut to a length.",
        )
