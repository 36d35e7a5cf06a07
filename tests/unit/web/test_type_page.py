"""A reading set as type: where its sentences, its articles and what was found come to stand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from quietleaf.delivery.id3 import Chapter
from quietleaf.web.type_page import LINE_S, PART_S, parts_of, set_articles
from quietleaf.work.heard_sound import HeardSound
from quietleaf.work.kept_hearing import KeptSentence
from quietleaf.work.take_places import TakePlaces
from quietleaf.work.things_to_decide import Thing
from tests.readings import folder_with, noise


@pytest.fixture
def heard(tmp_path: Path) -> HeardSound:
    """Give five minutes: each ten seconds a sentence of seven, half a second after its start."""
    return HeardSound(
        key="",
        plan=None,
        is_heard=True,
        is_outdated=False,
        duration_s=300.0,
        findings=(),
        grounds=(),
        words=None,
        sentences=tuple(
            KeptSentence(start_s=float(at), voice_s=at + 0.5, end_s=at + 7.5)
            for at in range(0, 300, 10)
        ),
        articles=(
            Chapter(title="Tides", start_s=20.1, end_s=200.0),
            Chapter(title="Boats", start_s=200.0, end_s=300.0),
        ),
        places=TakePlaces(folder_with(tmp_path, noise(100))),
        made_of=None,
    )


def thing(start_s: float, end_s: float, finding: str = "cough") -> Thing:
    return Thing(
        finding=finding,
        of=None,
        severity="hear",
        start_s=start_s,
        end_s=end_s,
        hear_s=(start_s, end_s),
        start=(1, round(start_s * 10)),
        stop=(1, round(end_s * 10)),
        choices=("leave",),
    )


def test_every_sentence_stands_once_under_its_article(heard: HeardSound) -> None:
    (part,) = parts_of(heard, ())
    before, tides, boats = set_articles(heard, (), part)
    assert [one.title for one in (before, tides, boats)] == ["", "Tides", "Boats"]
    assert [one.sentences for one in (before, tides, boats)] == [2, 18, 10]
    # Six of ten seconds come to 57.5 s; a seventh would go beyond the minute.
    assert [len(line.runs) for line in tides.lines] == [6, 6, 6]
    first = tides.lines[0].runs
    assert first[0].left == 0.0
    assert first[1].left == pytest.approx(100 * 10 / LINE_S, abs=0.01)
    assert all(run.width == pytest.approx(100 * 7 / LINE_S, abs=0.02) for run in first)
    # What a run stands for reaches to the next, over lines too.
    runs = [run for line in tides.lines for run in line.runs]
    assert all(one.to_s == two.from_s for one, two in pairwise(runs))
    assert runs[-1].to_s == 200.0


def test_a_sentence_longer_than_a_line_goes_on_in_the_next(heard: HeardSound) -> None:
    long = replace(
        heard,
        sentences=(KeptSentence(start_s=0.0, voice_s=0.5, end_s=150.5),),
        articles=(),
    )
    (part,) = parts_of(long, ())
    (whole,) = set_articles(long, (), part)
    assert [(run.left, run.width) for line in whole.lines for run in line.runs] == [
        (0.0, 100.0),
        (0.0, 100.0),
        (0.0, 50.0),
    ]
    assert [run.start_s for line in whole.lines for run in line.runs] == [0.0, 60.5, 120.5]


def test_what_was_found_is_marked_under_its_place_over_lines_and_pauses(heard: HeardSound) -> None:
    things = (thing(75.5, 90.5), thing(20.2, 20.3), thing(299.9, 300.0), thing(100.0, 100.0, "x"))
    (part,) = parts_of(heard, things)
    _, tides, boats = set_articles(heard, things, part)
    marks = [[(mark.left, mark.width) for mark in line.marks] for line in tides.lines]
    # The first line ends where the second begins, at 80.5 s.
    assert marks[0] == [pytest.approx((91.67, 8.33), abs=0.01), (0.0, 0.8)]
    assert marks[1][0] == pytest.approx((0.0, 16.67), abs=0.01)
    assert [mark.key for mark in tides.lines[1].marks] == ["cough-1-755-905", "x-1-1000-1000"]
    assert [mark.key for line in boats.lines for mark in line.marks] == ["cough-1-2999-3000"]
    assert [one.key for one in boats.things] == ["cough-1-2999-3000"]


def test_a_long_reading_has_parts_that_leave_nothing_out(heard: HeardSound) -> None:
    sentences = tuple(
        KeptSentence(start_s=float(at), voice_s=at + 0.5, end_s=at + 7.5)
        for at in range(0, 9_000, 10)
    )
    long = replace(heard, duration_s=9_000.0, sentences=sentences, articles=())
    things = tuple(thing(at, at + 1.0) for at in range(5, 9_000, 50))
    parts = parts_of(long, things)
    # The 41st thing lies at 2005 s.
    assert [part.start_s for part in parts][:2] == [0.0, 2_010.0]
    assert all(part.stop_s - part.start_s <= PART_S for part in parts[:-1])
    set_in_parts = [article for part in parts for article in set_articles(long, things, part)]
    assert sum(article.sentences for article in set_in_parts) == len(sentences)
    assert [one for article in set_in_parts for one in article.things] == list(things)
    assert [article.goes_on for article in set_in_parts] == [False, True, True, True, True]


def test_without_sentences_there_are_no_lines(heard: HeardSound) -> None:
    silent = replace(heard, sentences=(), articles=())
    (part,) = parts_of(silent, ())
    (whole,) = set_articles(silent, (thing(5.0, 6.0),), part)
    assert (whole.lines, whole.sentences, len(whole.things)) == ((), 0, 1)
