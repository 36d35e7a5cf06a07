"""What a day and a reading show, from what is planned and what the folders say."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from quietleaf.booth.reading import ReadingState
from quietleaf.errors import Invalid, NotFound
from quietleaf.planning.message import Message
from quietleaf.planning.programme import ReviewDepth
from quietleaf.storage.database import Database, database_url
from quietleaf.work.plan_assignment import change_assignment
from quietleaf.work.plan_programme import change_programme
from quietleaf.work.plan_station import plan_station
from quietleaf.work.recorders import WriterSeen
from quietleaf.work.see_day import CAME_IN_MOST, SeenWriter, see_day
from quietleaf.work.see_reading import find_made_file, report_now, see_reading
from quietleaf.work.tools import Tools
from tests.finished import (
    DAY,
    FACTS,
    NOW,
    REPORT,
    bring_reading,
    example_station,
    finished_station,
    other_reading,
)
from tests.stations import HOUR, STATION, with_programme


def test_a_day_has_its_slots_with_their_readings(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    with tools.database:
        seen = see_day(None, tools)
    assert (seen.day, seen.now, seen.begun) == (DAY, NOW, 2)
    assert (seen.before, seen.after) == (date(2026, 11, 24), date(2026, 11, 26))
    assert seen.nearest is None
    slots = {slot.programme_title: slot for slot in seen.slots}
    (reading,) = slots["Marrowby in Five"].readings
    assert (reading.verdict, reading.things_to_hear) == ("needs an ear", 2)
    assert slots["Field and Lane"].readers == ()
    assert slots["Bread and Butter"].is_over
    assert not slots["Letters to the Editor"].is_over


def test_a_slot_is_over_when_its_time_has_passed_and_not_before(tmp_path: Path) -> None:
    ends = datetime(2026, 11, 25, 12, 30, tzinfo=UTC)
    for at, is_over in ((ends, True), (ends.replace(minute=29, second=59), False)):
        tools = example_station(tmp_path, at)
        with tools.database:
            assert see_day(DAY, tools).slots[0].is_over == is_over


def test_a_reading_fills_a_slot_that_nobody_was_assigned_to(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        bring_reading(
            tools, replace(other_reading("field-and-lane", "f1"), readers=("Joan Abara",))
        )
        slots = {slot.programme_title: slot for slot in see_day(DAY, tools).slots}
    assert slots["Field and Lane"].readers == ("Joan Abara",)


def test_today_comes_with_tomorrow_and_another_day_alone(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        today, another = see_day(None, tools), see_day(date(2026, 11, 24), tools)
    assert [slot.programme_title for slot in today.tomorrow] == [
        "Marrowby in Five",
        "The Courier Hour",
    ]
    assert today.tomorrow[0].starts_at.isoformat() == "2026-11-26T18:00:00+00:00"
    assert not any(slot.has_begun for slot in today.tomorrow)
    assert another.tomorrow == ()


def test_what_came_in_since_is_told_for_whichever_day(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        bring_reading(tools)
        bring_reading(tools, replace(FACTS, reading_id="later", air_date=date(2026, 12, 24)))
        bring_reading(tools, other_reading("courier-hour", "c9"), state="in the booth")
        seen = see_day(None, tools, since=NOW - timedelta(seconds=1))
        assert [one.summary.reading_id for one in seen.came_in] == ["k3f9", "later"]
        assert seen.came_in[0].at == NOW
        assert see_day(None, tools, since=NOW).came_in == ()
        assert see_day(None, tools).since is None
        many = [
            replace(tools.database.reading("k3f9"), reading_id=f"r{number}")
            for number in range(CAME_IN_MOST + 1)
        ]
        tools.database.replace_index(many)
        seen = see_day(None, tools, since=NOW - timedelta(days=1))
        assert len(seen.came_in) == CAME_IN_MOST
        with pytest.raises(NotFound, match="out of reach"):
            see_day(None, tools, since=datetime(9999, 12, 31, tzinfo=UTC))


@pytest.mark.parametrize(
    ("at", "state", "is_late"),
    [
        # The Courier Hour airs at 19:00 and was to be read at 16:00.
        ("16:14", None, False),
        ("16:15", None, True),
        ("16:15", "in the booth", False),
        ("17:59", "in the booth", False),
        ("18:00", "in the booth", True),
        ("18:00", "handed in", False),
        ("19:00", None, False),
    ],
)
def test_what_should_be_begun_or_in_by_now_is_late(
    tmp_path: Path, at: str, state: ReadingState | None, is_late: bool
) -> None:
    moment = datetime.combine(DAY, time.fromisoformat(at), UTC)
    tools = example_station(tmp_path, moment)
    with tools.database:
        (hour,) = (
            one
            for one in tools.database.load_station().assignments
            if one.key == "courier-hour-2026-11-25"
        )
        agreed = datetime.combine(DAY, time(16, 0), UTC)
        change_assignment(replace(hour, reads_at=agreed), tools)
        if state is not None:
            bring_reading(tools, other_reading("courier-hour", "c9"), state=state)
        slots = {slot.programme_title: slot for slot in see_day(DAY, tools).slots}
    assert slots["The Courier Hour"].is_late == is_late
    assert slots["The Courier Hour"].reads_at == agreed
    assert not slots["Field and Lane"].is_late  # a hole is told as a hole


def test_another_day_has_no_present_moment(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        seen = see_day(date(2026, 11, 30), tools)
    assert seen.now is None
    assert seen.nearest == DAY
    assert all(not slot.readings for slot in seen.slots)


def test_without_a_station_there_is_no_day(tmp_path: Path) -> None:
    with Database(database_url(tmp_path)) as database:
        tools = Tools(data=tmp_path, database=database, clock=lambda: NOW)
        with pytest.raises(NotFound, match="No station is set up here yet"):
            see_day(None, tools)


def test_a_reading_is_seen_whole(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    with tools.database:
        seen = see_reading("k3f9", tools)
        path = find_made_file("k3f9", "marrowby.mp3", tools)
    assert seen.summary.programme_title == "Marrowby in Five"
    assert seen.airs_at is not None
    assert seen.airs_at.isoformat() == "2026-11-25T18:00:00+00:00"
    assert seen.opening_words.startswith("This is the Marrowby Reading Service.")
    assert seen.closing_words.endswith("next weekday at six.")
    assert seen.report is not None
    assert seen.report.findings == REPORT.findings
    assert [file.kind for file in seen.files] == ["wave", "mp3", "report", "plan"]
    assert seen.player == "marrowby.mp3"
    assert path.read_bytes()[:3] == b"ID3"


def test_a_verdict_goes_by_the_review_depth_as_it_is_when_it_is_seen(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    with tools.database:
        (five,) = (
            one
            for one in tools.database.load_station().programmes
            if one.key == FACTS.programme_key
        )
        told: dict[ReviewDepth, str] = {
            "none": "ready",
            "things to hear": "needs an ear",
            "whole": "needs an ear",
        }
        for review, verdict in told.items():
            change_programme(replace(five, review=review), tools)
            slots = {slot.programme_title: slot for slot in see_day(DAY, tools).slots}
            (reading,) = slots["Marrowby in Five"].readings
            seen = see_reading("k3f9", tools)
            assert seen.report is not None
            assert {reading.verdict, seen.summary.verdict, seen.report.verdict} == {verdict}
            page = report_now("k3f9", tools)
            if review == REPORT.review:
                assert page is None  # the file says the same
            else:
                assert page is not None
                assert seen.report.reasons[0 if review == "whole" else -1] in page


def test_a_reading_without_assignment_has_no_words(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        bring_reading(tools, replace(FACTS, issue_date=date(2026, 1, 1), air_date=None))
        seen = see_reading("k3f9", tools)
    assert (seen.airs_at, seen.opening_words, seen.report, seen.player) == (None, "", None, None)


def test_a_reading_that_is_not_there_is_refused(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        with pytest.raises(NotFound, match="no reading nobody"):
            see_reading("nobody", tools)
        with pytest.raises(NotFound, match="no reading nobody"):
            find_made_file("nobody", "x.mp3", tools)


def test_planning_keeps_readings_and_replaces_the_plan(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    with tools.database:
        plan_station(STATION, tools)
        assert tools.database.load_station() == STATION
        assert tools.database.reading("k3f9").programme_title == "Marrowby in Five"


def test_a_plan_that_does_not_hold_together_changes_nothing(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        before = tools.database.load_station()
        with pytest.raises(Invalid, match="has a slot and no window"):
            plan_station(with_programme(replace(HOUR, window=None)), tools)
        with pytest.raises(Invalid, match="knows none called"):
            plan_station(replace(STATION, zone="Europe/Marrowby"), tools)
        assert tools.database.load_station() == before


def test_who_records_is_seen_with_what_is_on_the_disk_by_now(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    places: list[str] = []

    def writer_of(place: str) -> WriterSeen:
        places.append(place)
        return WriterSeen(
            booth="booth-2", reader="Ada Fenwick", since=NOW, is_rolling=True, samples=0
        )

    with tools.database:
        folder = bring_reading(tools, state="in the booth")
        bring_reading(tools, other_reading("courier-hour", "c9"))
        indexed_s = tools.database.reading("k3f9").duration_s
        # A take goes on: the index hears of it when it is sealed, the day at once.
        writer = folder.roll(48_000, author="Ada Fenwick", at=NOW)
        writer.append(bytes(3 * 48_000 * 5))
        writer.sync()
        slots = {slot.programme_title: slot for slot in see_day(DAY, tools, writer_of).slots}
        writer.close()
    slot = slots["Marrowby in Five"]
    assert places == ["readings:k3f9"]
    assert slot.writer == SeenWriter(reader="Ada Fenwick", where="Booth 2", is_rolling=True)
    assert slot.readings[0].duration_s == indexed_s + 5.0
    assert slots["The Courier Hour"].writer is None


def test_a_slot_has_begun_from_its_first_moment_on(tmp_path: Path) -> None:
    begins = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
    for at, has_begun in ((begins, True), (begins.replace(hour=11, minute=59), False)):
        tools = example_station(tmp_path, at)
        with tools.database:
            assert see_day(DAY, tools).slots[0].has_begun == has_begun


def test_messages_are_seen_on_every_day_until_somebody_saw_them(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database as database:
        for message_id, booth, assignment_key in (
            ("a", "booth-2", "courier-hour-2026-11-25"),
            ("b", "gone", "gone"),
            ("c", None, None),
        ):
            database.add_message(
                Message(
                    message_id=message_id,
                    kind="help",
                    at=NOW,
                    booth=booth,
                    reader="Ada Fenwick",
                    assignment_key=assignment_key,
                    reading_id=None,
                    text="",
                    seen_at=None,
                )
            )
        database.see_message("c", NOW)
        seen = see_day(date(2026, 11, 30), tools).messages
    assert [(one.message_id, one.where, one.programme_title) for one in seen] == [
        ("a", "Booth 2", "The Courier Hour"),
        ("b", "", ""),
    ]
