"""Practice: never indexed, never among the readings, and deleted; proved on the disk."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
import soundfile

from quietleaf.booth.edits import WordsBegun
from quietleaf.errors import AudioUnfit, NotFound, Unavailable
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import folder_of
from quietleaf.storage.tokens import Token, sha256_of
from quietleaf.work.hearings import Hearings
from quietleaf.work.practice import (
    MOST_AT_ONCE,
    begin_practice,
    leave_practice,
    practice_folder,
    sweep_practice,
)
from quietleaf.work.practice_feedback import see_feedback, sound_of_practice
from quietleaf.work.practice_sitting import live_token, practice_of_sitting, sit_to_practise
from quietleaf.work.practice_words import KINDS, PracticeKind, practice_of
from quietleaf.work.rebuild_index import rebuild_index
from quietleaf.work.tools import Tools
from tests.finished import NOW, example_station
from tests.handing_in import READER, add_take, booth_reading, sit
from tests.waiting import wait_for


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


def practised(tools: Tools, kind: PracticeKind = "practice", takes: int = 2) -> ReadingFolder:
    """Give a practice reading that something was said in."""
    folder = begin_practice(kind, tools)
    for number in range(takes):
        add_take(folder, 1.5, seed=number)
    return folder


def place_of_folder(folder: ReadingFolder) -> str:
    """Name the place of a practice reading."""
    return f"practice:{folder.facts.reading_id}"


def files(data: Path) -> set[str]:
    """Give everything that lies under a folder, but for the database."""
    return {
        path.relative_to(data).as_posix()
        for path in data.rglob("*")
        if not path.name.startswith("quietleaf.sqlite")
    }


@pytest.mark.parametrize("kind", KINDS)
def test_it_lies_apart_and_is_in_no_index(tools: Tools, kind: PracticeKind) -> None:
    folder = begin_practice(kind, tools, "Ada Fenwick")
    assert folder.path.parent == tools.data / "practice" / "readings" / "practice"
    assert folder_of(tools.data, place_of_folder(folder)).path == folder.path
    assert tools.database.readings() == ()
    assert rebuild_index(tools).readings == 0
    facts = folder.facts
    assert (facts.programme_key, facts.air_date, facts.assignment_key) == ("practice", None, None)
    assert (tools.data / "readings").exists() is False


@pytest.mark.parametrize("kind", KINDS)
def test_leaving_deletes_every_file_of_it_and_nothing_else(
    tools: Tools, kind: PracticeKind
) -> None:
    booth_reading(tools)
    other = practised(tools)
    before = files(tools.data)
    folder = practised(tools, kind)
    place = place_of_folder(folder)
    secret = sit(tools, place)
    tools.database.add_token(
        Token(sha256=sha256_of("p"), purpose="pass", made_at=NOW, reading=place)
    )
    sound_of_practice(place, tools)
    (folder.path / "room").mkdir()
    (folder.path / "room" / "0001.wav").write_bytes(b"room")
    assert files(tools.data) > before
    assert leave_practice(place, tools)
    assert files(tools.data) == before
    assert practice_folder(place_of_folder(other), tools).revision == other.revision
    # Nothing opens it any more.
    for purpose in ("pass", "sitting"):
        tokens = tools.database.tokens(purpose=purpose, reading=place)
        assert tokens
        assert not any(token.is_live(NOW) for token in tokens)
    assert practice_of_sitting(secret, tools) is None
    with pytest.raises(NotFound, match="deleted"):
        practice_folder(place, tools)
    assert not leave_practice(place, tools)


def test_no_other_place_can_be_left(tools: Tools) -> None:
    folder = booth_reading(tools)
    before = files(tools.data)
    for place in ("readings:t5", "practice:t5", "practice:../../readings", "practice:", "", "t5"):
        assert not leave_practice(place, tools)
    assert files(tools.data) == before
    assert folder.reload().revision == folder.revision


def test_a_damaged_one_can_be_left_too(tools: Tools) -> None:
    folder = practised(tools)
    (folder.path / "ledger.jsonl").write_bytes(b"torn")
    assert leave_practice(place_of_folder(folder), tools)
    assert not folder.path.exists()


def test_one_that_is_being_recorded_can_be_left(tools: Tools) -> None:
    folder = practised(tools)
    with folder.roll(48_000, author=READER, at=NOW) as writer:
        writer.append(bytes(3_000))
        assert leave_practice(place_of_folder(folder), tools)
        writer.append(bytes(3_000))
        writer.sync()
    assert not folder.path.exists()
    assert list((tools.data / "practice" / "readings" / "practice").iterdir()) == []


def test_the_sweep_takes_what_nobody_sits_before(tools: Tools) -> None:
    here, left, begun = practised(tools), practised(tools), practised(tools)
    sit(tools, place_of_folder(here))
    tools.database.end_token(sha256_of(sit(tools, place_of_folder(left))), NOW)
    assert sweep_practice(tools) == 1
    assert [folder.path.exists() for folder in (here, left, begun)] == [True, False, True]
    # The next page of one that was just begun may still be on its way; after an hour it is not.
    assert sweep_practice(replace(tools, clock=lambda: NOW + timedelta(hours=2))) == 1
    assert [folder.path.exists() for folder in (here, begun)] == [True, False]


def test_the_sweep_takes_what_is_older_than_a_day(tools: Tools) -> None:
    folder = practised(tools)
    sit(tools, place_of_folder(folder))
    assert sweep_practice(replace(tools, clock=lambda: NOW + timedelta(days=1))) == 0
    later = replace(tools, clock=lambda: NOW + timedelta(days=1, seconds=1))
    assert sweep_practice(later) == 1
    assert not folder.path.exists()


def test_the_sweep_finishes_what_a_stop_left(tools: Tools) -> None:
    folder = practised(tools)
    going = folder.path.with_name(f".leaving-{folder.path.name}")
    folder.path.rename(going)
    making = going.with_name(".opening-2026-11-25-practice-1")
    making.mkdir()
    assert sweep_practice(tools) == 2
    assert not going.exists()
    assert not making.exists()


def test_the_sweep_touches_practice_alone_and_follows_no_link(tools: Tools, tmp_path: Path) -> None:
    real = booth_reading(tools)
    folder = practised(tools)
    readings = tools.data / "practice" / "readings"
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "kept.txt").write_text("kept", encoding="utf-8")
    (folder.path / "takes" / "way-out").symlink_to(elsewhere)
    (readings / "practice" / "2026-11-25-practice-linked").symlink_to(real.path)
    (readings / "practice" / ".leaving-linked").symlink_to(real.path)
    (readings / "linked").symlink_to(real.path.parent)
    (tools.data / "notes.txt").write_text("kept", encoding="utf-8")
    before = files(tools.data / "readings")
    old = replace(tools, clock=lambda: NOW + timedelta(days=400))
    assert sweep_practice(old) == 1
    assert not folder.path.exists()
    assert files(tools.data / "readings") == before
    assert (elsewhere / "kept.txt").exists()
    assert (tools.data / "notes.txt").exists()
    assert not leave_practice("practice:practice-linked", tools)
    assert not leave_practice("practice:t5", tools)


def test_a_linked_folder_of_practice_is_left_alone(tools: Tools) -> None:
    real = booth_reading(tools)
    (tools.data / "practice").symlink_to(tools.data)
    assert sweep_practice(replace(tools, clock=lambda: NOW + timedelta(days=400))) == 0
    assert real.path.exists()


def test_without_practice_there_is_nothing_to_sweep(tools: Tools) -> None:
    assert sweep_practice(tools) == 0
    assert not (tools.data / "practice").exists()


def test_so_many_at_once_and_no_more(tools: Tools) -> None:
    for _ in range(MOST_AT_ONCE):
        begin_practice("try-out", tools)
    with pytest.raises(Unavailable, match="come back in a while"):
        begin_practice("try-out", tools)
    later = replace(tools, clock=lambda: NOW + timedelta(days=2))
    assert begin_practice("try-out", later).path.exists()


def test_the_words_lead_through_a_page_turn(tools: Tools) -> None:
    facts = practised(tools, takes=0).facts
    words = practice_of(facts, "Marrowby Reading Service")
    assert words is not None
    assert words.opening_words == (
        "This is the Marrowby Reading Service. You are listening to a practice reading from The "
        "Marrowby Courier of Wednesday 25 November 2026. The reader is (say your name)."
    )
    assert words.closing_words.startswith("That was a practice reading")
    first, second = words.pages
    # The turn comes in the middle of a sentence.
    assert not first.paragraphs[-1].endswith(".")
    assert second.paragraphs[0][0].islower()
    spoken = " ".join((*first.paragraphs, *second.paragraphs)).split()
    assert 120 <= len(spoken) <= 160


def test_a_try_out_has_no_words_and_a_real_reading_is_no_practice(tools: Tools) -> None:
    words = practice_of(practised(tools, "try-out", takes=0).facts)
    assert words is not None
    assert (words.kind, words.opening_words, words.pages) == ("try-out", "", ())
    assert practice_of(booth_reading(tools).facts) is None


def test_feedback_says_what_was_done(tools: Tools) -> None:
    folder = practised(tools, takes=3)
    folder.append(WordsBegun(which="opening", take=1, sample=0), author=READER, at=NOW)
    place = place_of_folder(folder)
    hearings = Hearings()
    seen = see_feedback(place, hearings, tools)
    assert (seen.length_s, seen.holds, seen.kind) == (4.5, 2, "practice")
    assert (seen.opening_marked, seen.closing_marked) == (True, False)

    def heard() -> bool:
        hearing = see_feedback(place, hearings, tools).hearing
        return hearing is not None and hearing.heard is not None

    wait_for(heard)


def test_feedback_waits_for_what_is_on_its_way(tools: Tools) -> None:
    folder = practised(tools, takes=0)
    place = place_of_folder(folder)
    assert see_feedback(place, Hearings(), tools).hearing is None
    add_take(folder, seal=False)
    seen = see_feedback(place, Hearings(), tools)
    assert (seen.length_s, seen.hearing) == (1.0, None)
    assert [take.take for take in seen.copy.open_takes] == [1]


def test_one_can_hear_oneself(tools: Tools) -> None:
    folder = practised(tools)
    place = place_of_folder(folder)
    path = sound_of_practice(place, tools)
    assert path.is_relative_to(folder.path)
    info = soundfile.info(path)
    assert (info.frames, info.samplerate, info.channels) == (144_000, 48_000, 1)
    assert sound_of_practice(place, tools) == path
    with pytest.raises(AudioUnfit):
        sound_of_practice(place_of_folder(practised(tools, takes=0)), tools)
    with pytest.raises(NotFound):
        sound_of_practice("readings:t5", tools)


def test_a_visitor_sits_down(tools: Tools) -> None:
    sat = sit_to_practise("try-out", "", "", tools)
    place = practice_of_sitting(sat.secret, tools)
    assert place is not None
    assert place.startswith("practice:try-out-")
    assert sat.before == ""
    assert practice_folder(place, tools).facts.readers == ("A visitor",)


def test_a_reader_practises_under_their_name_and_comes_back(tools: Tools) -> None:
    before = sit(tools, "readings:t5")
    sat = sit_to_practise("practice", before, "", tools)
    assert sat.before == before
    token = live_token(sat.secret, "sitting", tools)
    assert token is not None
    assert (token.reader, token.booth) == (READER, "booth-1")
    assert live_token(before, "sitting", tools) is not None


def test_of_one_browser_one_practice_is_open(tools: Tools) -> None:
    first = sit_to_practise("practice", "", "", tools)
    place = practice_of_sitting(first.secret, tools)
    second = sit_to_practise("try-out", first.secret, "", tools)
    assert practice_of_sitting(first.secret, tools) is None
    assert place is not None
    with pytest.raises(NotFound):
        practice_folder(place, tools)
    assert practice_of_sitting(second.secret, tools) is not None
    assert second.before == ""


def test_a_booth_is_known_by_its_own_secret(tools: Tools) -> None:
    tools.database.add_token(
        Token(sha256=sha256_of("b2"), purpose="booth", made_at=NOW, booth="booth-2")
    )
    token = live_token(sit_to_practise("practice", "", "b2", tools).secret, "sitting", tools)
    assert token is not None
    assert token.booth == "booth-2"
    assert practice_of_sitting("b2", tools) is None
