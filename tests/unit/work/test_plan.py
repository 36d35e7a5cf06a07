"""The plan is changed whole or not at all, and nothing is taken away that something hangs on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from quietleaf.booth.edits import StateSet
from quietleaf.booth.reading import ReadingState
from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.booth import Booth
from quietleaf.planning.station import Station, assignment_named, programme_named
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.tokens import Token
from quietleaf.work.plan_assignment import (
    add_assignment,
    change_assignment,
    remove_assignment,
)
from quietleaf.work.plan_booth import add_booth, change_booth, remove_booth
from quietleaf.work.plan_programme import add_programme, change_programme, remove_programme
from quietleaf.work.plan_publication import (
    add_publication,
    change_publication,
    remove_publication,
)
from quietleaf.work.plan_reader import add_reader, change_reader, remove_reader
from quietleaf.work.plan_station import plan_station
from quietleaf.work.see_plan import ON_A_PAGE, next_assignment, see_plan
from quietleaf.work.tools import Tools
from tests.finished import FACTS, bring_reading
from tests.stations import HOUR, STATION, WEDNESDAY

NOW = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the small station with a clock that stands still."""
    with Database(database_url(tmp_path)) as database:
        made = Tools(data=tmp_path, database=database, clock=lambda: NOW)
        plan_station(STATION, made)
        yield made


def planned(tools: Tools) -> Station:
    """Give the plan as it is kept."""
    return tools.database.load_station()


def record(
    tools: Tools, key: str = "hour-2026-11-25", state: ReadingState = "in the booth"
) -> ReadingFolder:
    """Put a reading into the booth for an assignment."""
    facts = replace(
        FACTS,
        programme_key="hour",
        programme_title="The Hour",
        publication="The Post",
        readers=("Tomas Vale",),
        assignment_key=key,
    )
    return bring_reading(tools, facts, state)


def test_a_programme_is_added_under_a_key_of_its_own_changed_and_removed(tools: Tools) -> None:
    added = add_programme(replace(HOUR, key=""), tools)
    assert added.key == "the-hour"
    assert add_programme(replace(HOUR, key=""), tools).key == "the-hour-2"
    changed = change_programme(replace(added, title="Another Hour"), tools)
    assert programme_named(planned(tools), "the-hour") == changed
    remove_programme("the-hour", tools)
    with pytest.raises(NotFound):
        programme_named(planned(tools), "the-hour")


def test_an_unknown_blank_is_refused_and_the_plan_stays(tools: Tools) -> None:
    with pytest.raises(Invalid, match=r"\{redaer\}"):
        change_programme(replace(HOUR, opening_words="Read by {redaer}."), tools)
    assert planned(tools) == STATION


def test_a_programme_on_which_something_hangs_stays(tools: Tools) -> None:
    with pytest.raises(Conflict, match="one assignment"):
        remove_programme("hour", tools)
    record(tools)
    with pytest.raises(Conflict, match="one assignment and one reading"):
        remove_programme("hour", tools)


def test_a_programme_moves_to_other_days_and_what_is_over_stays_as_it_was(tools: Tools) -> None:
    thursdays = replace(HOUR, weekdays=(3,))
    with pytest.raises(Invalid, match="not on the air on that weekday"):
        change_programme(thursdays, tools)
    later = replace(tools, clock=lambda: NOW + timedelta(days=1))
    change_programme(thursdays, later)
    assert planned(tools).assignments == STATION.assignments
    # Whatever else is planned afterwards does not stumble over it.
    add_reader("Imke Rowan", later)
    thursday = WEDNESDAY + timedelta(days=1)
    add_assignment(Assignment(programme_key="hour", issue_date=thursday, air_date=thursday), later)


def test_programmes_follow_a_publication_that_is_renamed(tools: Tools) -> None:
    paper = STATION.publications[0]
    change_publication(replace(paper, title="The Evening Post"), tools)
    assert programme_named(planned(tools), "hour").publication == "The Evening Post"
    with pytest.raises(Conflict, match="The Hour is read from it"):
        remove_publication("post", tools)
    added = add_publication(replace(paper, title="A Third"), tools)
    remove_publication(added.key, tools)
    assert [one.key for one in planned(tools).publications] == ["post", "lantern"]


