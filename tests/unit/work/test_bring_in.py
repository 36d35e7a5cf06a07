"""A recording becomes a reading: its samples, what is said of it, and what is refused."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.booth.edits import Opened, StateSet, TakeSealed
from quietleaf.errors import AudioUnfit, Invalid, NotFound, QuietleafError
from quietleaf.planning.assignment import Assignment
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import ReadingFolder, reading_paths
from quietleaf.work.bring_in import BringIn, BroughtIn, bring_in, read_issue_date
from quietleaf.work.tools import Tools
from tests.readings import AT, noise
from tests.stations import STATION, WEDNESDAY
from tests.wave_files import FLOAT, chunk, fmt, packed, steps, wave

RATE_HZ = 32_000


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    data = tmp_path / "station"
    with Database(database_url(data)) as database:
        database.save_station(STATION)
        yield Tools(data=data, database=database, clock=lambda: AT)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "post.wav"


def write(path: Path, samples: NDArray[np.float64], subtype: str = "PCM_24") -> None:
    soundfile.write(path, samples, RATE_HZ, subtype=subtype)


def request(path: Path, reader: str = "Tomas Vale") -> BringIn:
    return BringIn(path=path, programme_key="hour", issue_date=WEDNESDAY, reader=reader)


def taken(brought: BroughtIn) -> NDArray[np.float64]:
    with ReadingFolder(brought.folder).open_take(1) as take:
        assert take.info.channels == 1
        return take.read(0, take.info.frames)[:, 0]


def left_behind(tools: Tools) -> list[Path]:
    return [path for path in tools.data.rglob("*") if not path.name.startswith("quietleaf.sqlite")]


def test_the_take_is_the_recording_to_the_bit(tools: Tools, file: Path) -> None:
    samples = noise(RATE_HZ + 17)
    write(file, samples)
    brought = bring_in(request(file), tools)
    assert (taken(brought) == samples).all()
    assert brought.duration_s == len(samples) / RATE_HZ
    assert brought.info.sample_rate_hz == RATE_HZ
    assert (brought.channels, brought.remarks) == ("It has one channel.", ())
    with soundfile.SoundFile(brought.folder / "takes/0001.wav") as other:
        assert (other.samplerate, other.channels, other.subtype) == (RATE_HZ, 1, "PCM_24")
        assert (other.read() == samples).all()


def test_the_ledger_and_the_index_tell_of_it(tools: Tools, file: Path) -> None:
    write(file, noise(5_000))
    brought = bring_in(request(file), tools)
    folder = ReadingFolder(brought.folder)
    assert brought.folder.parent == tools.data / "readings/hour"
    assert brought.folder.name == f"2026-11-25-{brought.reading_id}"
    opened, sealed, state = (edit.what for edit in folder.ledger())
    assert isinstance(opened, Opened)
    assert opened.facts == brought.facts
    assert isinstance(sealed, TakeSealed)
    assert sealed.origin == "post.wav: WAV, 24-bit PCM. It has one channel."
    assert state == StateSet(state="handed in", note="")
    assert {edit.author for edit in folder.ledger()} == {"Tomas Vale"}
    assert tools.database.readings() == (reading_row(folder),)


def test_the_assignment_says_for_when_and_with_whom(tools: Tools, file: Path) -> None:
    shared = Assignment(
        programme_key="hour",
        issue_date=WEDNESDAY,
        air_date=date(2026, 11, 26),
        readers=("Ada Fenwick", "Tomas Vale"),
    )
    tools.database.save_station(replace(STATION, assignments=(shared,)))
    write(file, noise(5_000))
    brought = bring_in(request(file), tools)
    assert brought.facts.readers == ("Ada Fenwick", "Tomas Vale")
    assert brought.facts.air_date == date(2026, 11, 26)
    assert brought.facts.programme_title == "The Hour"
    assert brought.facts.publication == "The Post"
    assert brought.remarks == ()


def test_a_stand_in_is_told(tools: Tools, file: Path) -> None:
    write(file, noise(5_000))
    brought = bring_in(request(file, "  ada  FENWICK "), tools)
    assert brought.facts.readers == ("Ada Fenwick",)
    assert brought.remarks == ("It was planned for Tomas Vale; Ada Fenwick stands in.",)


def test_an_issue_that_nobody_planned_is_told(tools: Tools, file: Path) -> None:
    write(file, noise(5_000))
    brought = bring_in(replace(request(file), issue_date=date(2026, 12, 1)), tools)
    assert brought.facts.air_date is None
    assert brought.remarks == (
        "Nothing is planned for this issue: the reading has no air date yet.",
    )


def test_a_second_one_is_another_reading_and_the_same_one_is_told(tools: Tools, file: Path) -> None:
    write(file, noise(5_000))
    first = bring_in(request(file), tools)
    before = {path: path.read_bytes() for path in first.folder.rglob("*") if path.is_file()}
    again = bring_in(request(file), tools)
    assert f"is here already, as reading {first.reading_id}." in again.remarks[0]
    write(file, noise(5_000, seed=8))
    other = bring_in(request(file), tools)
    assert other.remarks == ()
    assert len({first.reading_id, again.reading_id, other.reading_id}) == 3
    assert all(path.read_bytes() == data for path, data in before.items())
    assert len(tools.database.readings()) == 3


def test_one_channel_of_two(tools: Tools, file: Path) -> None:
    samples = noise(RATE_HZ)
    write(file, np.column_stack([0.0 * samples, samples]))
    brought = bring_in(request(file), tools)
    assert (taken(brought) == samples).all()
    assert brought.info.channels == 2
    assert brought.channels.startswith("The right channel carries the sound and was taken at full")
    assert "The right channel" in str(ReadingFolder(brought.folder).ledger()[1])


def test_over_full_scale_all_is_turned_down_and_nothing_clipped(tools: Tools, file: Path) -> None:
    samples = 4.0 * noise(RATE_HZ)
    write(file, samples, "DOUBLE")
    brought = bring_in(request(file), tools)
    peak = np.abs(samples).max()
    got = taken(brought)
    largest = (2**23 - 1) / 2**23
    np.testing.assert_allclose(got * peak, samples * largest, rtol=0, atol=0.51 * peak * 2**-23)
    assert np.abs(got).max() == largest
    over_db = 20 * np.log10(peak)
    assert brought.remarks == (
        f"It goes {over_db:.1f} dB over full scale. All of it was turned down by that much, so "
        "that nothing is clipped and nothing lost.",
    )


def test_whole_numbers_kept_as_floats_are_turned_down_too(tools: Tools, file: Path) -> None:
    samples = np.rint(noise(RATE_HZ) * 32_768.0)
    write(file, samples, "FLOAT")
    got = taken(bring_in(request(file), tools))
    np.testing.assert_allclose(got / np.abs(got).max(), samples / np.abs(samples).max(), atol=2e-7)


@pytest.mark.parametrize("subtype", ["FLOAT", "DOUBLE", "PCM_32"])
def test_what_is_finer_than_24_bits_is_rounded_and_told(
    tools: Tools, file: Path, subtype: str
) -> None:
    samples = np.random.default_rng(4).uniform(-0.5, 0.5, RATE_HZ)
    write(file, samples, subtype)
    brought = bring_in(request(file), tools)
    assert np.abs(taken(brought) - samples).max() <= 0.7 * 2**-23
    assert "finer than 24 bits; they were rounded" in brought.remarks[0]
    write(file, noise(RATE_HZ), subtype)
    assert bring_in(request(file), tools).remarks == ()


def test_full_scale_itself_is_no_reason_to_change_anything(tools: Tools, file: Path) -> None:
    values = np.array([1.0, -1.0, 0.25, 0.0] * 100, dtype="<f4")
    file.write_bytes(wave(fmt(tag=FLOAT, bits=32), chunk(b"data", values.tobytes())))
    brought = bring_in(request(file), tools)
    assert brought.remarks == ()
    assert taken(brought)[:4].tolist() == [1.0 - 2**-23, -1.0, 0.25, 0.0]


def test_a_single_mad_sample_is_refused_with_its_place(tools: Tools, file: Path) -> None:
    samples = 0.1 * noise(4 * RATE_HZ)
    samples[3 * RATE_HZ + 5] = 1e6
    write(file, samples, "DOUBLE")
    with pytest.raises(AudioUnfit, match=r"at 0:03 this one has a sample 120 dB over full scale"):
        bring_in(request(file), tools)
    assert left_behind(tools) == []


def test_sound_below_the_smallest_step_is_refused(tools: Tools, file: Path) -> None:
    write(file, 1e-9 * noise(RATE_HZ), "DOUBLE")
    with pytest.raises(AudioUnfit, match="smaller than the smallest step of 24 bits"):
        bring_in(request(file), tools)


def test_what_a_header_said_wrongly_is_told(tools: Tools, file: Path) -> None:
    values = steps(RATE_HZ, 16)
    file.write_bytes(
        wave(fmt(rate_hz=RATE_HZ), chunk(b"data", packed(values, 2), size=10 * RATE_HZ))
    )
    brought = bring_in(request(file), tools)
    assert (taken(brought) == values / 32768.0).all()
    assert "its header promises 0:05, and 0:01 is there" in brought.remarks[0]


def test_a_recording_is_shorter_than_the_longest(tools: Tools, file: Path) -> None:
    write(file, noise(2 * RATE_HZ))
    assert bring_in(replace(request(file), longest_s=2.001), tools).duration_s == 2.0
    with pytest.raises(Invalid, match=r"shorter than 0:02; post.wav has 0:02. Cut it into parts"):
        bring_in(replace(request(file), longest_s=2.0), tools)
    assert len(reading_paths(tools.data)) == 1


def test_names_are_those_of_the_station(tools: Tools, file: Path) -> None:
    write(file, noise(100))
    with pytest.raises(NotFound, match=r"no programme 'Hour' .* There is: hour, request, story\."):
        bring_in(replace(request(file), programme_key="Hour"), tools)
    with pytest.raises(NotFound, match=r"no reader 'Ada' .* There is: Ada Fenwick, Tomas Vale\."):
        bring_in(request(file, "Ada"), tools)
    assert left_behind(tools) == []


@pytest.mark.parametrize(
    "text", ["25.11.2026", "2026-11-31", "20261125", "2026-W48-3", "today", "", "2026-11-25T09:00"]
)
def test_a_date_is_written_in_one_way(text: str) -> None:
    with pytest.raises(Invalid, match=r"like 2026-11-25; .* Planned for hour: 2026-11-25\."):
        read_issue_date(text, "hour", STATION)
    with pytest.raises(Invalid, match=r"Write it so\."):
        read_issue_date(text, "story", STATION)


def test_a_date_as_it_should_be() -> None:
    assert read_issue_date("2026-11-25", "hour", STATION) == WEDNESDAY


def test_progress_is_told_in_both_passes(tools: Tools, file: Path) -> None:
    told: list[tuple[str, float]] = []
    write(file, noise(600_000))
    bring_in(request(file), replace(tools, progress=lambda step, done: told.append((step, done))))
    for step in ("listening to the channels", "writing the take"):
        parts = [done for name, done in told if name == step]
        assert len(parts) > 1
        assert parts == sorted(parts)
        assert parts[-1] == 1.0


class Stopped(KeyboardInterrupt):
    """Somebody pressed Ctrl-C."""


def test_stopped_at_any_moment_it_leaves_nothing(tools: Tools, file: Path) -> None:
    write(file, noise(600_000))
    calls = 0
    stop_at = 0

    def progress(step: str, done: float) -> None:
        nonlocal calls
        calls += 1
        if calls == stop_at:
            raise Stopped

    while True:
        stop_at += 1
        calls = 0
        try:
            bring_in(request(file), replace(tools, progress=progress))
        except Stopped:
            assert left_behind(tools) == []
            assert tools.database.readings() == ()
        else:
            break
    assert stop_at > 4


def test_a_full_disk_leaves_nothing(
    tools: Tools, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import errno
    import os

    write(file, noise(600_000))
    real = os.pwrite
    room = 0

    def pwrite(handle: int, data: bytes, offset: int) -> int:
        nonlocal room
        room -= 1
        if room < 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(handle, data, offset)

    monkeypatch.setattr(os, "pwrite", pwrite)
    for writes in range(100):
        room = writes
        try:
            bring_in(request(file), tools)
        except QuietleafError as refusal:
            said = refusal.sentence
        else:
            break
        assert "full" in said
        assert left_behind(tools) == []
        assert tools.database.readings() == ()
    assert 8 < writes < 99
