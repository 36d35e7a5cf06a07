"""One writer a reading: the other is told, takes over, and what comes late has its own reading."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from websockets.exceptions import ConnectionClosed

from quietleaf.booth.edits import StateSet
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, create_reading, find_reading
from quietleaf.storage.reading_places import folder_of
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.faults.wire_checks import check_whole
from tests.readings import AT, noise
from tests.stand_client import Journal, Stand
from tests.stations_served import new_pass, new_place, opened_station

RATE_HZ = 48_000
Sound = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoStands:
    """A reading, and two browsers that may record it."""

    tools: Tools
    place: str
    first: Stand
    second: Stand

    @property
    def folder(self) -> ReadingFolder:
        """Open the reading."""
        return folder_of(self.tools.data, self.place)

    @property
    def late_id(self) -> str:
        """Name the reading of what comes late from the first."""
        return f"late-{hashlib.sha256(self.first.journal.name.encode()).hexdigest()[:8]}"

    @property
    def late(self) -> ReadingFolder:
        """Open it."""
        return find_reading(self.tools.data, self.late_id)

    @property
    def late_told(self) -> list[str | None]:
        """Say which late readings the desk was told of."""
        return [
            message.reading_id
            for message in self.tools.database.messages()
            if message.kind == "late-sound"
        ]


@pytest.fixture
def stands(tmp_path: Path) -> Iterator[TwoStands]:
    with opened_station(tmp_path) as tools, served(tools) as address:
        place = new_place(tools)
        yield TwoStands(
            tools=tools,
            place=place,
            first=Stand(address, new_pass(tools, place, reader="Ada Fenwick"), Journal()),
            second=Stand(address, new_pass(tools, place, reader="Tomas Vale"), Journal()),
        )


def take_over_in_the_middle(stands: TwoStands, unsent: int = 70_000) -> None:
    """Let the second take over while the first has a take open, and more that has not arrived."""
    first, second = stands.first, stands.second
    first.journal.roll(RATE_HZ)
    first.journal.sound(noise(50_000))
    with first.line() as line:
        first.pour(line)
        while not first.all_kept:
            first.hear(line)
        first.journal.sound(noise(unsent, seed=8))
        first.journal.article("Tides")
        first.journal.sound(noise(3_000, seed=9))
        first.journal.seal()
        first.journal.roll(RATE_HZ)
        first.journal.sound(noise(4_000, seed=10))
        first.journal.seal()
        with second.line(take_over=True) as other:
            assert second.told[-1] == {"kind": "welcome", "entries": 0, "samples": 0, "late": False}
            told = first.hear_until(line, "superseded")
            assert told["sentence"].startswith("This reading was taken over at home.")
            with pytest.raises(ConnectionClosed) as closed:
                line.recv(20.0)
            assert closed.value.rcvd is not None
            assert closed.value.rcvd.code == 4409
            second.journal.roll(RATE_HZ)
            second.journal.sound(noise(20_000, seed=11))
            second.pour(other)
            while not second.all_kept:
                second.hear(other)


def sound_of(folder: ReadingFolder) -> list[bytes]:
    """Read every take of a reading."""
    found = []
    for take in folder.takes():
        with folder.open_take(take.take) as reader:
            found.append(b"".join(pcm24_of_samples(b[:, 0]) for b in reader.blocks(1 << 16)))
    return found


def bytes_of(*takes: Sound) -> list[bytes]:
    return [pcm24_of_samples(take) for take in takes]


def test_a_second_stand_is_told_who_records(stands: TwoStands) -> None:
    first, second = stands.first, stands.second
    first.journal.roll(RATE_HZ)
    first.journal.sound(noise(30_000))
    second.journal.roll(RATE_HZ)
    second.journal.sound(noise(30_000, seed=8))
    second.journal.seal()
    with first.line() as line:
        first.pour(line)
        while not first.all_kept:
            first.hear(line)
        assert not second.send()
        (told,) = second.told
        assert told["kind"] == "busy"
        assert told["sentence"].startswith("Ada Fenwick is recording this reading just now")
        assert sound_of(stands.folder) == bytes_of(*first.journal.takes())
        first.journal.sound(noise(5_000, seed=9))
        first.journal.seal()
        first.pour(line)
        while not first.all_kept:
            first.hear(line)
    # What the second has recorded meanwhile is not mixed in with what it never knew of.
    assert second.send()
    assert second.told[1] == {"kind": "welcome", "entries": 0, "samples": 0, "late": True}
    assert sound_of(stands.folder) == bytes_of(*first.journal.takes())


def test_what_comes_late_is_all_there_in_a_reading_of_its_own(stands: TwoStands) -> None:
    take_over_in_the_middle(stands)
    assert stands.first.send()
    assert [told["late"] for told in stands.first.told if told["kind"] == "welcome"] == [
        False,
        True,
    ]
    stands.second.journal.seal()
    assert stands.second.send()
    (arrived, second) = sound_of(stands.folder)
    assert [second] == bytes_of(*stands.second.journal.takes())
    cut_short, last = stands.first.journal.takes()
    rest, late_last = sound_of(stands.late)
    assert len(arrived) == 3 * 50_000
    assert [arrived + rest, late_last] == bytes_of(cut_short, last)
    assert stands.folder.takes()[0].origin == "a test, as far as it had arrived"
    assert all(take.samples is not None for take in stands.late.takes())
    assert stands.late_told == [stands.late_id]


def test_who_took_over_may_lose_the_line_before_rolling(stands: TwoStands) -> None:
    stands.first.journal.roll(RATE_HZ)
    stands.first.journal.sound(noise(20_000))
    assert stands.first.send()
    with stands.second.line(take_over=True):
        assert not stands.second.told[-1]["late"]
    stands.second.journal.roll(RATE_HZ)
    stands.second.journal.sound(noise(9_000, seed=8))
    stands.second.journal.seal()
    assert stands.second.send()
    takes = (*stands.first.journal.takes(), *stands.second.journal.takes())
    assert sound_of(stands.folder) == bytes_of(*takes)


def test_a_late_one_leaves_alone_what_the_other_records(stands: TwoStands) -> None:
    take_over_in_the_middle(stands)
    # The second's line is away just now, its take is open.
    assert stands.first.send()
    assert stands.folder.takes()[-1].samples is None
    stands.second.journal.sound(noise(10_000, seed=12))
    stands.second.journal.seal()
    assert stands.second.send()
    assert sound_of(stands.folder)[1:] == bytes_of(*stands.second.journal.takes())


def test_late_sound_comes_while_the_other_records(stands: TwoStands) -> None:
    take_over_in_the_middle(stands)
    with stands.second.line() as other:
        assert stands.first.send()
        stands.second.journal.sound(noise(10_000, seed=12))
        stands.second.journal.seal()
        stands.second.pour(other)
        while not stands.second.all_kept:
            stands.second.hear(other)
    assert sound_of(stands.folder)[1:] == bytes_of(*stands.second.journal.takes())
    assert b"".join(sound_of(stands.late)) == b"".join(
        bytes_of(*stands.first.journal.takes())
    ).removeprefix(sound_of(stands.folder)[0])


def test_a_late_reading_that_was_only_just_made_is_gone_on_with(stands: TwoStands) -> None:
    take_over_in_the_middle(stands)
    # As a kill leaves it: made, and not told what its first take is.
    create_reading(
        stands.tools.data,
        replace(stands.folder.facts, reading_id=stands.late_id),
        AT,
        "Ada Fenwick",
    )
    assert stands.first.send()
    assert len(sound_of(stands.late)) == 2
    assert stands.late_told == [stands.late_id]


def test_a_journal_with_nothing_left_makes_no_late_reading(stands: TwoStands) -> None:
    stands.first.journal.roll(RATE_HZ)
    stands.first.journal.sound(noise(20_000))
    stands.first.journal.seal()
    stands.second.journal.roll(RATE_HZ)
    stands.second.journal.seal()
    assert stands.first.send()
    assert stands.second.send(take_over=True)
    assert stands.first.send()
    assert stands.first.told[-1] == {"kind": "welcome", "entries": 2, "samples": 0, "late": True}
    assert stands.late_told == []
    assert len(stands.folder.takes()) == 2


def test_what_comes_after_handing_in_is_late(stands: TwoStands) -> None:
    stands.first.journal.roll(RATE_HZ)
    stands.first.journal.sound(noise(20_000))
    stands.first.journal.seal()
    assert stands.first.send()
    stands.folder.append(StateSet(state="handed in", note=""), author="Ada", at=AT)
    stands.first.journal.roll(RATE_HZ)
    stands.first.journal.sound(noise(9_000, seed=8))
    stands.first.journal.seal()
    assert stands.first.send()
    assert sound_of(stands.folder) == bytes_of(stands.first.journal.takes()[0])
    assert sound_of(stands.late) == bytes_of(stands.first.journal.takes()[1])


def test_a_journal_on_two_lines_is_written_once(stands: TwoStands) -> None:
    first = stands.first
    again = Stand(first.address.removesuffix("/stand/wire").replace("ws", "http", 1), "", Journal())
    again.secret, again.journal = first.secret, first.journal
    first.journal.roll(RATE_HZ)
    first.journal.sound(noise(40_000))
    with first.line() as old:
        first.pour(old)
        # The same browser opens another line, since it takes the old one for dead.
        with again.line() as line:
            assert again.told[-1]["kind"] == "welcome"
            # Whether it is closed by now or takes what came twice: nothing more comes of it.
            with suppress(ConnectionClosed, OSError):
                first.pour(old)
            first.journal.sound(noise(10_000, seed=8))
            first.journal.seal()
            again.pour(line)
            while not again.all_kept:
                again.hear(line)
    check_whole(stands.tools.data, stands.place, first.journal)