def test_a_reader_is_added_renamed_with_all_that_is_theirs_and_removed(tools: Tools) -> None:
    tools.database.keep_pace("Tomas Vale", 151.0, NOW)
    tools.database.add_token(
        Token(sha256="a" * 64, purpose="link", made_at=NOW, reader="Tomas Vale")
    )
    change_reader("Tomas Vale", "Thomas Vale", tools)
    station = planned(tools)
    assert "Thomas Vale" in station.readers
    assert assignment_named(station, "hour-2026-11-25").readers == ("Thomas Vale",)
    assert tools.database.pace("Thomas Vale") == 151.0
    assert not tools.database.token("a" * 64).is_live(NOW)
    with pytest.raises(Conflict, match="1 of the assignments to come names them"):
        remove_reader("Thomas Vale", tools)
    add_reader("Imke Rowan", tools)
    remove_reader("Imke Rowan", tools)
    assert planned(tools).readers == ("Ada Fenwick", "Thomas Vale")


def test_a_reader_with_a_past_is_retired_and_comes_back(tools: Tools) -> None:
    over = replace(tools, clock=lambda: NOW + timedelta(days=1))
    tools.database.add_token(
        Token(sha256="a" * 64, purpose="link", made_at=NOW, reader="Tomas Vale")
    )
    remove_reader("Tomas Vale", over)
    station = planned(tools)
    assert (station.readers, station.retired) == (("Ada Fenwick",), ("Tomas Vale",))
    assert assignment_named(station, "hour-2026-11-25").readers == ("Tomas Vale",)
    assert not tools.database.token("a" * 64).is_live(NOW + timedelta(days=1))
    later = Assignment(
        programme_key="hour",
        issue_date=WEDNESDAY + timedelta(days=1),
        air_date=WEDNESDAY + timedelta(days=1),
        readers=("Tomas Vale",),
    )
    with pytest.raises(Invalid, match="Tomas Vale does not read here any more"):
        add_assignment(later, tools)
    free = add_assignment(replace(later, readers=()), tools)
    with pytest.raises(Invalid, match="does not read here any more"):
        change_assignment(replace(free, readers=("Tomas Vale",)), tools)
    # What is over can still be moved to another booth.
    past = assignment_named(planned(tools), "hour-2026-11-25")
    add_booth("Booth 9", tools)
    change_assignment(replace(past, booth="booth-9"), tools)
    with pytest.raises(Invalid, match="differs from TOMAS VALE by capitals"):
        add_reader("TOMAS VALE", tools)
    add_reader("Tomas Vale", tools)
    assert (planned(tools).readers[-1], planned(tools).retired) == ("Tomas Vale", ())
    change_assignment(replace(free, readers=("Tomas Vale",)), tools)


def test_who_read_without_being_assigned_is_retired_too(tools: Tools) -> None:
    record(tools)
    plan_station(replace(planned(tools), assignments=()), tools)
    remove_reader("Tomas Vale", tools)
    assert planned(tools).retired == ("Tomas Vale",)


@pytest.mark.parametrize("name", ["", "Ada/Fenwick", "Ada\nFenwick", "A" * 81, "Ada Fenwick"])
def test_a_name_that_cannot_be_is_refused(tools: Tools, name: str) -> None:
    with pytest.raises(Invalid):
        add_reader(name, tools)
    assert planned(tools) == STATION


@pytest.mark.parametrize("state", ["in the booth", "returned"])
def test_a_reader_who_has_something_to_hand_in_keeps_the_name(
    tools: Tools, state: ReadingState
) -> None:
    folder = record(tools, state=state)
    if state == "returned":
        folder.append(StateSet(state="returned", note="Wrong name."), author="Desk", at=NOW)
        tools.database.index_reading(reading_row(folder))
    with pytest.raises(Conflict, match="still to be handed in"):
        change_reader("Tomas Vale", "Thomas Vale", tools)
    assert planned(tools) == STATION


def test_nobody_unknown_is_changed_or_removed(tools: Tools) -> None:
    for refused in (
        lambda: change_reader("Nobody", "Somebody", tools),
        lambda: change_reader("Nobody", "Nobody", tools),
        lambda: remove_reader("Nobody", tools),
        lambda: remove_booth("nowhere", tools),
        lambda: remove_programme("nothing", tools),
        lambda: remove_publication("nothing", tools),
        lambda: remove_assignment("nothing", tools),
    ):
        with pytest.raises(NotFound):
            refused()
    assert planned(tools) == STATION


