"""`quietleaf bring-in`: what it prints, and that a refusal is one sentence and leaves nothing."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.cli.main import EXIT_STOPPED, main
from quietleaf.storage.codecs import SoundFile
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.reading_folder import ReadingFolder, reading_paths
from tests.readings import noise
from tests.stations import STATION
from tests.wave_files import FLOAT, UNKNOWN, chunk, ds64, fmt, plain, steps, wave

Ran = tuple[int, str, str]
RATE_HZ = 16_000
VALUES = steps(RATE_HZ, 16)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    data = tmp_path / "station"
    with Database(database_url(data)) as database:
        database.save_station(STATION)
    return data


@pytest.fixture
def run(
    data: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Ran]:
    for name in list(os.environ):
        if name.startswith("QUIETLEAF_"):
            monkeypatch.delenv(name)

    def ran(
        file: Path,
        *,
        programme: str = "hour",
        issue: str = "2026-11-25",
        reader: str = "Tomas Vale",
        into: Path = data,
    ) -> Ran:
        words = ["--programme", programme, "--issue", issue, "--reader", reader]
        capfd.readouterr()
        code = main(["bring-in", str(file), *words, "--data", str(into)])
        told = capfd.readouterr()
        return code, told.out, told.err

    return ran


def tree(folder: Path) -> dict[str, int]:
    """Everything under a folder, but for the database's own journals."""
    return {
        str(path.relative_to(folder)): path.stat().st_size if path.is_file() else -1
        for path in folder.rglob("*")
        if not path.name.endswith(("-wal", "-shm"))
    }


def test_what_it_prints(run: Callable[..., Ran], data: Path, tmp_path: Path) -> None:
    sound = noise(3 * RATE_HZ)
    file = tmp_path / "post.wav"
    soundfile.write(file, np.column_stack([sound, 0 * sound]), RATE_HZ, subtype="PCM_24")
    code, out, err = run(file)
    folder = reading_paths(data)[0]
    assert (code, err) == (0, "")
    assert out.splitlines() == [
        f"Reading {folder.name[11:]}: The Hour, issue of 2026-11-25, read by Tomas Vale.",
        "  came      WAV, 24-bit PCM, 16000 Hz, 2 channels",
        "  length    0:03",
        "  channels  The left channel carries the sound and was taken at full level; the other: "
        "nothing at all.",
        f"  is in     {folder}",
    ]
    assert {path.name for path in folder.iterdir()} == {
        "ledger.jsonl",
        "masters",
        "measures",
        "takes",
    }


def test_the_same_again_is_told(run: Callable[..., Ran], data: Path, tmp_path: Path) -> None:
    file = tmp_path / "post.wav"
    file.write_bytes(plain(VALUES, rate_hz=RATE_HZ))
    run(file)
    first = reading_paths(data)[0].name[11:]
    code, out, _ = run(file, reader="ada fenwick")
    assert code == 0
    assert "  note      It was planned for Tomas Vale; Ada Fenwick stands in.\n" in out
    assert f"  note      The same recording is here already, as reading {first}." in out
    assert len(reading_paths(data)) == 2


# Refusals: for each, what is in the file, the exit code, and what the sentence says.

