"""The example station from nothing to an air-ready programme, as `quietleaf demo` does it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from mutagen.id3 import ID3

from quietleaf.cli.demo import STATION_FILE
from quietleaf.cli.main import main
from tests.journey.meters import ffmpeg_loudness

LABELS = json.loads((STATION_FILE.parent / "labels.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A station's data folder in which the demo has run once."""
    folder = tmp_path_factory.mktemp("station")
    assert main(["demo", "--data", str(folder)]) == 0
    return folder


def only(folder: Path, pattern: str) -> Path:
    (found,) = folder.rglob(pattern)
    return found


@pytest.mark.parametrize("pattern", ["masters/*.wav", "masters/*.mp3"])
def test_what_is_delivered_is_at_the_target_by_an_independent_meter(
    data: Path, ffmpeg: Path, pattern: str
) -> None:
    integrated, peak = ffmpeg_loudness(ffmpeg, only(data, pattern))
    assert integrated == pytest.approx(-23.0, abs=0.2)
    assert peak <= -1.0


def test_the_head_begins_on_speech(data: Path) -> None:
    """Common practice, no source: a programme begins on its first syllable.

    The sample has 1.5 s of room tone and a breath before its first word; half a second of room
    tone is the setting's default.
    """
    samples, rate = soundfile.read(only(data, "masters/*.wav"))
    frames = samples[: rate * 3 // (rate // 100) * (rate // 100)].reshape(-1, rate // 100)
    level = 10.0 * np.log10((frames**2).mean(axis=1) + 1e-12)
    first_loud_s = float(np.argmax(level > -40.0)) / 100.0
    assert first_loud_s == pytest.approx(0.5, abs=0.1)
    assert level[:40].max() < -48.0, "the breath before the first word is still there"


def test_the_take_is_the_sample_to_the_bit(data: Path) -> None:
    sample, _ = soundfile.read(STATION_FILE.parent / "sample.flac", dtype="int32")
    take, _ = soundfile.read(only(data, "takes/0001.wav"), dtype="int32")
    np.testing.assert_array_equal(take, sample)


def test_listeners_can_jump_between_the_articles(data: Path) -> None:
    chapters = ID3(only(data, "masters/*.mp3")).getall("CHAP")
    titles = [chapter.sub_frames["TIT2"].text[0] for chapter in chapters]
    assert titles == [article["title"] for article in LABELS["articles"]]


def test_what_was_surely_read_twice_is_cut_and_what_seems_so_is_told(data: Path) -> None:
    report = json.loads(only(data, "masters/report.json").read_text("utf-8"))
    assert [ground["weight"] for ground in report["grounds"]] == ["stop"]
    # Of two restarts the surer one is gone, with the clipped word and the dead air.
    asked = [finding for finding in report["findings"] if finding["severity"] != "note"]
    assert [finding["kind"] for finding in asked] == ["restart"]
    assert asked[0]["start_s"] < 30.0


def test_a_second_time_shows_what_is_there_and_makes_nothing(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {path: path.stat().st_mtime_ns for path in (data / "readings").rglob("*.*")}
    assert main(["demo", "--data", str(data)]) == 0
    assert "In already" in capsys.readouterr().out
    after = {path: path.stat().st_mtime_ns for path in (data / "readings").rglob("*.*")}
    assert after == before


def test_the_index_is_made_again_from_the_folders_and_is_equal(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["rebuild", "--data", str(data)]) == 0
    assert "Differences to the index before: 0." in capsys.readouterr().out


def test_another_station_is_not_planned_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from dataclasses import replace

    from quietleaf.storage.database import Database, database_url
    from quietleaf.storage.station_file import read_station

    own = replace(read_station(STATION_FILE), name="Our Own Service")
    with Database(database_url(tmp_path)) as database:
        database.save_station(own)
    assert main(["demo", "--data", str(tmp_path)]) == 2
    assert "holds another station, Our Own Service" in capsys.readouterr().err
