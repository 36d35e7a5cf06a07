"""What there is to decide: what was read again is looked at once more, and what listening found."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.booth.edits import Decided, Patch, StateSet
from quietleaf.finishing.plan_json import plan_to_text
from quietleaf.finishing.repairs import Replaced
from quietleaf.listening.words_check import PartCheck, WordsCheck, WordsFinding
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.clear_reading import clear_reading
from quietleaf.work.decide import AtTheDesk, decide
from quietleaf.work.kept_hearing import sound_key
from quietleaf.work.kept_words import keep_words
from quietleaf.work.see_review import SeenReview, see_review
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station, finish_reading, plan_of
from tests.unit.work.test_decide import READY

ID = "k3f9"


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        yield made


def seen(tools: Tools) -> SeenReview:
    return see_review(ID, "Ida", tools)


def desk(tools: Tools, asked_id: str) -> AtTheDesk:
    return AtTheDesk(reading_id=ID, who="Ida", revision=seen(tools).revision, asked_id=asked_id)


def keep_found(folder: ReadingFolder, kind: str, start_s: float, end_s: float) -> None:
    """Keep a hearing of the reading as it stands, with one thing to hear."""
    finding = {
        "kind": kind,
        "start_s": start_s,
        "end_s": end_s,
        "severity": "hear",
        "value": None,
        "limit": None,
        "unit": "",
        "advice": "Somebody should listen.",
    }
    told = {
        "schema": "quietleaf/hearing/1",
        "duration_s": 12.5,
        "level": {"active_speech_dbov": -23.0, "noise_floor_dbov": -62.0, "dc": 0.0},
        "speech": {"speech_s": 10.0},
        "sentences": [],
        "findings": [finding],
    }
    path = folder.path / "measures" / f"hearing-{sound_key(folder)}.json"
    path.write_text(json.dumps(told), encoding="utf-8")


def read_again(folder: ReadingFolder, number: int, what: Decided) -> None:
    """Return a reading, read a sentence again in half a second, and hand it in."""
    folder.append(StateSet(state="returned", note=""), author="Ida", at=NOW)
    writer = folder.roll(48_000, author="Ada", at=NOW, read_for=number, first_take=2)
    writer.append(b"\0\0\1" * 24_000)
    folder.seal(writer, origin="a test", author="Ada", at=NOW)
    patch = Patch(
        read_for=number, begin=(2, 0), until=(2, 24_000), start=what.start, stop=what.stop
    )
    folder.append(patch, author="Ada", at=NOW)
    folder.append(StateSet(state="handed in", note=""), author="Ada", at=NOW)


def test_what_was_read_again_is_heard_once_more_where_it_stands_now(tools: Tools) -> None:
    folder = bring_reading(tools)
    keep_found(folder, "cough", 6.0, 7.0)
    (cough,) = seen(tools).things
    # Nobody has finished it: whatever may be mended may be repaired.
    assert cough.choices == ("leave", "repair", "read again")
    what = Decided(start=cough.start, stop=cough.stop, finding="cough", decision="read again")
    entry = decide(desk(tools, "a"), what, tools)
    read_again(folder.reload(), entry.number, what)
    keep_found(folder, "rustle", 9.0, 9.5)

    again, rustle = seen(tools).things
    assert (again.is_second_look, again.decided) == (True, None)
    assert (again.start_s, again.end_s) == (6.0, 6.5)
    assert again.choices == ("leave", "read again")
    assert seen(tools).hindrances == ("Two things are not decided yet, the first at 0:06.",)
    for number, thing in enumerate((again, rustle)):
        good = Decided(start=thing.start, stop=thing.stop, finding=thing.finding, decision="leave")
        decide(desk(tools, f"b{number}"), good, tools)
    # Once it was heard, it is one thing fewer.
    assert [thing.finding for thing in seen(tools).things] == ["rustle"]
    cleared = clear_reading(desk(tools, "c"), tools, heard=seen(tools).heard.key)
    assert cleared.state == "cleared"


def test_read_again_once_more_goes_back_once_more(tools: Tools) -> None:
    folder = bring_reading(tools)
    keep_found(folder, "cough", 6.0, 7.0)
    (cough,) = seen(tools).things
    what = Decided(start=cough.start, stop=cough.stop, finding="cough", decision="read again")
    entry = decide(desk(tools, "a"), what, tools)
    read_again(folder.reload(), entry.number, what)
    decide(desk(tools, "b"), what, tools)
    (again,) = seen(tools).to_read_again
    assert again.decided is not None
    assert again.decided.number > entry.number


def test_places_in_the_opening_words_are_decided_about_too(tools: Tools) -> None:
    folder = bring_reading(tools)
    finish_reading(tools, folder, READY)
    (wave,) = (one for one in tools.database.reading(ID).masters if one.kind == "wave")
    missing = WordsFinding(
        kind="word", start_s=0.0, end_s=4.0, severity="hear", expected="This is", heard=""
    )
    name = WordsFinding(
        kind="name", start_s=11.0, end_s=11.5, severity="hear", expected="Ada", heard=""
    )
    keep_words(
        folder.path,
        wave.sha256,
        WordsCheck(
            opening=PartCheck(state="not read", findings=(missing,)),
            closing=PartCheck(state="differs", start_s=10.0, end_s=12.0, findings=(name,)),
        ),
    )
    things = {thing.finding: thing for thing in seen(tools).things}
    opening, closing = things["opening-words"], things["closing-words"]
    assert (opening.stop, closing.start) == ((1, 192_000), (1, 528_000))
    # Words that were not read keep it from going out whoever reviews; a name asks for an ear.
    assert (opening.asks("none"), closing.asks("none"), closing.asks("things to hear")) == (
        True,
        False,
        True,
    )


@pytest.mark.parametrize(
    ("quiet", "choices"),
    [
        ((), ("leave", "read again")),
        (((0, 9_600),), ("leave", "repair", "read again")),
    ],
)
def test_a_repair_is_offered_where_finishing_has_what_it_is_made_of(
    tools: Tools, quiet: tuple[tuple[int, int], ...], choices: tuple[str, ...]
) -> None:
    folder = bring_reading(tools)
    finish_reading(tools, folder, READY)
    left = Replaced(
        kind="rustle",
        start=430_000,
        stop=456_000,
        quiet=quiet,
        seed=1,
        tone_db=0.0,
        state="left",
        by="plan",
        reason="",
        measured={},
    )
    plan = plan_of()
    text = plan_to_text(replace(plan, layout=replace(plan.layout, repairs=(left,))))
    (folder.path / "masters" / "plan.json").write_text(text, encoding="utf-8")
    assert seen(tools).things[1].choices == choices


def test_a_plan_that_cannot_be_read_leaves_the_reading_itself(tools: Tools) -> None:
    folder = bring_reading(tools)
    finish_reading(tools, folder, READY)
    assert seen(tools).heard.plan == plan_of()
    (folder.path / "masters" / "plan.json").write_bytes(b"{" + b" " * 3 + b"}")
    heard = seen(tools).heard
    assert (heard.plan, heard.is_outdated, heard.findings) == (None, True, ())
