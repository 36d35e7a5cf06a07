"""What a reader finds on coming in: theirs first, what is short, which dates a paper may have."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.coming_in import (
    has_issues,
    issues_a_paper_can_say,
    likely_issue,
    next_part,
    publication_of,
    reads_today,
    short_of,
    to_read,
)
from quietleaf.planning.publication import Publication
from tests.stations import HOUR, REQUEST, STATION, STORY, WEDNESDAY

LONDON = ZoneInfo("Europe/London")
NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
WEEK = timedelta(days=7)


def assigned(programme: str, air: date | None, *readers: str, **more: object) -> Assignment:
    made = Assignment(
        programme_key=programme,
        issue_date=air or WEDNESDAY,
        air_date=air,
        readers=readers,
        key=f"{programme}-{air}",
        part=1 if programme == "story" else None,
    )
    return replace(made, **more)  # type: ignore[arg-type]


def keys(found: object) -> list[str]:
    return [each.assignment.key for each in found]  # type: ignore[attr-defined]


def test_what_is_for_today_comes_first_and_each_by_its_time() -> None:
    station = replace(
        STATION,
        assignments=(
            assigned("request", None, "Ada Fenwick"),
            assigned("hour", WEDNESDAY + timedelta(days=1), "Ada Fenwick"),
            assigned("hour", WEDNESDAY, "Ada Fenwick", "Tomas Vale"),
            assigned("story", WEDNESDAY, "Tomas Vale"),
        ),
    )
    found = to_read(station, "Ada Fenwick", NOON, LONDON)
    assert keys(found) == ["hour-2026-11-25", "hour-2026-11-26", "request-None"]
    assert [each.when for each in found] == ["today", "soon", "soon"]
    assert found[0].airs_at == datetime(2026, 11, 25, 19, 0, tzinfo=LONDON)
    assert found[2].airs_at is None


def test_what_was_handed_in_is_gone_and_what_was_begun_stays_whatever_its_day() -> None:
    long_ago = assigned("hour", WEDNESDAY - 4 * WEEK, "Ada Fenwick")
    station = replace(STATION, assignments=(assigned("hour", WEDNESDAY, "Ada Fenwick"), long_ago))
    assert keys(to_read(station, "Ada Fenwick", NOON, LONDON)) == ["hour-2026-11-25"]
    found = to_read(
        station,
        "Ada Fenwick",
        NOON,
        LONDON,
        done={"hour-2026-11-25"},
        begun={long_ago.key},
    )
    assert keys(found) == [long_ago.key]
    assert found[0].begun


def test_what_is_agreed_for_today_is_today_though_it_airs_later() -> None:
    at = datetime(2026, 11, 25, 23, 30, tzinfo=UTC)
    later = assigned("hour", WEDNESDAY + timedelta(days=2), "Ada Fenwick", reads_at=at)
    station = replace(STATION, assignments=(later,))
    assert to_read(station, "Ada Fenwick", NOON, LONDON)[0].when == "today"
    # The day is the station's: at 23:30 UTC it is past midnight east of there.
    berlin = ZoneInfo("Europe/Berlin")
    assert to_read(station, "Ada Fenwick", NOON, berlin)[0].when == "soon"


def test_what_was_agreed_for_yesterday_and_airs_today_is_today() -> None:
    at = NOON - timedelta(days=1)
    station = replace(
        STATION, assignments=(assigned("hour", WEDNESDAY, "Ada Fenwick", reads_at=at),)
    )
    assert to_read(station, "Ada Fenwick", NOON, LONDON)[0].when == "today"


def test_what_is_over_today_is_shown_as_missed_and_never_tomorrow() -> None:
    station = replace(STATION, assignments=(assigned("hour", WEDNESDAY, "Ada Fenwick"),))
    late = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)
    assert to_read(station, "Ada Fenwick", late, LONDON)[0].when == "missed"
    assert to_read(station, "Ada Fenwick", late - timedelta(seconds=1), LONDON)[0].when == "today"
    assert to_read(station, "Ada Fenwick", late + timedelta(days=1), LONDON) == ()


def test_what_is_far_ahead_is_nobodys_matter_today() -> None:
    for days, shown in ((14, 1), (21, 0)):
        ahead = assigned("hour", WEDNESDAY + timedelta(days=days), "Ada Fenwick")
        station = replace(STATION, assignments=(ahead,))
        assert len(to_read(station, "Ada Fenwick", NOON, LONDON)) == shown


def test_who_reads_today_is_named_with_all_that_they_read() -> None:
    station = replace(
        STATION,
        assignments=(
            assigned("story", WEDNESDAY, "Tomas Vale"),
            assigned("hour", WEDNESDAY, "Ada Fenwick", "Tomas Vale"),
            assigned("request", None, "Ada Fenwick"),
        ),
    )
    early = NOON.replace(hour=6)
    assert reads_today(station, early, LONDON) == {
        "Tomas Vale": ("The Story", "The Hour"),
        "Ada Fenwick": ("The Hour",),
    }
    asked: list[str] = []

    def is_done(assignment: Assignment, reader: str) -> bool:
        asked.append(assignment.programme_key)
        return reader == "Ada Fenwick"

    assert list(reads_today(station, early, LONDON, is_done)) == ["Tomas Vale"]
    assert "request" not in asked  # it is not for today, and nobody looks how far it has got


def test_short_is_what_airs_later_today_or_tomorrow_without_a_reader() -> None:
    station = replace(
        STATION,
        assignments=(
            assigned("hour", WEDNESDAY),
            assigned("request", None),
        ),
    )
    found = short_of(station, NOON, LONDON)
    # The story's first time is over, its second is not; the request is nobody's to take.
    assert [(each.programme.key, each.airs_at.isoformat()) for each in found] == [
        ("hour", "2026-11-25T19:00:00+00:00"),
        ("story", "2026-11-25T23:45:00+00:00"),
        ("hour", "2026-11-26T19:00:00+00:00"),
    ]
    assert found[0].assignment is not None
    assert found[2].assignment is None


def test_nothing_is_short_where_all_is_taken() -> None:
    taken = [assigned("hour", WEDNESDAY + timedelta(days=day), "Ada Fenwick") for day in (0, 1)]
    station = replace(STATION, assignments=(*taken, assigned("story", WEDNESDAY, "Tomas Vale")))
    assert short_of(station, NOON, LONDON) == ()


def test_the_likely_issue_of_a_daily_is_the_days_own() -> None:
    assert likely_issue(STATION, HOUR, WEDNESDAY) == WEDNESDAY


@pytest.mark.parametrize(
    ("air", "issue"),
    [
        (date(2026, 11, 25), date(2026, 11, 23)),
        (date(2026, 12, 2), date(2026, 11, 30)),
        (date(2026, 11, 18), date(2026, 11, 16)),
    ],
)
def test_the_likely_issue_of_a_weekly_goes_by_weeks_from_one_that_is_known(
    air: date, issue: date
) -> None:
    weekly = Publication(key="post", title="The Post", kind="magazine", appears="weekly")
    known = assigned("hour", WEDNESDAY, issue_date=date(2026, 11, 23))
    station = replace(STATION, publications=(weekly,), assignments=(known,))
    assert likely_issue(station, HOUR, air) == issue


def test_the_next_part_follows_what_is_planned_and_what_was_read() -> None:
    station = replace(STATION, assignments=(assigned("story", WEDNESDAY, part=4),))
    assert next_part(station, STORY) == 5
    assert next_part(station, STORY, {7}) == 8
    assert next_part(replace(STATION, assignments=()), STORY) == 1
    assert next_part(station, HOUR) is None


def test_a_book_and_loose_pages_have_no_date_printed_on_them() -> None:
    assert has_issues(publication_of(STATION, HOUR))
    assert not has_issues(publication_of(STATION, REQUEST))


def test_the_dates_of_a_weekly_are_weeks_apart_and_never_the_planned_one() -> None:
    weekly = Publication(key="w", title="W", kind="magazine", appears="weekly")
    assert issues_a_paper_can_say(weekly, WEDNESDAY, WEDNESDAY) == (
        date(2026, 11, 18),
        date(2026, 11, 11),
        date(2026, 11, 4),
        date(2026, 12, 2),
    )


def test_dates_that_are_out_by_now_come_before_those_still_to_come() -> None:
    daily = Publication(key="d", title="D", kind="newspaper", appears="daily")
    tomorrow = WEDNESDAY + timedelta(days=1)
    days = issues_a_paper_can_say(daily, tomorrow, WEDNESDAY)
    assert days[:2] == (WEDNESDAY, WEDNESDAY - timedelta(days=1))
    assert days[-1] == WEDNESDAY + timedelta(days=2)
