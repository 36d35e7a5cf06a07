"""The receipt: who may see it, what it says, and that listening keeps nobody waiting."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from quietleaf.booth.edits import Cut, SoundMissing
from quietleaf.booth.reading import HandIn
from quietleaf.errors import Conflict, NotAllowed, NotFound
from quietleaf.planning.station import programme_named
from quietleaf.storage.aligner import open_aligner
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.tokens import sha256_of
from quietleaf.work.check_words import NO_ALIGNER
from quietleaf.work.hand_in import hand_in
from quietleaf.work.hear_reading import hear_reading
from quietleaf.work.hearings import Hearings
from quietleaf.work.kept_hearing import kept_hearing, sound_key
from quietleaf.work.plan_programme import change_programme
from quietleaf.work.reading_words import set_words
from quietleaf.work.receipt import see_receipt, see_verdict, whose_receipt
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station
from tests.handing_in import LEFT, READER, add_take, booth_reading, request_of, sit
from tests.waiting import wait_for


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


def handed_in(tools: Tools, seconds: float = 3.0) -> ReadingFolder:
    """Give a reading that was handed in."""
    folder = booth_reading(tools, seconds=seconds)
    hand_in(request_of(folder), tools)
    return folder.reload()


def test_it_says_what_there_is(tools: Tools) -> None:
    folder = booth_reading(tools, seconds=3.0)
    add_take(folder, 2.0)
    folder.append(Cut(take=1, start=0, stop=48_000), author="Quietleaf", at=NOW)
    missing = SoundMissing(take=2, sample=100, samples=24_000, reason="paused")
    folder.append(missing, author=READER, at=NOW)
    hand_in(request_of(folder), tools)
    hear_reading(folder.reload())
    receipt = see_receipt("t5", Hearings(), tools)
    assert (receipt.length_s, receipt.missing_s) == (4.0, 0.5)
    assert str(receipt.window) == "56:00 to 58:00"
    assert receipt.handed_in_at == NOW
    assert receipt.left == LEFT
    assert receipt.checked.whole
    assert [take.sha256 for take in receipt.checked.takes] == [
        take.sha256 for take in folder.takes()
    ]
    assert receipt.hearing.heard is not None
    assert receipt.hearing.heard.duration_s == pytest.approx(4.0, abs=1e-3)


def test_what_the_desk_brought_in_has_one_too(tools: Tools) -> None:
    bring_reading(tools)
    receipt = see_receipt("k3f9", Hearings(), tools)
    assert (receipt.left, receipt.handed_in_at) == (HandIn(), NOW)
    assert receipt.checked.whole


def test_there_is_none_before_handing_in(tools: Tools) -> None:
    booth_reading(tools)
    for ask in (see_receipt, see_verdict):
        with pytest.raises(Conflict, match="not yet"):
            ask("t5", Hearings(), tools)
        with pytest.raises(NotFound):
            ask("nobody", Hearings(), tools)


def test_listening_goes_on_elsewhere_and_is_kept(tools: Tools) -> None:
    folder = handed_in(tools)
    hearings = Hearings()
    first = see_verdict("t5", hearings, tools)
    assert (first.heard, first.trouble) == (None, "")
    wait_for(lambda: see_verdict("t5", hearings, tools).heard)
    station = tools.database.load_station()
    programme = programme_named(station, folder.facts.programme_key)
    words = set_words(folder.facts, programme, station)
    kept = kept_hearing(folder, "none", words)  # the Courier Hour is a daily
    assert kept is not None
    assert see_verdict("t5", Hearings(), tools).heard == kept
    change_programme(replace(programme, review="whole"), tools)
    heard = see_verdict("t5", Hearings(), tools).heard
    assert heard == kept_hearing(folder, "whole", words) != kept


def test_words_that_nobody_read_are_told_with_the_hearing(tools: Tools) -> None:
    folder = handed_in(tools)
    station = tools.database.load_station()
    words = set_words(folder.facts, programme_named(station, "courier-hour"), station)
    heard = hear_reading(folder, words)
    assert heard.words is not None
    assert heard.words.opening is not None
    if open_aligner() is None:
        assert heard.words.opening.why_not == NO_ALIGNER
    else:
        assert heard.words.opening.state == "not read"
        assert heard.verdict == "needs an ear"
        alone = kept_hearing(folder)
        assert alone is not None
        assert heard.things_to_hear == alone.things_to_hear + 2
    others = replace(words, opening=words.closing)
    told = kept_hearing(folder, words=others)
    assert told is not None
    assert told.words is None


def test_what_cannot_be_heard_is_said(tools: Tools) -> None:
    folder = handed_in(tools)
    folder.take_path(1).unlink()
    hearings = Hearings()
    wait_for(lambda: see_verdict("t5", hearings, tools).trouble)
    assert see_verdict("t5", hearings, tools).heard is None


def test_a_hearing_is_of_the_reading_as_it_stands(tools: Tools) -> None:
    folder = handed_in(tools)
    heard = hear_reading(folder)
    assert kept_hearing(folder) == heard
    (kept,) = (folder.path / "measures").glob("hearing-*.json")
    assert sound_key(folder) in kept.name
    folder.append(Cut(take=1, start=0, stop=4_800), author="Desk", at=NOW)
    assert kept_hearing(folder) is None
    folder.reload()
    hear_reading(folder)
    kept.write_text("{}", encoding="utf-8")
    assert kept_hearing(folder) is not None


def test_the_sitting_that_was_ended_shows_its_receipt_for_a_day(tools: Tools) -> None:
    folder = booth_reading(tools)
    secret = sit(tools, "readings:t5")
    assert whose_receipt(secret, None, tools) == (READER, "t5")
    hand_in(request_of(folder, secret), tools)
    assert whose_receipt(secret, None, tools) == (READER, "t5")
    assert whose_receipt(secret, "t5", tools) == (READER, "t5")
    later = replace(tools, clock=lambda: NOW + timedelta(days=1))
    with pytest.raises(NotAllowed, match="nobody who did sits here"):
        whose_receipt(secret, None, later)


def test_a_live_sitting_shows_what_its_reader_read_before(tools: Tools) -> None:
    handed_in(tools)
    live = sit(tools, None)
    assert whose_receipt(live, "t5", tools) == (READER, "t5")
    other = sit(tools, None, reader="Ada Fenwick")
    for secret, wanted in (
        (other, "t5"),
        (live, None),
        (None, "t5"),
        ("", "t5"),
        ("made up", None),
        (sit(tools, "practice:t5"), None),
    ):
        with pytest.raises(NotAllowed):
            whose_receipt(secret, wanted, tools)
    tools.database.end_token(sha256_of(live), NOW)
    with pytest.raises(NotAllowed):
        whose_receipt(live, "t5", tools)
