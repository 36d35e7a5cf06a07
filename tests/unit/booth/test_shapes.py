"""Records that were read hold what their types say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from quietleaf.booth.edits import (
    Edit,
    HandedIn,
    Opened,
    PlanDecided,
    RoomChecked,
    SoundMissing,
    WordsBegun,
)
from quietleaf.booth.reading import HandIn
from quietleaf.booth.shapes import check_shape
from tests.readings import AT, FACTS

ROOM = RoomChecked(file="", sha256="", facts={"noise_dbov": -60.5, "said": ["well", None, True]})
PLANNED = PlanDecided(of="pause", what="", start=(1, 5), stop=(1, 9), wanted="made", value=3)
MISSING = SoundMissing(take=1, sample=0, samples=3, reason="paused")


def entry(what: Any, **changes: Any) -> Edit:
    good = Edit(number=1, edit_id="a", author="Ada", at=AT, revision=0, what=what)
    return replace(good, **changes)


@pytest.mark.parametrize(
    "what", [Opened(facts=FACTS), ROOM, MISSING, PLANNED, HandedIn(hand_in=HandIn())]
)
def test_what_was_written_here_has_its_shape(what: Any) -> None:
    check_shape(entry(what))


@pytest.mark.parametrize(
    "record",
    [
        entry(MISSING, number=True),
        entry(MISSING, author=None),
        entry(MISSING, at="2026-11-25"),
        entry(replace(MISSING, take=-1)),
        entry(replace(MISSING, take=1.0)),  # type: ignore[arg-type]
        entry(replace(MISSING, sample=1 << 63)),
        entry(replace(MISSING, reason=["paused"])),  # type: ignore[arg-type]
        entry(replace(MISSING, reason="\ud800")),
        entry(WordsBegun(which="middle", take=1, sample=0)),  # type: ignore[arg-type]
        entry(Opened(facts=replace(FACTS, readers=("Ada", 7)))),  # type: ignore[arg-type]
        entry(Opened(facts=replace(FACTS, part="one"))),  # type: ignore[arg-type]
        entry(replace(ROOM, facts={"noise_dbov": float("inf")})),
        entry(replace(ROOM, facts={"\ud800": 1})),
        entry(replace(PLANNED, value=float("nan"))),
        entry(replace(PLANNED, value=True)),
        entry(replace(PLANNED, start=(1, "5"))),  # type: ignore[arg-type]
        entry(replace(PLANNED, wanted="perhaps")),  # type: ignore[arg-type]
        entry(replace(ROOM, facts=[])),  # type: ignore[arg-type]
    ],
)
def test_what_is_of_another_kind_is_told(record: Edit) -> None:
    with pytest.raises((TypeError, ValueError)):
        check_shape(record)
