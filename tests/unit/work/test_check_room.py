"""Checking a room: what is measured, kept on the disk, and entered."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.booth.edits import RoomChecked, StateSet
from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.listening.room_check import RoomSound
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.room_files import keep_room_tone
from quietleaf.work.check_room import CheckRoom, check_room_of, pass_over_room
from quietleaf.work.practice import begin_practice
from quietleaf.work.tools import Tools
from tests.finished import NOW, example_station
from tests.handing_in import READER, booth_reading
from tests.voices import RATE_HZ, Made

PLACE = "readings:t5"


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


def spoken(seconds: float) -> NDArray[np.float64]:
    made = Made(seed=3, room_dbov=-72.0)
    made.pause(0.3)
    made.speech(seconds)
    made.pause(0.3)
    return made.samples()[:, np.newaxis]


def request(
    place: str = PLACE, *, words: int = 24, right: bool = False, reader: str = READER
) -> CheckRoom:
    still = 2.0**-12 * np.random.default_rng(1).standard_normal((5 * RATE_HZ + 1, 1))
    parts = [spoken(9.0), still, spoken(3.0)]
    if right:
        parts = [np.hstack([np.zeros_like(part), part]) for part in parts]
    return CheckRoom(
        place=place,
        reader=reader,
        microphone="Desk microphone",
        sentence_words=words,
        sound=RoomSound(
            sample_rate_hz=RATE_HZ, sentence=parts[0], still=parts[1], plosives=parts[2]
        ),
    )


def entered(folder: ReadingFolder) -> list[RoomChecked]:
    happened = [edit.what for edit in folder.reload().ledger()]
    return [what for what in happened if isinstance(what, RoomChecked)]


@pytest.mark.parametrize("right", [False, True])
def test_the_tone_of_the_room_is_kept_and_the_figures_are_entered(
    tools: Tools, right: bool
) -> None:
    folder = booth_reading(tools)
    asked = request(right=right)
    found = check_room_of(asked, tools)
    assert found.advice == ()
    (room,) = entered(folder)
    assert room.file == "room/0001.wav"
    path = folder.path / room.file
    assert hashlib.sha256(path.read_bytes()).hexdigest() == room.sha256
    tone, rate_hz = soundfile.read(path)
    assert rate_hz == RATE_HZ
    assert np.abs(tone - asked.sound.still[:, int(right)]).max() <= 2.0**-24
    assert soundfile.info(path).subtype == "PCM_24"
    assert room.facts["side"] == ("right" if right else "left")
    assert room.facts["microphone"] == "Desk microphone"
    assert room.facts["overall"] == "good"
    assert room.facts["noise"]["floor_dbov"] == pytest.approx(-72.2, abs=0.2)
    json.dumps(room.facts, allow_nan=False)


def test_each_check_is_kept_beside_the_ones_before(tools: Tools) -> None:
    folder = booth_reading(tools)
    for _ in range(3):
        check_room_of(request(), tools)
    assert [room.file for room in entered(folder)] == [
        "room/0001.wav",
        "room/0002.wav",
        "room/0003.wav",
    ]
    assert sorted(path.name for path in (folder.path / "room").iterdir()) == [
        "0001.wav",
        "0002.wav",
        "0003.wav",
    ]


def test_a_first_pace_comes_of_the_sentence_and_never_replaces_one(tools: Tools) -> None:
    booth_reading(tools)
    check_room_of(request(words=24), tools)
    # 24 words in 9 s.
    assert tools.database.pace(READER) == pytest.approx(160.0, rel=0.05)
    check_room_of(request(words=36), tools)
    assert tools.database.pace(READER) == pytest.approx(160.0, rel=0.05)


@pytest.mark.parametrize("words", [5, 60])
def test_no_pace_is_made_of_what_cannot_have_been_that_sentence(tools: Tools, words: int) -> None:
    booth_reading(tools)
    check_room_of(request(words=words), tools)
    assert tools.database.pace(READER) is None


def test_a_practice_is_checked_too_and_leaves_no_pace(tools: Tools) -> None:
    folder = begin_practice("practice", tools)
    place = f"practice:{folder.facts.reading_id}"
    check_room_of(request(place, reader="A visitor"), tools)
    assert entered(folder)[0].file == "room/0001.wav"
    assert tools.database.pace("A visitor") is None


def test_silence_is_entered_without_a_file(tools: Tools) -> None:
    folder = booth_reading(tools)
    nothing = np.zeros((RATE_HZ, 1))
    sound = RoomSound(sample_rate_hz=RATE_HZ, sentence=nothing, still=nothing, plosives=nothing)
    asked = request()
    check_room_of(
        CheckRoom(
            place=PLACE,
            reader=READER,
            microphone=asked.microphone,
            sentence_words=24,
            sound=sound,
        ),
        tools,
    )
    (room,) = entered(folder)
    assert (room.file, room.sha256) == ("", "")
    assert room.facts["advice"] == ["no-input"]
    assert room.facts["side"] is None


def test_passing_over_is_entered(tools: Tools) -> None:
    folder = booth_reading(tools)
    pass_over_room(PLACE, READER, "", tools)
    pass_over_room(PLACE, READER, "2026-11-18: All is well.", tools)
    assert [room.facts for room in entered(folder)] == [
        {"passed_over": True},
        {"passed_over": True, "as_before": "2026-11-18: All is well."},
    ]


def test_what_is_not_there_or_over_is_refused(tools: Tools) -> None:
    with pytest.raises(NotFound):
        check_room_of(request("readings:none"), tools)
    folder = booth_reading(tools)
    for state in ("handed in", "cleared"):
        folder.append(StateSet(state=state, note=""), author="Desk", at=NOW)
    with pytest.raises((Conflict, Invalid)):
        check_room_of(request(), tools)


def test_room_tone_is_never_written_over(tmp_path: Path) -> None:
    first = keep_room_tone(tmp_path, np.zeros(3), 8_000)
    second = keep_room_tone(tmp_path, np.ones(3) / 2, 8_000)
    assert (first.path.name, second.path.name) == ("0001.wav", "0002.wav")
    assert soundfile.read(second.path)[0].tolist() == [0.5, 0.5, 0.5]
