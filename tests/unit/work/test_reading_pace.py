"""The pace that is kept at handing in: words that are known, seconds that were read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from quietleaf.booth.edits import Again, ArticleStarted, WordsBegun
from quietleaf.planning.station import programme_named
from quietleaf.planning.words import WordsFor, fill_words
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.hand_in import hand_in
from quietleaf.work.reading_pace import keep_pace_of
from quietleaf.work.tools import Tools
from tests.finished import NOW, example_station
from tests.handing_in import RATE_HZ, READER, booth_reading, request_of, sit


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


def words_of(folder: ReadingFolder, tools: Tools) -> int:
    """Count the opening words as the page shows them."""
    station = tools.database.load_station()
    programme = programme_named(station, folder.facts.programme_key)
    facts = folder.facts
    given = WordsFor(
        service=station.name,
        programme=programme.title,
        publication=facts.publication,
        issue_date=facts.issue_date,
        readers=facts.readers,
        part=facts.part,
    )
    return len(fill_words(programme.opening_words, given).split())


def read(tools: Tools, opening_s: float, *, article: bool = True) -> ReadingFolder:
    """Read opening words that last so long, and go on."""
    folder = booth_reading(tools, seconds=opening_s + 3.0)
    start = round(0.5 * RATE_HZ)
    folder.append(WordsBegun(which="opening", take=1, sample=start), author=READER, at=NOW)
    if article:
        stop = start + round(opening_s * RATE_HZ)
        folder.append(ArticleStarted(take=1, sample=stop, title=""), author=READER, at=NOW)
    return folder


def test_handing_in_keeps_the_pace_of_the_opening_words(tools: Tools) -> None:
    folder = read(tools, 12.0)
    words = words_of(folder, tools)
    assert words > 15
    tools.database.keep_pace(READER, 100.0, NOW)
    hand_in(request_of(folder, sit(tools, "readings:t5")), tools)
    assert tools.database.pace(READER) == pytest.approx((60.0 * words / 12.0 + 100.0) / 2.0)


def test_handing_in_twice_counts_once(tools: Tools) -> None:
    folder = read(tools, 12.0)
    tools.database.keep_pace(READER, 100.0, NOW)
    hand_in(request_of(folder, sit(tools, "readings:t5")), tools)
    once = tools.database.pace(READER)
    hand_in(request_of(folder, sit(tools, "readings:t5")), tools)
    assert tools.database.pace(READER) == once


def test_what_was_read_again_is_not_counted_twice(tools: Tools) -> None:
    folder = read(tools, 14.0)
    second = RATE_HZ
    again = Again(take=1, mark=5 * second, back_take=1, back_sample=3 * second, resume=5 * second)
    folder.append(again, author=READER, at=NOW)
    tools.database.keep_pace(READER, 100.0, NOW)
    keep_pace_of(folder, READER, tools)
    words = words_of(folder, tools)
    assert tools.database.pace(READER) == pytest.approx((60.0 * words / 12.0 + 100.0) / 2.0)


def test_without_an_end_nothing_is_known(tools: Tools) -> None:
    folder = read(tools, 12.0, article=False)
    before = tools.database.pace(READER)
    keep_pace_of(folder, READER, tools)
    assert tools.database.pace(READER) == before


@pytest.mark.parametrize("opening_s", [2.0, 90.0])
def test_what_is_no_pace_of_reading_is_not_kept(tools: Tools, opening_s: float) -> None:
    folder = read(tools, opening_s)
    before = tools.database.pace(READER)
    keep_pace_of(folder, READER, tools)
    assert tools.database.pace(READER) == before