def test_a_booth_is_added_renamed_and_removed_with_what_was_enrolled_as_it(tools: Tools) -> None:
    booth = add_booth("Booth 2", tools)
    assert booth == Booth(key="booth-2", name="Booth 2")
    change_booth(replace(booth, name="The small room"), tools)
    tools.database.add_token(Token(sha256="b" * 64, purpose="booth", made_at=NOW, booth="booth-2"))
    assignment = assignment_named(planned(tools), "hour-2026-11-25")
    change_assignment(replace(assignment, booth="booth-2"), tools)
    with pytest.raises(Conflict, match="1 of the assignments is to be read there"):
        remove_booth("booth-2", tools)
    assert tools.database.token("b" * 64).is_live(NOW)
    change_assignment(assignment, tools)
    remove_booth("booth-2", tools)
    assert planned(tools).booths == ()
    assert not tools.database.token("b" * 64).is_live(NOW)


def test_an_assignment_is_added_changed_and_removed(tools: Tools) -> None:
    thursday = WEDNESDAY + timedelta(days=1)
    added = add_assignment(
        Assignment(
            programme_key="hour",
            issue_date=thursday,
            air_date=thursday,
            readers=("Ada Fenwick", "Tomas Vale"),
        ),
        tools,
    )
    assert added.key == "hour-2026-11-26"
    at = datetime(2026, 11, 26, 10, 0, tzinfo=UTC)
    change_assignment(replace(added, readers=("Ada Fenwick",), reads_at=at), tools)
    kept = assignment_named(planned(tools), added.key)
    assert (kept.readers, kept.reads_at) == (("Ada Fenwick",), at)
    remove_assignment(added.key, tools)
    assert planned(tools) == STATION


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, "has 2. Keep one"),
        ({"air_date": date(2026, 11, 28)}, "not on the air on that weekday"),
        ({"air_date": None}, "no air date"),
        ({"part": 3}, "is no serial"),
        ({"readers": ("Ada Fenwick", "Ada Fenwick")}, "two different ones"),
        ({"readers": ("Nobody",)}, "not among the station's readers"),
        ({"booth": "nowhere"}, "not among the station's booths"),
    ],
)
def test_an_assignment_that_does_not_hold_is_refused(
    tools: Tools, change: dict[str, object], words: str
) -> None:
    sound = Assignment(programme_key="hour", issue_date=WEDNESDAY, air_date=WEDNESDAY)
    with pytest.raises(Invalid, match=words):
        add_assignment(replace(sound, **change), tools)  # type: ignore[arg-type]
    assert planned(tools) == STATION


def test_what_was_recorded_for_keeps_its_reader_and_dates_but_may_move(tools: Tools) -> None:
    record(tools)
    add_booth("Booth 1", tools)
    assignment = assignment_named(planned(tools), "hour-2026-11-25")
    with pytest.raises(Conflict, match="has a reading"):
        change_assignment(replace(assignment, readers=("Ada Fenwick",)), tools)
    with pytest.raises(Conflict, match="something was recorded"):
        remove_assignment("hour-2026-11-25", tools)
    change_assignment(replace(assignment, booth="booth-1"), tools)
    assert assignment_named(planned(tools), "hour-2026-11-25").booth == "booth-1"


def test_what_comes_is_given_by_the_page_soonest_first(tools: Tools) -> None:
    days = [WEDNESDAY + timedelta(days=number) for number in range(-7, 40)]
    hours = tuple(
        Assignment(programme_key="hour", issue_date=day, air_date=day)
        for day in reversed(days)
        if day.weekday() < 5
    )
    plan_station(replace(STATION, assignments=(*hours, STATION.assignments[1])), tools)
    first, second = see_plan(1, tools), see_plan(99, tools)
    assert (first.page, first.pages, second.page) == (1, 2, 2)
    assert len(first.coming) == ON_A_PAGE
    assert (
        first.count == len(first.coming) + len(second.coming) == 29
    )  # 28 weekdays and the request
    shown = [seen.assignment.air_date for seen in (*first.coming, *second.coming)]
    assert shown[0] == WEDNESDAY
    assert shown[:-1] == sorted(day for day in shown if day is not None)
    assert shown[-1] is None


def test_the_next_part_of_a_serial_is_drawn_up() -> None:
    station = replace(
        STATION,
        assignments=(
            Assignment(
                programme_key="story", issue_date=WEDNESDAY, air_date=WEDNESDAY, part=4, key="s"
            ),
        ),
    )
    week_after = WEDNESDAY + timedelta(days=7)
    drawn = next_assignment(station, "story", week_after)
    assert (drawn.part, drawn.issue_date, drawn.air_date) == (5, week_after, week_after)
    assert next_assignment(station, "request", WEDNESDAY).air_date is None
