"""Deciding about a finished reading, and taking it back: who sees what, and what is refused."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.booth.edits import ArticleStarted, Decided, Decision, Remarked, StateSet, Undo
from quietleaf.booth.review import review
from quietleaf.errors import Conflict, Invalid, NotAllowed, QuietleafError
from quietleaf.listening.verdict import Ground
from quietleaf.planning.station import Station
from quietleaf.storage.finishing_marks import FinishingMark, write_mark
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.work.clear_reading import clear_reading, return_reading
from quietleaf.work.decide import AtTheDesk, decide, mark_article, observe, sentence_at, take_back
from quietleaf.work.see_day import see_day
from quietleaf.work.see_review import SeenReview, see_review
from quietleaf.work.things_to_decide import Thing
from quietleaf.work.tools import Tools
from tests.finished import (
    DAY,
    NOW,
    REPORT,
    bring_reading,
    example_station,
    finish_reading,
    finished_station,
)

ID = "k3f9"
READY = replace(
    REPORT,
    figures=tuple(replace(figure, met=True) for figure in REPORT.figures),
    grounds=(Ground(text="Paper is heard.", weight="ear"),),
)
"""A master against which nothing but its things to hear speaks."""


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        finish_reading(made, bring_reading(made), READY)
        yield made


def seen(tools: Tools, who: str = "Ida Marsh") -> SeenReview:
    return see_review(ID, who, tools)


def at_the_desk(tools: Tools, asked_id: str, who: str = "Ida Marsh") -> AtTheDesk:
    """Give somebody who sees the reading as it stands."""
    return AtTheDesk(reading_id=ID, who=who, revision=seen(tools, who).revision, asked_id=asked_id)


def about(thing: Thing, decision: Decision) -> Decided:
    return Decided(start=thing.start, stop=thing.stop, finding=thing.finding, decision=decision)


def decide_all(tools: Tools, decision: Decision = "leave", who: str = "Ida Marsh") -> None:
    for number, thing in enumerate(seen(tools).things):
        decide(at_the_desk(tools, f"all-{number}", who), about(thing, decision), tools)


def clear(tools: Tools, asked_id: str, who: str = "Ida Marsh", **said: bool) -> ReadingFolder:
    """Clear what is heard now."""
    heard = seen(tools, who).heard.key
    return clear_reading(at_the_desk(tools, asked_id, who), tools, heard=heard, **said)


def folder(tools: Tools) -> ReadingFolder:
    return find_reading(tools.data, ID)


def test_what_there_is_to_decide_says_where_it_lies_and_what_can_be_done(tools: Tools) -> None:
    restart, paper, clip = seen(tools).things
    assert [thing.finding for thing in (restart, paper, clip)] == ["restart", "rustle", "clip"]
    # The plan leaves the sound as it is, and the take has its rate.
    assert (restart.start, restart.stop) == ((1, 307_200), (1, 393_600))
    assert restart.hear_s == (4.0, 9.8)
    assert (restart.choices, restart.can_hear_cut) == (("cut", "leave", "read again"), True)
    # Finishing knows of no repair there.
    assert paper.choices == ("leave", "read again")
    assert [thing.asks("things to hear") for thing in (restart, paper, clip)] == [True, True, False]
    # What must not go out is decided about even where nobody reviews it.
    assert [thing.asks("none") for thing in (restart, paper, clip)] == [True, False, False]


def test_a_decision_stands_with_who_and_is_taken_back(tools: Tools) -> None:
    restart = seen(tools).things[0]
    entry = decide(at_the_desk(tools, "one"), about(restart, "read again"), tools)
    decided = seen(tools).things[0].decided
    assert decided is not None
    assert (decided.author, decided.what.decision, decided.number) == (
        "Ida Marsh",
        "read again",
        entry.number,
    )
    assert seen(tools).last == entry.number
    assert seen(tools, "Tom Lark").last is None
    take_back(at_the_desk(tools, "two", "Tom Lark"), entry.number, tools)
    assert seen(tools).things[0].decided is None


def test_whoever_comes_second_is_told_who_did_what_and_nothing_is_written_over(
    tools: Tools,
) -> None:
    restart, paper, _ = seen(tools).things
    late = at_the_desk(tools, "late", "Tom Lark")
    decide(at_the_desk(tools, "first"), about(restart, "cut"), tools)
    before = folder(tools).revision
    for what in (about(restart, "leave"), about(paper, "leave")):
        with pytest.raises(
            Conflict, match=r"Ida Marsh came before.*Read twice at 0:06 is to be cut"
        ):
            decide(late, what, tools)
    with pytest.raises(Conflict, match="Ida Marsh came before"):
        take_back(late, 4, tools)
    with pytest.raises(Conflict, match="Ida Marsh came before"):
        return_reading(late, "Too fast.", tools)
    assert folder(tools).revision == before
    # An observation stands beside whatever came before.
    observe(replace(late, asked_id="seen"), 3.0, "A good pace.", tools)


def test_asked_twice_it_is_entered_once(tools: Tools) -> None:
    restart = seen(tools).things[0]
    desk = at_the_desk(tools, "same")
    first = decide(desk, about(restart, "leave"), tools)
    assert decide(desk, about(restart, "leave"), tools) == first
    take_back(at_the_desk(tools, "back"), first.number, tools)
    with pytest.raises(Conflict, match="entered before, and taken back"):
        decide(desk, about(restart, "leave"), tools)


def test_marks_of_ones_own(tools: Tools) -> None:
    start, stop = sentence_at(at_the_desk(tools, "x"), 3.3, tools)
    assert (start, stop) == ((1, 96_000), (1, 182_400))
    mark = Decided(
        start=start, stop=stop, finding="", decision="read again", note="“sea”, not “see”"
    )
    decide(at_the_desk(tools, "own"), mark, tools)
    own = next(thing for thing in seen(tools).things if thing.finding == "")
    assert (own.start_s, own.end_s, own.severity) == (2.0, 3.8, "hear")
    observe(at_the_desk(tools, "observed"), 5.5, "A clear voice.", tools)
    ((at_s, observed),) = seen(tools).observations
    assert (at_s, observed.what) == (5.5, Remarked(place=(1, 264_000), text="A clear voice."))
    mark_article(at_the_desk(tools, "article"), 9.0, "Tides", tools)
    assert folder(tools).ledger()[-1].what == ArticleStarted(take=1, sample=432_000, title="Tides")
    # The last of one's own is what an undo takes back, one after another.
    for number in (folder(tools).revision, folder(tools).revision - 1):
        assert seen(tools).last == number
        take_back(at_the_desk(tools, f"undo-{number}"), number, tools)
    assert seen(tools).observations == ()


@pytest.mark.parametrize(
    ("wrong", "match"),
    [
        ({"finding": "moon"}, "about something that was found"),
        ({"decision": "burn"}, "A decision is one of leave"),
        ({"remark": "rhyme"}, "A remark is about text, sound"),
        ({"note": "x" * 1_001}, "at most 1000 letters; 1001 came"),
        ({"stop": (1, 99_999_999)}, "sample 99999999 was named"),
        ({"stop": (3, 9)}, "a place in take 3"),
        ({"stop": (1, 0)}, "in the order of the reading"),
    ],
)
def test_what_does_not_hold_together_is_refused(
    tools: Tools, wrong: dict[str, object], match: str
) -> None:
    what = replace(about(seen(tools).things[0], "leave"), **wrong)  # type: ignore[arg-type]
    with pytest.raises(Invalid, match=match):
        decide(at_the_desk(tools, "wrong"), what, tools)
    with pytest.raises(Invalid, match="goes from 0:00 to 0:12; 0:12 was"):
        observe(at_the_desk(tools, "late"), 12.0, "After it.", tools)
    with pytest.raises(Invalid, match="An observation has words"):
        observe(at_the_desk(tools, "empty"), 1.0, "", tools)
    with pytest.raises(Invalid, match="not entered at the desk"):
        take_back(at_the_desk(tools, "roll"), 2, tools)
    assert folder(tools).revision == 3


def test_clearing_asks_for_what_the_review_depth_asks(tools: Tools) -> None:
    with pytest.raises(Conflict, match=r"Two things are not decided yet, the first at 0:06\."):
        clear(tools, "early")
    restart, paper, _ = seen(tools).things
    decide(at_the_desk(tools, "a"), about(restart, "read again"), tools)
    decide(at_the_desk(tools, "b"), about(paper, "leave"), tools)
    with pytest.raises(Conflict, match="One place is to be read again: return it"):
        clear(tools, "again")
    decide(at_the_desk(tools, "c"), about(restart, "cut"), tools)
    with pytest.raises(Conflict, match="One decision is not carried out yet, at 0:06: finish it"):
        clear(tools, "cut")
    decide(at_the_desk(tools, "d"), about(restart, "leave"), tools)
    assert clear(tools, "clear").state == "cleared"
    assert tools.database.reading(ID).state == "cleared"
    with pytest.raises(Conflict, match=r"It is cleared. Take that back"):
        decide(at_the_desk(tools, "e"), about(restart, "cut"), tools)


@pytest.mark.parametrize(("depth", "asked"), [("none", 1), ("things to hear", 2), ("whole", 2)])
def test_each_depth_asks_for_its_own(tools: Tools, depth: str, asked: int) -> None:
    plan_review(tools, depth)
    restart, paper, _ = seen(tools).things
    hindered = " ".join(seen(tools).hindrances)
    assert ("Two things are not decided" in hindered) == (asked == 2)
    decide(at_the_desk(tools, "a"), about(restart, "leave"), tools)
    if asked == 2:
        decide(at_the_desk(tools, "b"), about(paper, "leave"), tools)
    if depth == "whole":
        with pytest.raises(Conflict, match="say that you heard all of it"):
            clear(tools, "c")
    assert clear(tools, "d", heard_whole=True).state == "cleared"


def test_what_speaks_against_it_is_said_and_can_be_cleared_in_spite_of(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        finish_reading(tools, bring_reading(tools), misfit_s=-213.0)
        decide_all(tools)
        with pytest.raises(
            Conflict, match=r"3:33 too short for its window.*True peak.*it may go out all the same"
        ):
            clear(tools, "a")
        assert clear(tools, "b", despite=True).state == "cleared"


def test_without_a_master_somebody_must_have_listened(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        bring_reading(tools)
        with pytest.raises(Conflict, match="Nobody has listened to it yet"):
            clear(tools, "a")
        plan_review(tools, "none")
        assert clear(tools, "b").state == "cleared"


def test_a_master_of_what_was_changed_since_is_not_cleared(tools: Tools) -> None:
    decide_all(tools)
    changed = folder(tools)
    changed.append(StateSet(state="in the booth", note=""), author="Ada", at=NOW)
    writer = changed.next_take(48_000)
    writer.append(b"\0\0\1" * 4_800)
    changed.seal(writer, origin="a test", author="Ada", at=NOW)
    changed.append(StateSet(state="handed in", note=""), author="Ada", at=NOW)
    assert seen(tools).heard.plan is None
    assert seen(tools).heard.duration_s == 12.1
    with pytest.raises(Conflict, match=r"changed since it was finished. Finish it again"):
        clear(tools, "a")


def test_what_was_finished_again_since_it_was_heard_is_not_cleared(tools: Tools) -> None:
    decide_all(tools)
    desk, heard = at_the_desk(tools, "a"), seen(tools).heard.key
    for name in ("marrowby.mp3", "marrowby.wav"):
        (folder(tools).path / "masters" / name).unlink()
    finish_reading(tools, folder(tools), replace(READY, title="Another"))
    with pytest.raises(Conflict, match="finished again since you heard it"):
        clear_reading(desk, tools, heard=heard)
    mark = FinishingMark(asked_at=NOW, by="Tom")
    write_mark(folder(tools).path, mark)
    with pytest.raises(Conflict, match="It is being finished"):
        clear(tools, "b")
    write_mark(folder(tools).path, replace(mark, ending="stopped", ended_at=NOW))
    assert clear(tools, "c").state == "cleared"


def test_returning_asks_for_a_reason(tools: Tools) -> None:
    with pytest.raises(Conflict, match="its reader would not know why"):
        return_reading(at_the_desk(tools, "a"), "", tools)
    with pytest.raises(Invalid, match="at most 1000 letters"):
        return_reading(at_the_desk(tools, "b"), "x" * 1_001, tools)
    decide(at_the_desk(tools, "c"), about(seen(tools).things[0], "read again"), tools)
    returned = return_reading(at_the_desk(tools, "d"), "", tools)
    assert returned.state == tools.database.reading(ID).state == "returned"
    assert [one.what.decision for one in review(returned.standing).to_read_again] == ["read again"]
    with pytest.raises(Conflict, match="went back to its reader"):
        decide(at_the_desk(tools, "e"), about(seen(tools).things[1], "leave"), tools)


@pytest.mark.parametrize("cleared", [True, False])
def test_a_clearing_and_a_return_are_taken_back_as_long_as_they_stand(
    tools: Tools, cleared: bool
) -> None:
    decide_all(tools)
    if cleared:
        clear(tools, "a")
    else:
        return_reading(at_the_desk(tools, "a"), "The closing words are missing.", tools)
    number = folder(tools).revision
    assert seen(tools).last == number
    take_back(at_the_desk(tools, "b"), number, tools)
    assert folder(tools).state == tools.database.reading(ID).state == "handed in"
    with pytest.raises(QuietleafError):
        take_back(at_the_desk(tools, "c"), number, tools)
    if not cleared:
        return_reading(at_the_desk(tools, "d"), "Once more.", tools)
        again = folder(tools).revision
        folder(tools).append(StateSet(state="handed in", note=""), author="Ada", at=NOW)
        with pytest.raises(Conflict, match="the reading is handed in by now"):
            take_back(at_the_desk(tools, "e"), again, tools)


def test_nobody_decides_about_a_reading_of_their_own_where_the_programme_says_so(
    tools: Tools,
) -> None:
    decide_all(tools, who="Ada Fenwick")
    plan_review(tools, "things to hear", other_reviewer=True)
    reader = "ada fenwick"
    assert seen(tools, reader).is_own
    for wish in (
        lambda desk: decide(desk, about(seen(tools).things[0], "cut"), tools),
        lambda desk: observe(desk, 1.0, "Well read.", tools),
        lambda desk: mark_article(desk, 1.0, "", tools),
        lambda desk: take_back(desk, folder(tools).revision, tools),
        lambda desk: clear_reading(desk, tools, heard=seen(tools).heard.key),
        lambda desk: return_reading(desk, "Once more.", tools),
    ):
        with pytest.raises(NotAllowed, match="reviewed by somebody other than its reader"):
            wish(at_the_desk(tools, "own", reader))
    assert folder(tools).state == "handed in"
    # Where there are no accounts nobody is known by name.
    assert clear(tools, "x", "").ledger()[-1].author == "The desk"


def test_the_index_is_told_where_something_stopped_before_it(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    with tools.database:
        folder(tools).append(StateSet(state="returned", note="Why."), author="Ida", at=NOW)
        assert tools.database.reading(ID).state == "handed in"
        shown = see_day(DAY, tools)
        assert [one.state for slot in shown.slots for one in slot.readings] == ["returned"]
        assert tools.database.reading(ID).state == "returned"
        folder(tools).append(Undo(of=4), author="Ida", at=NOW)
        assert seen(tools).state == tools.database.reading(ID).state == "handed in"


def plan_review(tools: Tools, depth: str, *, other_reviewer: bool = False) -> None:
    """Have every programme reviewed so."""
    station: Station = tools.database.load_station()
    tools.database.save_station(
        replace(
            station,
            programmes=tuple(
                replace(one, review=depth, other_reviewer=other_reviewer)  # type: ignore[arg-type]
                for one in station.programmes
            ),
        )
    )
