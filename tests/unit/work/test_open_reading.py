"""An unfinished reading is found by its reader from any booth; nobody gets another's."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from quietleaf.errors import Conflict, NotAllowed, NotFound
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import create_reading, reading_paths
from quietleaf.storage.reading_places import folder_of
from quietleaf.storage.tokens import sha256_of
from quietleaf.work.coming_in import paper_missing
from quietleaf.work.messages import tell_desk
from quietleaf.work.open_reading import give_pass, open_reading
from quietleaf.work.sit_down import new_sitting, sitting_of
from quietleaf.work.tools import Tools
from tests.coming import Clock, coming_station, handed_in, record, sat
from tests.finished import bring_reading, other_reading

HOUR = "courier-hour-2026-11-25"
SHELF = "long-shelf-2026-11-25"


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    with coming_station(tmp_path, Clock()) as made:
        yield made


def share_hour(tools: Tools) -> None:
    tools.database.change_station(
        lambda station: replace(
            station,
            assignments=tuple(
                replace(each, readers=("Tomas Vale", "Ada Fenwick")) if each.key == HOUR else each
                for each in station.assignments
            ),
        )
    )


def test_a_reading_is_made_of_its_assignment(tools: Tools) -> None:
    opened = open_reading(SHELF, sat(tools, "Imke Rowan"), tools)
    facts = folder_of(tools.data, opened.place).facts
    assert (facts.assignment_key, facts.part, facts.readers) == (SHELF, 9, ("Imke Rowan",))
    assert facts.programme_title == "The Long Shelf"
    assert facts.issue_date.isoformat() == "2026-11-25"
    assert not opened.found
    row = tools.database.reading(opened.reading_id)
    assert (row.assignment_key, row.state, row.takes) == (SHELF, "assigned", 0)


def test_a_paper_that_has_come_after_all_is_not_looked_for_any_more(tools: Tools) -> None:
    sitting = sat(tools, "Tomas Vale")
    missing = paper_missing(HOUR, sitting, tools)
    other = tell_desk("help", sitting, tools, assignment_key=HOUR)
    open_reading(HOUR, sitting, tools)
    assert tools.database.message(missing.message_id).seen_at is not None
    assert tools.database.messages(open_only=True) == (other,)


def test_it_is_found_again_from_any_booth_and_from_home(tools: Tools) -> None:
    opened = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    record(opened.folder, tools)
    for booth in ("booth-1", "booth-2", None):
        again = open_reading(HOUR, sat(tools, "Tomas Vale", booth), tools)
        assert (again.reading_id, again.found) == (opened.reading_id, True)
    assert len(reading_paths(tools.data)) == 1


def test_what_the_index_does_not_know_yet_is_found_on_the_disk(tools: Tools) -> None:
    opened = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    stale = tools.database.reading(opened.reading_id)
    record(opened.folder, tools)
    tools.database.index_reading(stale)  # as after a kill between the two
    assert open_reading(HOUR, sat(tools, "Tomas Vale"), tools).found


def test_another_readers_assignment_is_refused(tools: Tools) -> None:
    with pytest.raises(NotAllowed, match="not planned for Ada Fenwick"):
        open_reading(HOUR, sat(tools, "Ada Fenwick"), tools)
    assert reading_paths(tools.data) == []


def test_practice_opens_no_reading(tools: Tools) -> None:
    secret = new_sitting("Tomas Vale", tools, reading="practice:p1")
    with pytest.raises(NotAllowed):
        open_reading(HOUR, sitting_of(secret, tools), tools)


def test_an_assignment_that_is_not_there_is_refused(tools: Tools) -> None:
    with pytest.raises(NotFound, match="Ask the desk"):
        open_reading("nothing", sat(tools, "Tomas Vale"), tools)


def test_two_readers_of_a_programme_share_one_reading(tools: Tools) -> None:
    share_hour(tools)
    first = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    record(first.folder, tools)
    second = open_reading(HOUR, sat(tools, "Ada Fenwick", "booth-2"), tools)
    assert second.reading_id == first.reading_id
    assert second.folder.facts.readers == ("Tomas Vale", "Ada Fenwick")


def test_two_who_open_it_at_one_moment_get_one_reading(tools: Tools) -> None:
    share_hour(tools)
    sittings = [sat(tools, "Tomas Vale"), sat(tools, "Ada Fenwick", "booth-2")] * 4
    with ThreadPoolExecutor(8) as pool:
        opened = list(pool.map(lambda sitting: open_reading(HOUR, sitting, tools), sittings))
    assert len({each.reading_id for each in opened}) == 1
    assert len(reading_paths(tools.data)) == 1


def test_a_substitute_does_not_get_into_what_another_began(tools: Tools) -> None:
    first = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    record(first.folder, tools)
    tools.database.change_station(
        lambda station: replace(
            station,
            assignments=tuple(
                replace(each, readers=("Ada Fenwick",)) if each.key == HOUR else each
                for each in station.assignments
            ),
        )
    )
    second = open_reading(HOUR, sat(tools, "Ada Fenwick"), tools)
    assert second.reading_id != first.reading_id
    with pytest.raises(NotAllowed):
        open_reading(HOUR, sat(tools, "Tomas Vale"), tools)


def test_what_was_handed_in_is_not_opened_again(tools: Tools) -> None:
    handed_in(tools, HOUR, "Tomas Vale")
    with pytest.raises(Conflict, match="handed this one in"):
        open_reading(HOUR, sat(tools, "Tomas Vale"), tools)


def test_what_was_brought_in_as_a_file_counts_as_handed_in(tools: Tools) -> None:
    bring_reading(tools, other_reading("courier-hour", "b1"))
    with pytest.raises(Conflict):
        open_reading(HOUR, sat(tools, "Tomas Vale"), tools)


def test_what_the_desk_gave_back_is_opened_again(tools: Tools) -> None:
    folder = handed_in(tools, HOUR, "Tomas Vale", state="returned", note="A door banged.")
    again = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    assert (again.reading_id, again.found) == (folder.facts.reading_id, True)


def test_late_sound_is_passed_over(tools: Tools) -> None:
    folder = handed_in(tools, HOUR, "Tomas Vale", state="returned")
    late = replace(folder.facts, reading_id="late-0a1b2c3d")
    late_folder = create_reading(tools.data, late, tools.clock(), "Tomas Vale")
    record(late_folder, tools)
    record(late_folder, tools)
    tools.database.index_reading(reading_row(late_folder))
    again = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    assert again.reading_id == folder.facts.reading_id


def test_what_was_opened_for_another_issue_and_never_begun_is_left(tools: Tools) -> None:
    first = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    tools.database.change_station(
        lambda station: replace(
            station,
            assignments=tuple(
                replace(each, issue_date=each.issue_date.replace(day=24))
                if each.key == HOUR
                else each
                for each in station.assignments
            ),
        )
    )
    second = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    assert second.reading_id != first.reading_id
    assert second.folder.facts.issue_date.day == 24


def test_a_pass_is_for_the_reading_that_is_open(tools: Tools) -> None:
    opened = open_reading(HOUR, sat(tools, "Tomas Vale"), tools)
    sitting = replace(sat(tools, "Tomas Vale"), reading=opened.place)
    first, second = give_pass(sitting, tools), give_pass(sitting, tools)
    for secret in (first, second):  # what a page has still to send goes by the one that it had
        token = tools.database.token(sha256_of(secret))
        assert (token.purpose, token.reading, token.reader) == ("pass", opened.place, "Tomas Vale")
        assert token.is_live(tools.clock())


def test_without_a_reading_there_is_no_pass(tools: Tools) -> None:
    with pytest.raises(Conflict, match="Choose what you read"):
        give_pass(sat(tools, "Tomas Vale"), tools)
