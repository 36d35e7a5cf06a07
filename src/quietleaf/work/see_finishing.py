"""See a reading's finishing plan: entries a page at a time, what was decided, the versions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo

from quietleaf.booth.edits import Decided, PlanDecided
from quietleaf.booth.replay import counting
from quietleaf.errors import QuietleafError
from quietleaf.finishing.plan import Plan
from quietleaf.finishing.plan_json import plan_of_text
from quietleaf.planning.programme import USUAL_REVIEW
from quietleaf.storage.finishing_marks import FinishingMark, read_mark
from quietleaf.storage.index_rows import version_in_use
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.storage.versions import MadeVersion, read_versions
from quietleaf.storage.zones import zone_named
from quietleaf.work.decisions_on import DecisionsOn, decisions_on
from quietleaf.work.plan_entries import PARTS, Part, Seeing, SeenEntry, entries_of
from quietleaf.work.summary import Summary, summary_of
from quietleaf.work.take_places import TakePlaces
from quietleaf.work.tools import Tools

ENTRIES_ON_A_PAGE = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenPlan:
    """A page of a reading's plan.

    Attributes
    ----------
    revision : int
        Of the reading.
    zone : tzinfo
        The station's.
    plan : Plan or None
        None where it was never finished, or the plan cannot be read any more.
    is_outdated : bool
        The reading was changed since it was finished.
    is_open : bool
        Things can be decided, and it can be finished.
    is_private : bool
        It is never brought to a length.
    counts : mapping of Part to int
        How many entries each part has.
    entries : tuple of SeenEntry
        Of the page that was asked for.
    waiting : int
        Decisions that the master in use does not have yet.
    length_s : float or None
        How long it is to be, by a decision of the desk.
    length_by : str
        Who said so.
    versions : tuple of MadeVersion
        The newest first.
    in_use : int or None
        The number of one of them.
    player : str or None
        The file that is played to hear a place.
    mark : FinishingMark or None
        How finishing ended the last time.
    """

    station_name: str
    station_note: str
    summary: Summary
    revision: int
    zone: tzinfo
    plan: Plan | None
    is_outdated: bool
    is_open: bool
    is_private: bool
    part: Part
    counts: Mapping[Part, int]
    entries: tuple[SeenEntry, ...]
    page: int
    pages: int
    waiting: int
    length_s: float | None
    length_by: str
    versions: tuple[MadeVersion, ...]
    in_use: int | None
    player: str | None
    mark: FinishingMark | None


def see_finishing(reading_id: str, part: str, page: int, tools: Tools) -> SeenPlan:
    """Gather what the page of a reading's plan shows.

    Parameters
    ----------
    part : str
        One of `PARTS`; anything else is the first.
    page : int
        From 1; beyond the last it is the last.

    Raises
    ------
    NotFound
        If there is no such reading.
    Damaged
        If the reading's folder is not as it was written.
    """
    row = tools.database.reading(reading_id)
    station = tools.database.load_station()
    programme = next((one for one in station.programmes if one.key == row.programme_key), None)
    folder = find_reading(tools.data, reading_id)
    made = {master.kind: master.path.rpartition("/")[2] for master in row.masters}
    plan = _plan(folder, made.get("plan"))
    versions, in_use = read_versions(folder.path), version_in_use(folder.path)
    made_on = next((one.revision for one in versions if one.number == in_use), 0)
    decisions, places = decisions_on(folder), TakePlaces(folder)
    all_parts = {name: [] if plan is None else entries_of(plan, name) for name in PARTS}
    shown: Part = next((name for name in PARTS if name == part), PARTS[0])
    entries = all_parts[shown]
    pages = max(1, -(-len(entries) // ENTRIES_ON_A_PAGE))
    page = min(max(page, 1), pages)
    first = (page - 1) * ENTRIES_ON_A_PAGE
    is_outdated = plan is not None and plan.layout.sound_samples != places.samples
    seen = Seeing(plan, None if is_outdated else places, decisions, made_on)
    return SeenPlan(
        station_name=station.name,
        station_note=station.note,
        summary=summary_of(row, programme.review if programme else USUAL_REVIEW),
        revision=folder.revision,
        zone=zone_named(station.zone),
        plan=plan,
        is_outdated=is_outdated,
        is_open=folder.state in ("handed in", "returned"),
        is_private=programme is not None and programme.slot_s is None,
        part=shown,
        counts={name: len(found) for name, found in all_parts.items()},
        entries=tuple(
            seen.entry(entry, number)
            for number, entry in enumerate(
                entries[first : first + ENTRIES_ON_A_PAGE], start=first + 1
            )
        ),
        page=page,
        pages=pages,
        waiting=_waiting(folder, decisions, plan, made_on),
        length_s=decisions.length_s,
        length_by="" if decisions.length is None else decisions.length.author,
        versions=versions,
        in_use=in_use,
        player=made.get("mp3") or made.get("wave"),
        mark=read_mark(folder.path),
    )


def _plan(folder: ReadingFolder, name: str | None) -> Plan | None:
    if name is None:
        return None
    try:
        return plan_of_text((folder.path / "masters" / name).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, QuietleafError):
        # The page says that there is none to be read; finishing makes another.
        return None


def _waiting(folder: ReadingFolder, decisions: DecisionsOn, plan: Plan | None, made_on: int) -> int:
    """Count the decisions that finishing again would carry out."""
    changes = {
        edit.number
        for edit in counting(folder.standing)
        if isinstance(edit.what, PlanDecided) and edit.number > made_on
    }
    for one in decisions.at:
        if isinstance(one.edit.what, Decided) and one.edit.number > made_on:
            mine = one.decision
            there = [] if plan is None else [*plan.layout.repairs, *plan.layout.cuts]
            met = [
                entry
                for entry in there
                if entry.kind == mine.kind and entry.start < mine.stop and mine.start < entry.stop
            ]
            is_new_cut = mine.of == "cut" and one.edit.what.decision == "cut" and not met
            if is_new_cut or any(entry.state != mine.wanted for entry in met):
                changes.add(one.edit.number)
    return len(changes)
