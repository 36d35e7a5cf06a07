"""What the stand shows: from the plan, the folder and earlier parts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from quietleaf.booth.edits import ArticleStarted, HandedIn, StateSet, WordsBegun
from quietleaf.booth.reading import HandIn, ReadingFacts
from quietleaf.errors import Conflict, NotFound
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, create_reading
from quietleaf.units import Window
from quietleaf.work.practice_words import OPENING_WORDS
from quietleaf.work.see_stand import SeenStand, see_stand
from quietleaf.work.tools import Tools
from tests.finished import DAY, NOW, example_station
from tests.readings import noise

RATE_HZ = 44_100
HOUR = ReadingFacts(
    reading_id="r1",
    programme_key="courier-hour",
    programme_title="The Courier Hour",
    publication="The Marrowby Courier",
    issue_date=DAY,
    readers=("Tomas Vale", "Ada Fenwick"),
    air_date=DAY,
)
STORY = replace(
    HOUR,
    programme_key="long-shelf",
    programme_title="The Long Shelf",
    publication="A Lantern for Tolly Weir",
    readers=("Imke Rowan",),
    part=9,
)


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        yield made


def opened(tools: Tools, facts: ReadingFacts = HOUR, *, practice: bool = False) -> ReadingFolder:
    root = tools.data / "practice" if practice else tools.data
    return create_reading(root, facts, NOW, facts.readers[0])


def record(folder: ReadingFolder, samples: int) -> None:
    writer = folder.roll(RATE_HZ, author="Tomas Vale", at=NOW)
    writer.append(pcm24_of_samples(noise(samples)))
    folder.seal(writer, origin="a test", author="Tomas Vale", at=NOW)


def seen(tools: Tools, place: str = "readings:r1", reader: str = "Tomas Vale") -> SeenStand:
    return see_stand(place, reader, "booth-2", 150.0, tools)


def hand_in(tools: Tools, part: int, reading_id: str, left: HandIn) -> None:
    facts = replace(
        STORY, reading_id=reading_id, part=part, issue_date=date(2026, 11, part), air_date=None
    )
    folder = opened(tools, facts)
    record(folder, 100)
    folder.append(HandedIn(hand_in=left), author="Imke Rowan", at=NOW)
    tools.database.index_reading(reading_row(folder))


def test_a_new_reading_has_its_words_filled_and_both_readers_named(tools: Tools) -> None:
    opened(tools)
    stand = seen(tools)
    assert "".join(part.text for part in stand.opening) == (
        "This is the Marrowby Reading Service. The Courier Hour is an hour with The Marrowby "
        "Courier, the issue of Wednesday 25 November 2026. The reader is Tomas Vale and Ada "
        "Fenwick."
    )
    assert [part.text for part in stand.opening if part.filled] == [
        "Marrowby Reading Service",
        "The Courier Hour",
        "The Marrowby Courier",
        "Wednesday 25 November 2026",
        "Tomas Vale and Ada Fenwick",
    ]
    assert stand.window == Window(shortest_s=3360.0, longest_s=3480.0)
    assert stand.airs_at is not None
    assert stand.airs_at.isoformat() == "2026-11-25T19:00:00+00:00"
    assert stand.booth_name == "Booth 2"
    assert (stand.recorded_s, stand.takes, stand.articles, stand.words_begun) == (
        0.0,
        0,
        0,
        frozenset(),
    )
    assert not stand.is_practice
    assert stand.left_off is None


def test_what_is_recorded_already_counts(tools: Tools) -> None:
    folder = opened(tools)
    record(folder, 2 * RATE_HZ)
    record(folder, RATE_HZ)
    for what in (
        WordsBegun(which="opening", take=1, sample=0),
        ArticleStarted(take=2, sample=100, title=""),
    ):
        folder.append(what, author="Tomas Vale", at=NOW)
    stand = seen(tools)
    assert stand.recorded_s == pytest.approx(3.0)
    assert (stand.takes, stand.articles) == (2, 1)
    assert stand.words_begun == {"opening"}


def test_the_air_time_is_the_stations_own(tools: Tools) -> None:
    # In July the clocks of Marrowby are an hour ahead.
    opened(tools, replace(HOUR, issue_date=date(2026, 7, 22), air_date=date(2026, 7, 22)))
    stand = seen(tools)
    assert stand.airs_at is not None
    assert stand.airs_at.isoformat() == "2026-07-22T19:00:00+01:00"


def test_the_pace_is_the_readers_own_once_it_is_known(tools: Tools) -> None:
    opened(tools)
    assert (seen(tools).pace_wpm, seen(tools).pace_measured) == (150.0, False)
    tools.database.keep_pace("Ada Fenwick", 171.0, NOW)
    stand = seen(tools, reader="Ada Fenwick")
    assert (stand.pace_wpm, stand.pace_measured) == (171.0, True)


def test_a_serial_goes_on_where_the_part_before_left_off(tools: Tools) -> None:
    hand_in(tools, 7, "p7", HandIn(place_page="120", recap="Old."))
    hand_in(tools, 8, "p8", HandIn(place_page="143", place_headline="Six", recap="Tolly ran."))
    hand_in(tools, 10, "p10", HandIn(place_page="180", recap="Later."))
    opened(tools, STORY)
    left = seen(tools, reader="Imke Rowan").left_off
    assert left is not None
    assert (left.place_page, left.recap) == ("143", "Tolly ran.")


def test_a_private_request_has_no_window_and_no_air_time(tools: Tools) -> None:
    facts = replace(
        HOUR,
        programme_key="private-request",
        programme_title="Private Request",
        publication="Pages sent in by a listener",
        readers=("Joan Abara",),
        air_date=None,
    )
    opened(tools, facts)
    stand = seen(tools, reader="Joan Abara")
    assert stand.window is None
    assert stand.airs_at is None
    assert stand.opening


def test_practice_has_words_of_its_own(tools: Tools) -> None:
    facts = replace(
        HOUR,
        reading_id="practice-1",
        programme_key="practice",
        programme_title="Practice",
        air_date=None,
        readers=("Joan Abara",),
    )
    opened(tools, facts, practice=True)
    stand = seen(tools, "practice:practice-1")
    assert stand.is_practice
    assert len(stand.pages) == 2
    assert stand.opening[0].text.startswith(OPENING_WORDS.partition("{")[0])
    assert stand.window is None


def test_a_programme_that_left_the_plan_can_still_be_read_to_its_end(tools: Tools) -> None:
    opened(tools, replace(HOUR, programme_key="gone"))
    stand = seen(tools)
    assert (stand.opening, stand.closing, stand.window, stand.airs_at) == ((), (), None, None)


def test_what_is_cleared_is_not_read_into(tools: Tools) -> None:
    folder = opened(tools)
    record(folder, 100)
    folder.append(StateSet(state="handed in", note=""), author="Desk", at=NOW)
    folder.append(StateSet(state="cleared", note=""), author="Desk", at=NOW)
    with pytest.raises(Conflict, match="is cleared, and nothing is recorded into it any more"):
        seen(tools)


def test_what_is_not_there_is_told(tools: Tools) -> None:
    with pytest.raises(NotFound, match="There is no reading r1"):
        seen(tools)
