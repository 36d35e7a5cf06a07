"""What a ledger takes and refuses."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest

from quietleaf.booth.admission import NEXT_STATES, admit
from quietleaf.booth.edits import (
    Again,
    ArticleStarted,
    Cut,
    Happening,
    Opened,
    StateSet,
    TakeRolled,
    Undo,
)
from quietleaf.booth.reading import READING_STATES, ReadingState
from quietleaf.booth.replay import START, facts, state
from quietleaf.errors import Conflict, Invalid
from tests.readings import FACTS, enter, sealed, standing_of

READ = standing_of(sealed(1, 1_000))


def test_a_ledger_begins_with_what_the_reading_is_for() -> None:
    assert facts(READ) == FACTS
    with pytest.raises(Invalid, match="begins by saying"):
        enter(START, sealed(1, 10))
    with pytest.raises(Invalid, match="begins by saying"):
        enter(READ, Opened(facts=FACTS))


@pytest.mark.parametrize(
    "what", [Cut(take=1, start=0, stop=5), Undo(of=2), StateSet(state="handed in", note="")]
)
def test_a_decision_on_an_older_revision_is_refused(what: Happening) -> None:
    changed = enter(READ, ArticleStarted(take=1, sample=3, title="Tides"))
    with pytest.raises(Conflict, match="Ada made entry 3 meanwhile"):
        enter(changed, what, revision=READ.revision)
    enter(changed, what)


@pytest.mark.parametrize(
    "what",
    [
        TakeRolled(take=2, sample_rate_hz=48_000),
        sealed(2, 10),
        Again(take=1, mark=9, back_take=1, back_sample=5, resume=20),
        ArticleStarted(take=1, sample=4, title=""),
    ],
)
def test_what_a_reader_does_is_taken_on_any_revision(what: Happening) -> None:
    changed = enter(READ, Cut(take=1, start=0, stop=5))
    assert enter(changed, what, revision=1).edits[-1].revision == 1


def test_a_revision_that_is_yet_to_come_is_refused() -> None:
    with pytest.raises(Invalid, match="number 3 made on 3 came"):
        enter(READ, Undo(of=2), revision=3)


def test_a_number_out_of_turn_is_refused() -> None:
    edit = replace(enter(READ, Undo(of=2)).edits[-1], number=5)
    with pytest.raises(Invalid, match="next entry of this ledger is number 3"):
        admit(READ, edit)


@pytest.mark.parametrize(
    "at",
    [datetime(2026, 11, 25, 9, 30), datetime(2026, 11, 25, tzinfo=timezone(timedelta(hours=1)))],  # noqa: DTZ001
)
def test_a_time_that_is_not_utc_is_refused(at: datetime) -> None:
    edit = replace(enter(READ, Undo(of=2)).edits[-1], at=at)
    with pytest.raises(Invalid, match="in UTC"):
        admit(READ, edit)


@pytest.mark.parametrize(
    ("what", "match"),
    [
        (Cut(take=2, start=0, stop=5), "1 takes; a place in take 2"),
        (Cut(take=1, start=0, stop=1_001), "1000 samples; sample 1001"),
        (Cut(take=1, start=-1, stop=5), "sample -1"),
        (Cut(take=1, start=5, stop=5), "in the order of the reading"),
        (Again(take=1, mark=5, back_take=1, back_sample=9, resume=20), "in the order"),
        (Again(take=1, mark=9, back_take=1, back_sample=5, resume=8), "in the order"),
        (sealed(3, 5), "number 2; 3 came"),
        (sealed(1, 5), "number 2; 1 came"),
        (TakeRolled(take=1, sample_rate_hz=48_000), "number 2; 1 came"),
        (TakeRolled(take=2, sample_rate_hz=0), "has a sampling rate"),
        (sealed(2, -1), "a length"),
        (Undo(of=1), "entries 2 to 2; 1 was"),
        (Undo(of=3), "entries 2 to 2; 3 was"),
    ],
)
def test_places_outside_and_out_of_order_are_refused(what: Happening, match: str) -> None:
    with pytest.raises(Invalid, match=match):
        enter(READ, what)


def test_a_take_is_sealed_at_the_rate_at_which_it_rolled() -> None:
    rolling = enter(READ, TakeRolled(take=2, sample_rate_hz=44_100))
    with pytest.raises(Invalid, match="number 3; 2 came"):
        enter(rolling, sealed(2, 10, 48_000))
    enter(rolling, sealed(2, 10, 44_100))


def test_that_a_take_came_to_its_end_is_not_taken_back() -> None:
    done = enter(enter(READ, TakeRolled(take=2, sample_rate_hz=48_000)), sealed(2, 10))
    with pytest.raises(Invalid, match="take back that it rolled: entry 3"):
        enter(done, Undo(of=4))
    enter(done, Undo(of=3))


def test_an_entry_is_taken_back_once() -> None:
    with pytest.raises(Conflict, match="Entry 2 has been taken back already"):
        enter(enter(READ, Undo(of=2)), Undo(of=2))


@pytest.mark.parametrize("reached", READING_STATES)
def test_states_follow_each_other(reached: ReadingState) -> None:
    way: dict[ReadingState, list[ReadingState]] = {
        "assigned": [],
        "in the booth": ["in the booth"],
        "handed in": ["in the booth", "handed in"],
        "cleared": ["in the booth", "handed in", "cleared"],
        "returned": ["in the booth", "handed in", "returned"],
        "placed": ["in the booth", "handed in", "cleared", "placed"],
        "aired": ["in the booth", "handed in", "cleared", "placed", "aired"],
    }
    standing = standing_of(*(StateSet(state=to, note="") for to in way[reached]))
    assert state(standing) == reached
    for to in READING_STATES:
        if to in NEXT_STATES[reached]:
            assert state(enter(standing, StateSet(state=to, note="why"))) == to
        else:
            with pytest.raises(Conflict, match=f"This reading is {reached}; from there"):
                enter(standing, StateSet(state=to, note=""))


def test_recording_puts_a_reading_in_the_booth() -> None:
    assert state(standing_of()) == "assigned"
    assert state(READ) == "in the booth"


def test_what_is_heard_of_a_cleared_reading_stays() -> None:
    cleared = enter(
        enter(READ, StateSet(state="handed in", note="")), StateSet(state="cleared", note="")
    )
    for what in (Cut(take=1, start=0, stop=5), sealed(2, 10), Undo(of=2)):
        with pytest.raises(Conflict, match="Return it first"):
            enter(cleared, what)
    assert state(enter(cleared, Undo(of=4))) == "handed in"
    returned = enter(cleared, StateSet(state="returned", note="The closing is missing."))
    enter(returned, Cut(take=1, start=0, stop=5))