HOSTILE: dict[str, tuple[bytes, int, str]] = {
    "empty": (b"", 3, "is empty (0 bytes)"),
    "header cut short": (plain(VALUES)[:30], 3, "does not hold together"),
    "header and no sound": (plain(VALUES)[:44], 3, "no samples after it"),
    "sizes of nothing": (
        wave(fmt(), chunk(b"data", b"", size=0), size=0),
        3,
        "no samples after it",
    ),
    "sizes that lie, over nothing": (
        wave(fmt(), chunk(b"data", b"", size=1 << 31)),
        3,
        "no samples after it",
    ),
    "long sizes missing": (wave(fmt(), chunk(b"data", b"abcd"), outer=b"RF64"), 3, "ds64"),
    "long sizes that lie, over nothing": (
        wave(ds64(data=1 << 40), fmt(), chunk(b"data", b"", size=UNKNOWN), outer=b"RF64"),
        3,
        "no samples after it",
    ),
    "no numbers": (
        wave(
            fmt(tag=FLOAT, bits=32),
            chunk(b"data", np.array([0, 0.1, np.nan, 0], "<f4").tobytes()),
        ),
        3,
        "holds one that is none",
    ),
    "past all numbers": (
        wave(
            fmt(tag=FLOAT, bits=64),
            chunk(b"data", np.array([0, 0.1, np.inf, 0], "<f8").tobytes()),
        ),
        3,
        "holds one that is none",
    ),
    "larger than can be meant": (
        wave(fmt(tag=FLOAT, bits=64), chunk(b"data", np.array([0, 1e300], "<f8").tobytes())),
        3,
        "ten thousand million",
    ),
    "silence": (plain(0 * VALUES), 3, "every sample of this one is the same"),
    "out of phase": (
        plain(np.column_stack([VALUES // 2, -(VALUES // 2)]).ravel(), channels=2),
        3,
        "cancel each other",
    ),
    "different sound": (
        plain(np.column_stack([VALUES, steps(RATE_HZ, 16, seed=9)]).ravel(), channels=2),
        3,
        "different sound at the same time",
    ),
    "no rate": (plain(VALUES, rate_hz=0), 3, "at 0 samples a second"),
    "a rate without sense": (plain(VALUES, rate_hz=1_000_000), 3, "claims 1000000"),
    "a thousand channels": (plain(VALUES, channels=1_000), 3, "claims 1000"),
    "an unknown coding": (wave(fmt(tag=0x7777), chunk(b"data", b"abcd")), 3, "cannot be read"),
    "text": (b"Minutes of the meeting.\n" * 99, 2, "holds text"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(99), 2, "holds a picture (PNG)"),
    "a document": (b"%PDF-1.7\n" + bytes(99), 2, "holds a page description (PDF)"),
    "zeros": (bytes(9_999), 2, "nothing but zeros"),
    "a flac cut in its head": (b"fLaC\0\0\0\x22" + bytes(10), 3, "cannot be read"),
}


@pytest.mark.parametrize(
    ("content", "code", "words"), HOSTILE.values(), ids=[name.replace(" ", "-") for name in HOSTILE]
)
def test_a_refusal_is_one_sentence_and_leaves_nothing(
    run: Callable[..., Ran],
    data: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    content: bytes,
    code: int,
    words: str,
) -> None:
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    file = tmp_path / "news.wav"
    file.write_bytes(content)
    before = tree(data)
    found, out, err = run(file)
    assert (found, out) == (code, "")
    assert words in err
    assert err.count("\n") == 1
    assert not any(word in err.lower() for word in ("traceback", "error", "invalid", "errno"))
    assert tree(data) == before
    assert list(temporary.iterdir()) == []
    assert file.read_bytes() == content
    with Database(database_url(data)) as database:
        assert database.readings() == ()


def test_ten_hours_are_too_long(run: Callable[..., Ran], data: Path, tmp_path: Path) -> None:
    file = tmp_path / "day.wav"
    samples = 36_000 * 4_000
    file.write_bytes(wave(fmt(bits=8, rate_hz=4_000), chunk(b"data", b"", size=samples)))
    # A hole on the disk: nothing of it is read.
    os.truncate(file, 44 + samples)
    before = tree(data)
    assert run(file) == (
        2,
        "",
        "A recording is brought in if it is shorter than 10:00:00; day.wav has 10:00:00. Cut it "
        "into parts, or raise the setting longest_recording_s.\n",
    )
    assert tree(data) == before


def test_the_longest_is_a_setting(
    run: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("QUIETLEAF_LONGEST_RECORDING_S", "0.5")
    file = tmp_path / "a.wav"
    file.write_bytes(plain(VALUES, rate_hz=RATE_HZ))
    assert run(file)[0] == 2


def test_what_is_no_file(run: Callable[..., Ran], data: Path, tmp_path: Path) -> None:
    before = tree(data)
    assert run(tmp_path)[::2] == (
        2,
        f"A recording is one file; {tmp_path.name} is a folder. Name the file in it.\n",
    )
    code, _, err = run(tmp_path / "nowhere.wav")
    assert (code, "There is no file" in err) == (2, True)
    file = tmp_path / "kept.wav"
    file.write_bytes(plain(VALUES))
    if os.geteuid():
        file.chmod(0)
        code, _, err = run(file)
        assert (code, "may not be read by you" in err) == (2, True)
    assert tree(data) == before


def test_names_and_dates_that_are_not_there(
    run: Callable[..., Ran], data: Path, tmp_path: Path
) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(plain(VALUES, rate_hz=RATE_HZ))
    before = tree(data)
    for wrong, words in (
        ({"programme": "hours"}, "There is: hour, request, story."),
        ({"reader": "Nobody"}, "There is: Ada Fenwick, Tomas Vale."),
        ({"issue": "25 November"}, "Planned for hour: 2026-11-25."),
    ):
        code, out, err = run(file, **wrong)
        assert (code, out) == (2, "")
        assert words in err
    assert tree(data) == before


def test_without_a_station_nothing_is_made(run: Callable[..., Ran], tmp_path: Path) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(plain(VALUES, rate_hz=RATE_HZ))
    code, _, err = run(file, into=tmp_path / "elsewhere")
    assert code == 2
    assert "There is no station in" in err
    assert not (tmp_path / "elsewhere").exists()


def test_without_the_extra_an_m4a_is_refused_with_what_to_install(
    run: Callable[..., Ran], data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    file = tmp_path / "memo.m4a"
    file.write_bytes(b"\0\0\0\x20ftypM4A \0\0\0\0" + bytes(64))
    before = tree(data)
    code, out, err = run(file)
    assert (code, out) == (2, "")
    assert err == (
        "memo.m4a is M4A or AAC, which needs an extra that is not installed here. Install it "
        "with: pip install 'quietleaf[aac]', or export the recording as WAV.\n"
    )
    assert tree(data) == before


def test_with_the_extra_a_broken_m4a_is_refused_too(
    run: Callable[..., Ran], data: Path, tmp_path: Path, aac: None
) -> None:
    file = tmp_path / "memo.m4a"
    file.write_bytes(b"\0\0\0\x20ftypM4A \0\0\0\0" + bytes(64))
    code, _, err = run(file)
    assert code == 3
    assert "no sound can be read from it" in err
    assert err.count("\n") == 1


def test_ctrl_c_leaves_nothing(
    run: Callable[..., Ran], data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(plain(VALUES, rate_hz=RATE_HZ))
    before = tree(data)
    passes = 0
    real = SoundFile.blocks

    def blocks(self: SoundFile, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        nonlocal passes
        passes += 1
        yield from real(self, block_frames)
        if passes == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr(SoundFile, "blocks", blocks)
    code, out, err = run(file)
    assert (code, out) == (EXIT_STOPPED, "")
    assert "Nothing half-written is left behind." in err
    assert tree(data) == before


def test_all_its_entries_are_of_one_moment(
    run: Callable[..., Ran], data: Path, tmp_path: Path
) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(plain(VALUES, rate_hz=RATE_HZ))
    before = datetime.now(UTC)
    run(file)
    entries = ReadingFolder(reading_paths(data)[0]).ledger()
    assert len({entry.at for entry in entries}) == 1
    assert before <= entries[0].at <= datetime.now(UTC)
