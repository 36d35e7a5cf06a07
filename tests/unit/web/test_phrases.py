"""Sentences made from what there is."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import product
from typing import Any

import pytest

from quietleaf.booth.reading import READING_STATES, ReadingState
from quietleaf.listening.hearing import Verdict
from quietleaf.planning.message import MESSAGE_KINDS, MessageKind
from quietleaf.planning.programme import REVIEW_DEPTHS
from quietleaf.planning.publication import Publication
from quietleaf.web import phrases
from quietleaf.web.phrases import Standing
from quietleaf.work.see_day import SeenDay, SeenMessage, SeenSlot, SeenWriter
from quietleaf.work.see_disk import DiskSeen
from quietleaf.work.summary import Summary
from tests.finished import DAY

READY = Summary(
    reading_id="a1",
    programme_title="The Hour",
    publication="The Post",
    issue_date=DAY,
    air_date=DAY,
    readers=("Ada Fenwick",),
    state="handed in",
    duration_s=3391.0,
    verdict="ready",
    things_to_hear=0,
    misfit_s=0.0,
)
AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def slot(
    hour: int, readers: tuple[str, ...] = (), *readings: Summary, is_over: bool = False
) -> SeenSlot:
    """Give a slot of an hour."""
    starts_at = AT.replace(hour=hour)
    return SeenSlot(
        starts_at=starts_at,
        ends_at=starts_at + timedelta(hours=1),
        programme_key="hour",
        programme_title="The Hour",
        publication=Publication(key="post", title="The Post", kind="newspaper", appears="daily"),
        issue_date=DAY,
        part=None,
        readers=readers,
        has_begun=is_over,
        is_over=is_over,
        readings=readings,
        assignment_key=None,
        writer=None,
        reads_at=None,
        is_late=False,
    )


def day(*slots: SeenSlot) -> SeenDay:
    """Give a day of these slots."""
    return SeenDay(
        station_name="A Service",
        station_note="",
        day=DAY,
        today=DAY,
        now=AT,
        begun=0,
        before=None,
        after=None,
        slots=slots,
        nearest=None,
        messages=(),
        disk=DiskSeen(hours=500.0, days=None),
        tomorrow=(),
        since=None,
        came_in=(),
    )


@pytest.mark.parametrize(
    ("change", "words", "mark"),
    [
        ({}, "Ready for the air", ""),
        ({"verdict": None}, "Handed in, not finished yet", "note"),
        ({"verdict": "read again"}, "To be read again", "fix"),
        ({"verdict": "read again", "misfit_s": 9.0}, "To be read again", "fix"),
        ({"misfit_s": 184.0}, "Three minutes too long", "fix"),
        ({"misfit_s": -20.4}, "20 seconds too short", "fix"),
        ({"misfit_s": -0.2}, "One second too short", "fix"),
        ({"verdict": "needs an ear", "things_to_hear": 1}, "One thing to hear", "hear"),
        ({"verdict": "needs an ear", "things_to_hear": 14}, "14 things to hear", "hear"),
        ({"verdict": "needs an ear"}, "Needs an ear", "hear"),
        (
            {"verdict": "needs an ear", "things_to_hear": 2, "review": "whole"},
            "To be heard whole",
            "hear",
        ),
        (
            {"verdict": "needs an ear", "things_to_hear": 2, "review": "none"},
            "Cannot go out as it is",
            "hear",
        ),
        ({"things_to_hear": 2, "review": "none"}, "Ready for the air", ""),
        ({"state": "in the booth"}, "In the booth, 56 min 31 read", "note"),
        ({"state": "returned"}, "Returned to its reader", "note"),
        ({"state": "cleared", "verdict": "needs an ear"}, "Cleared", ""),
        ({"state": "placed"}, "Placed", ""),
        ({"state": "aired"}, "Aired", ""),
    ],
)
def test_how_far_a_reading_has_got(change: dict[str, object], words: str, mark: str) -> None:
    standing = phrases.standing(replace(READY, **change))  # type: ignore[arg-type]
    assert replace(standing, words=standing.words.replace("\N{NO-BREAK SPACE}", " ")) == Standing(
        words=words,
        mark=mark,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("state", READING_STATES)
def test_every_state_has_its_words(state: ReadingState) -> None:
    verdicts: tuple[Verdict | None, ...] = (None, "ready", "needs an ear", "read again")
    for verdict, review in product(verdicts, REVIEW_DEPTHS):
        summary = replace(READY, state=state, verdict=verdict, review=review)
        assert phrases.standing(summary).words
        assert phrases.verdict(summary).endswith(".")


@pytest.mark.parametrize(
    ("slots", "words"),
    [
        ((), "Nothing is on the air this day."),
        ((slot(9, ("Ada",), READY),), "One programme; it is ready."),
        (
            (slot(9, ("Ada",), READY), slot(10), slot(11, ("Tom",))),
            "Three programmes: one is ready and one is not read yet, "
            "and at 10:00 nobody reads yet.",
        ),
        ((slot(9), slot(10)), "Two programmes; nobody reads any of them yet."),
        (
            (slot(9, ("Ada",)), slot(10), slot(11), slot(12), slot(13)),
            "Five programmes: one is not read yet, and four of them nobody reads yet.",
        ),
        (
            (slot(9, is_over=True), slot(10, ("Ada",), is_over=True)),
            "Two programmes; none was read.",
        ),
        (
            (slot(9, ("Ada",), replace(READY, misfit_s=99.0)),),
            "One programme; it needs the desk.",
        ),
    ],
)
def test_a_day_is_summed_up(slots: tuple[SeenSlot, ...], words: str) -> None:
    assert phrases.day_in_words(slots).replace("\N{NO-BREAK SPACE}", " ") == words


def test_only_what_can_still_be_helped_asks_for_somebody() -> None:
    misfit = replace(READY, misfit_s=99.0)
    assert phrases.asks(slot(9, ("Ada",), misfit))
    assert not phrases.asks(slot(9, ("Ada",), misfit, is_over=True))
    assert not phrases.asks(slot(9, ("Ada",), READY))
    assert not phrases.asks(slot(9, ("Ada",)))


BOOTH_2 = SeenWriter(reader="Ada Fenwick", where="Booth 2", is_rolling=True)
BEGUN = replace(READY, state="in the booth", verdict=None)


@pytest.mark.parametrize(
    ("change", "words", "mark"),
    [
        ({}, "Not read yet", "note"),
        ({"has_begun": True}, "On the air now, and not read", "fix"),
        ({"has_begun": True, "is_over": True}, "Was not read", "note"),
        ({"readers": (), "has_begun": True}, "On the air now, and nobody read this.", ""),
        ({"readings": (BEGUN,)}, "Begun, 56 min 31 read", "note"),
        (
            {"readings": (BEGUN,), "has_begun": True},
            "On the air now, and not handed in",
            "fix",
        ),
        (
            {"readings": (BEGUN,), "writer": BOOTH_2},
            "In Booth 2 just now, 56 min 31 so far",
            "note",
        ),
        (
            {"readings": (BEGUN,), "writer": replace(BOOTH_2, where="")},
            "At home just now, 56 min 31 so far",
            "note",
        ),
    ],
)
def test_how_far_a_slot_has_got(change: dict[str, Any], words: str, mark: str) -> None:
    stands = phrases.slot_standing(replace(slot(9, ("Ada Fenwick",)), **change))
    assert (stands.words.replace("\N{NO-BREAK SPACE}", " "), stands.mark) == (words, mark)


def test_the_news_of_a_reading_stays_the_same_while_it_grows() -> None:
    growing = [
        replace(slot(9, ("Ada Fenwick",), replace(BEGUN, duration_s=duration_s)), writer=BOOTH_2)
        for duration_s in (5.0, 6.0)
    ]
    assert [phrases.slot_news(one) for one in growing] == [
        "The Hour: Ada Fenwick is reading just now."
    ] * 2


@pytest.mark.parametrize("kind", MESSAGE_KINDS)
def test_each_message_says_who_and_what(kind: MessageKind) -> None:
    message = SeenMessage(
        message_id="m",
        kind=kind,
        at=AT,
        where="Booth 2",
        reader="Ada Fenwick",
        programme_title="The Courier Hour",
        assignment_key=None,
        reading_id=None,
        text="",
    )
    said = f"{phrases.message_words(message)} {phrases.message_facts(message)}"
    assert "Booth 2" in said
    assert "Ada Fenwick, The Courier Hour" in said
    if kind == "help":
        assert said == "Booth 2 asks for help. Ada Fenwick, The Courier Hour."
