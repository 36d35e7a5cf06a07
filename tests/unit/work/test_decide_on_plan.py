"""Deciding about entries of a plan: one entry of the ledger each, on the reading as it was seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.booth.edits import PlanDecided, StateSet
from quietleaf.errors import Conflict, Invalid
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.decide_on_plan import DecideOnPlan, decide_on_plan
from quietleaf.work.tools import Tools
from tests.finished import FACTS, NOW, bring_reading, example_station, other_reading


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        yield made


@pytest.fixture
def folder(tools: Tools) -> ReadingFolder:
    return bring_reading(tools)


def wish(folder: ReadingFolder, **more: object) -> DecideOnPlan:
    wanted = DecideOnPlan(
        reading_id=folder.facts.reading_id,
        who="Ida Marsh",
        revision=folder.reload().revision,
        asked_id=f"asked-{folder.revision}",
        of="repair",
        what="breath",
        start=(1, 100),
        stop=(1, 900),
        wanted="refused",
    )
    return replace(wanted, **more)  # type: ignore[arg-type]


def test_it_is_entered_once_with_its_author(tools: Tools, folder: ReadingFolder) -> None:
    wanted = wish(folder)
    edit = decide_on_plan(wanted, tools)
    assert (edit.author, edit.at) == ("Ida Marsh", NOW)
    assert edit.what == PlanDecided(
        of="repair", what="breath", start=(1, 100), stop=(1, 900), wanted="refused", value=None
    )
    # Pressed twice, it is entered once.
    assert decide_on_plan(wanted, tools) == edit
    assert folder.reload().revision == edit.number
    assert tools.database.reading(FACTS.reading_id) == reading_row(folder)
    nobody = decide_on_plan(wish(folder, who="", value=3.0, wanted="made"), tools)
    assert nobody.author == "The desk"


def test_somebody_elses_change_is_told_and_nothing_is_entered(
    tools: Tools, folder: ReadingFolder
) -> None:
    seen = folder.revision
    decide_on_plan(wish(folder), tools)
    with pytest.raises(Conflict, match=r"Nothing of yours was entered: Ida Marsh changed.*14:20"):
        decide_on_plan(wish(folder, who="Tom", revision=seen, asked_id="another"), tools)
    assert folder.reload().revision == seen + 1


@pytest.mark.parametrize(
    ("of", "value", "why"),
    [
        ("sentence", 99.0, "The gain of a sentence goes from -12 to 12 dB; 99 dB was asked for"),
        ("repair", 0.0, "The strength of a repair goes from 0.5 to 30 dB; 0 dB was asked for"),
        ("pause", 60.0, "The length of a pause goes from 0.05 to 10 s; 60 s was asked for"),
        ("length", 2.0, "to a length of 0:05 to 10:00:00; 0:02 was asked for"),
        ("length", None, "A length is needed, like 58:00"),
        ("cut", 3.0, "has no strength to change"),
        ("gain", 3.0, "nothing that can be decided about"),
    ],
)
def test_what_is_out_of_reach_is_refused(
    tools: Tools, folder: ReadingFolder, of: str, value: float | None, why: str
) -> None:
    with pytest.raises(Invalid, match=why):
        decide_on_plan(wish(folder, of=of, wanted="made", value=value), tools)
    assert folder.reload().revision == folder.revision


def test_a_private_request_keeps_its_length(tools: Tools) -> None:
    station = tools.database.load_station()
    private = next(one.key for one in station.programmes if one.slot_s is None)
    folder = bring_reading(tools, other_reading(private, "p1"))
    for of, value in (("length", 60.0), ("stop", None)):
        with pytest.raises(Invalid, match="A private request has no slot"):
            decide_on_plan(wish(folder, of=of, wanted="made", value=value), tools)
    # Taking such a wish back is always possible.
    decide_on_plan(wish(folder, of="length", wanted="as planned"), tools)


def test_what_is_cleared_stays_as_it_is(tools: Tools, folder: ReadingFolder) -> None:
    folder.append(StateSet(state="cleared", note=""), author="Desk", at=NOW)
    with pytest.raises(Conflict, match="Return it first"):
        decide_on_plan(wish(folder), tools)
