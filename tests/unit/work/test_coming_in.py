"""What a reader finds: theirs with every blank filled, what is short, which issue they hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from quietleaf.booth.reading import HandIn
from quietleaf.errors import Conflict, Invalid, NotAllowed
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.station import Station, assignment_named
from quietleaf.work.coming_in import (
    SeenAssignment,
    SeenToday,
    ask_about_issue,
    paper_missing,
    read_this_issue,
    see_names,
    see_paper,
    see_today,
)
from quietleaf.work.open_reading import open_reading
from quietleaf.work.tools import Tools
from tests.coming import Clock, coming_station, enrolled, handed_in, record, sat

PACE = 150.0
HOUR = "courier-hour-2026-11-25"
SHELF = "long-shelf-2026-11-25"
REQUEST = "private-request-2026-11-19"
TUESDAY = date(2026, 11, 24)


@pytest.fixture
def clock() -> Clock:
    made = Clock()
    made.move(hours=-5)  # 9:20: nothing has been on the air yet
    return made


@pytest.fixture
def tools(tmp_path: Path, clock: Clock) -> Iterator[Tools]:
    with coming_station(tmp_path, clock) as made:
        yield made


def today(tools: Tools, reader: str) -> SeenToday:
    return see_today(sat(tools, reader), "", PACE, tools)


def text(each: SeenAssignment) -> str:
    return "".join(part.text for part in (*each.opening, *each.closing))


def change(tools: Tools, key: str, **to: object) -> None:
    def changed(station: Station) -> Station:
        return replace(
            station,
            assignments=tuple(
                replace(each, **to) if each.key == key else each  # type: ignore[arg-type]
                for each in station.assignments
            ),
        )

    tools.database.change_station(changed)


def test_the_names_are_those_of_today_then_the_others(tools: Tools) -> None:
    seen = see_names(enrolled(tools), tools)
    assert seen.booth.name == "Booth 1"
    assert [name for name, _ in seen.today][:2] == ["Joan Abara", "Imke Rowan"]
    assert dict(seen.today)["Tomas Vale"] == ("The Courier Hour",)
    assert seen.others == ()


def test_a_reader_sees_what_is_theirs_and_nothing_of_others(tools: Tools) -> None:
    (mine,) = today(tools, "Tomas Vale").mine
    assert mine.to_read.assignment.key == HOUR
    assert mine.window is not None
    assert mine.words == 8600  # 57 minutes at 150 words a minute, to the hundred
    assert not mine.pace_measured
    assert mine.recorded_s is None
    assert "Wednesday 25 November 2026. The reader is Tomas Vale." in text(mine)
    assert "{" not in text(mine)


def test_the_length_in_words_goes_by_the_readers_own_pace(tools: Tools, clock: Clock) -> None:
    tools.database.keep_pace("Tomas Vale", 130.0, clock())
    (mine,) = today(tools, "Tomas Vale").mine
    assert (mine.words, mine.pace_measured) == (7400, True)


def test_a_programme_of_two_names_both(tools: Tools) -> None:
    change(tools, HOUR, readers=("Tomas Vale", "Ada Fenwick"))
    mine = today(tools, "Ada Fenwick").mine
    hour = next(each for each in mine if each.to_read.assignment.key == HOUR)
    assert "The reader is Tomas Vale and Ada Fenwick." in text(hour)


def test_a_serial_shows_where_the_part_before_left_off_and_its_recap(tools: Tools) -> None:
    def with_part_8(station: Station) -> Station:
        part = Assignment(
            programme_key="long-shelf",
            issue_date=date(2026, 11, 23),
            air_date=date(2026, 11, 23),
            readers=("Joan Abara",),
            part=8,
            key="shelf-8",
        )
        return replace(station, assignments=(*station.assignments, part))

    tools.database.change_station(with_part_8)
    left = HandIn(place_page="112", place_headline="The tide", recap="Tolly has the lamp.")
    handed_in(tools, "shelf-8", "Joan Abara", left)
    (mine,) = today(tools, "Imke Rowan").mine
    assert mine.left_off is not None
    assert (mine.left_off.place_page, mine.left_off.recap, mine.left_off.part) == (
        "112",
        "Tolly has the lamp.",
        8,
    )
    # A part that comes later says nothing about where this one begins.
    change(tools, SHELF, part=7)
    assert today(tools, "Imke Rowan").mine[0].left_off is None


def test_a_private_request_shows_what_is_planned_and_no_length(tools: Tools) -> None:
    request = next(
        each for each in today(tools, "Joan Abara").mine if each.to_read.assignment.key == REQUEST
    )
    assert (request.window, request.words, request.dated) == (None, None, False)
    assert request.publication == "Pages sent in by a listener"
    assert request.left_off is None


def test_what_is_short_is_offered_with_the_issue_it_is_read_from(tools: Tools) -> None:
    short = today(tools, "Tomas Vale").short
    assert [each.short.programme.key for each in short] == [
        "field-and-lane",
        "marrowby-in-five",
        "courier-hour",
    ]
    assert short[1].issue_date == date(2026, 11, 26)


def test_what_was_begun_says_how_much_is_there(tools: Tools) -> None:
    record(open_reading(HOUR, sat(tools, "Tomas Vale"), tools).folder, tools, 3.0)
    (mine,) = today(tools, "Tomas Vale").mine
    assert mine.to_read.begun
    assert mine.recorded_s == 3.0


def test_what_was_handed_in_is_gone_and_what_came_back_is_there(tools: Tools) -> None:
    handed_in(tools, HOUR, "Tomas Vale")
    assert today(tools, "Tomas Vale").mine == ()
    handed_in(tools, SHELF, "Imke Rowan", state="returned")
    assert today(tools, "Imke Rowan").mine[0].to_read.begun


def test_words_that_cannot_be_written_out_say_why_and_the_page_stands(tools: Tools) -> None:
    def without_name(station: Station) -> Station:
        programmes = tuple(
            replace(each, opening_words="Part {part}.") if each.key == "courier-hour" else each
            for each in station.programmes
        )
        return replace(station, programmes=programmes)

    tools.database.save_station(without_name(tools.database.load_station()))
    (mine,) = today(tools, "Tomas Vale").mine
    assert mine.opening == ()
    assert "{part}" in mine.trouble


def test_another_readers_paper_is_not_asked_about(tools: Tools) -> None:
    sitting = sat(tools, "Ada Fenwick")
    for ask in (
        lambda: see_paper(HOUR, None, sitting, PACE, tools),
        lambda: read_this_issue(HOUR, TUESDAY, sitting, tools),
        lambda: ask_about_issue(HOUR, None, sitting, tools),
        lambda: paper_missing(HOUR, sitting, tools),
    ):
        with pytest.raises(NotAllowed):
            ask()
    assert tools.database.messages() == ()


def test_a_paper_that_says_what_is_planned_differs_in_nothing(tools: Tools) -> None:
    sitting = sat(tools, "Tomas Vale")
    assert see_paper(HOUR, date(2026, 11, 25), sitting, PACE, tools).says is None
    assert see_paper(HOUR, TUESDAY, sitting, PACE, tools).says == TUESDAY


def test_reading_another_issue_changes_the_words_and_tells_the_desk(tools: Tools) -> None:
    sitting = sat(tools, "Tomas Vale")
    read_this_issue(HOUR, TUESDAY, sitting, tools)
    planned = assignment_named(tools.database.load_station(), HOUR)
    assert planned.issue_date == TUESDAY
    assert planned.air_date == date(2026, 11, 25)
    (mine,) = today(tools, "Tomas Vale").mine
    assert "Tuesday 24 November 2026" in text(mine)
    assert open_reading(HOUR, sitting, tools).folder.facts.issue_date == TUESDAY
    (told,) = tools.database.messages(open_only=True)
    assert (told.kind, told.assignment_key) == ("issue-differs", HOUR)
    assert told.text == (
        "The Courier Hour is read from the issue of Tuesday 24 November 2026; planned was "
        "Wednesday 25 November 2026."
    )


def test_an_issue_that_was_read_for_the_programme_already_is_said(tools: Tools) -> None:
    def with_yesterday(station: Station) -> Station:
        yesterday = Assignment(
            programme_key="courier-hour",
            issue_date=TUESDAY,
            air_date=TUESDAY,
            readers=("Ada Fenwick",),
            key="hour-24",
        )
        return replace(station, assignments=(*station.assignments, yesterday))

    tools.database.change_station(with_yesterday)
    handed_in(tools, "hour-24", "Ada Fenwick")
    sitting = sat(tools, "Tomas Vale")
    (row,) = see_paper(HOUR, TUESDAY, sitting, PACE, tools).read_before
    assert row.readers == ("Ada Fenwick",)
    assert see_paper(HOUR, None, sitting, PACE, tools).read_before == ()


def test_another_issue_is_not_put_in_place_of_one_that_was_begun(tools: Tools) -> None:
    sitting = sat(tools, "Tomas Vale")
    record(open_reading(HOUR, sitting, tools).folder, tools)
    with pytest.raises(Conflict, match="opening words say so"):
        read_this_issue(HOUR, TUESDAY, sitting, tools)
    assert tools.database.messages() == ()


def test_what_the_partner_began_settles_the_issue_too(tools: Tools) -> None:
    change(tools, HOUR, readers=("Tomas Vale", "Ada Fenwick"))
    record(open_reading(HOUR, sat(tools, "Tomas Vale"), tools).folder, tools)
    with pytest.raises(Conflict):
        read_this_issue(HOUR, TUESDAY, sat(tools, "Ada Fenwick", "booth-2"), tools)


@pytest.mark.parametrize("says", [date(2025, 10, 20), date(2027, 2, 1), date(1, 1, 1)])
def test_no_paper_is_that_old_or_that_new(tools: Tools, says: date) -> None:
    sitting = sat(tools, "Tomas Vale")
    with pytest.raises(Invalid, match="Look at the date once more"):
        see_paper(HOUR, says, sitting, PACE, tools)
    with pytest.raises(Invalid):
        read_this_issue(HOUR, says, sitting, tools)


def test_a_book_has_no_other_issue(tools: Tools) -> None:
    with pytest.raises(Invalid, match="no date printed on it"):
        read_this_issue(SHELF, TUESDAY, sat(tools, "Imke Rowan"), tools)


def test_the_desk_hears_of_a_question_and_of_a_paper_that_did_not_come(tools: Tools) -> None:
    sitting = sat(tools, "Tomas Vale")
    ask_about_issue(HOUR, TUESDAY, sitting, tools)
    missing = paper_missing(HOUR, sitting, tools)
    kinds = [message.kind for message in tools.database.messages(open_only=True)]
    assert sorted(kinds) == ["issue-differs", "paper-missing"]
    assert "The Marrowby Courier did not come" in missing.text
    seen = see_today(sitting, missing.message_id, PACE, tools)
    assert seen.message == missing


def test_a_message_of_somebody_else_is_not_shown(tools: Tools) -> None:
    missing = paper_missing(HOUR, sat(tools, "Tomas Vale"), tools)
    assert see_today(sat(tools, "Ada Fenwick"), missing.message_id, PACE, tools).message is None
    assert see_today(sat(tools, "Ada Fenwick"), "nothing", PACE, tools).message is None


def aired_before(tools: Tools, key: str, days: int) -> None:
    """Plan one more hour for Tomas, so many days ago."""
    day = date.fromordinal(date(2026, 11, 25).toordinal() - days)
    hour = assignment_named(tools.database.load_station(), HOUR)
    before = replace(hour, key=key, air_date=day, issue_date=day)
    tools.database.change_station(
        lambda station: replace(station, assignments=(*station.assignments, before))
    )


def test_what_was_begun_weeks_ago_is_found_again_and_stands_first(tools: Tools) -> None:
    aired_before(tools, "begun", 28)
    aired_before(tools, "never-begun", 29)
    record(open_reading("begun", sat(tools, "Tomas Vale"), tools).folder, tools)
    keys = [each.to_read.assignment.key for each in today(tools, "Tomas Vale").mine]
    assert keys == ["begun", HOUR]


def test_a_newspaper_shows_the_place_of_the_last_time_and_no_recap(tools: Tools) -> None:
    for key, days, page in (("yesterday", 1, "7"), ("last-week", 7, "3")):
        aired_before(tools, key, days)
        handed_in(tools, key, "Tomas Vale", HandIn(place_page=page, recap="Never mind."))
    hour = today(tools, "Tomas Vale").mine[0]
    assert hour.left_off is not None
    assert (hour.left_off.place_page, hour.left_off.recap) == ("7", "")


def test_a_part_is_known_from_its_folder_when_it_has_left_the_plan(tools: Tools) -> None:
    change(tools, SHELF, part=8)
    handed_in(tools, SHELF, "Imke Rowan", HandIn(recap="Tolly has the lamp."))

    def go_on(station: Station) -> Station:
        shelf = assignment_named(station, SHELF)
        others = tuple(each for each in station.assignments if each is not shelf)
        return replace(station, assignments=(*others, replace(shelf, key="part-9", part=9)))

    tools.database.change_station(go_on)
    left = today(tools, "Imke Rowan").mine[0].left_off
    assert left is not None
    assert (left.part, left.recap) == (8, "Tolly has the lamp.")


def test_who_has_handed_in_no_longer_stands_among_those_who_read_today(tools: Tools) -> None:
    secret = enrolled(tools)
    before = dict(see_names(secret, tools).today)
    assert "Tomas Vale" in before
    handed_in(tools, "courier-hour-2026-11-25", "Tomas Vale")
    after = see_names(secret, tools)
    assert "Tomas Vale" not in dict(after.today)
    assert "Tomas Vale" in after.others
