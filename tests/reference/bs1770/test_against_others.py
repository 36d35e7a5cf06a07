"""The same sound heard by two independent implementations: ffmpeg and pyloudnorm."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
import soundfile

from tests import helpers
from tests.hear_command import heard
from tests.signals import same_in, speech_like, write_wave

FFMPEG_LUFS = re.compile(r"I:\s+(-?[\d.]+) LUFS")
FFMPEG_LU = re.compile(r"LRA:\s+(-?[\d.]+) LU\b")
FFMPEG_DBTP = re.compile(r"Peak:\s+(-?[\d.]+) dBFS")
MADE = [(seed, rate) for seed in (11, 12) for rate in (16_000, 22_050, 44_100, 48_000)]


@pytest.mark.parametrize(("seed", "sample_rate_hz"), MADE)
def test_made_speech_by_ffmpeg(
    seed: int,
    sample_rate_hz: int,
    tmp_path: Path,
    ffmpeg: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    sound = same_in(1 + seed % 2, speech_like(seed, 70.0, sample_rate_hz))
    file = write_wave(tmp_path / "made.wav", sound, sample_rate_hz)
    _agree(heard(capsys, file)[0], _by_ffmpeg(ffmpeg, file))


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_made_speech_by_pyloudnorm(
    seed: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = same_in(1 + seed % 2, speech_like(seed, 30.0))
    file = write_wave(tmp_path / "made.wav", sound)
    assert heard(capsys, file)[0]["loudness"]["integrated_lufs"] == pytest.approx(
        _by_pyloudnorm(file), abs=0.05
    )


def test_recordings_by_ffmpeg_and_pyloudnorm(
    recordings: Path, ffmpeg: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = sorted((recordings / "continuous").glob("*.flac"))
    files += [
        sorted(voice.glob("*.flac"))[0]
        for voice in sorted((recordings / "speech").iterdir())
        if any(voice.glob("*.flac"))
    ]
    for file, line in zip(files, heard(capsys, *files), strict=True):
        _agree(line, _by_ffmpeg(ffmpeg, file))
        # Both stages of its filter are redesigned at other rates, and it rounds the number of
        # blocks up or down, which shows in short files.
        tolerance_lu = 0.05 if line["sample_rate_hz"] == 48_000 else 0.1
        if line["duration_s"] >= 10.0:
            assert line["loudness"]["integrated_lufs"] == pytest.approx(
                _by_pyloudnorm(file), abs=tolerance_lu
            ), file.name


def _agree(line: dict[str, Any], theirs: tuple[float, float, float]) -> None:
    loudness_lufs, range_lu, peak_dbtp = theirs
    # It prints one decimal, and its filter at low rates is a redesign that reads up to 0.1 high.
    tolerance_lu = 0.1 if line["sample_rate_hz"] >= 44_100 else 0.15
    assert line["loudness"]["integrated_lufs"] == pytest.approx(loudness_lufs, abs=tolerance_lu), (
        line
    )
    if line["duration_s"] >= 60.0:
        assert line["loudness"]["range_lu"] == pytest.approx(range_lu, abs=0.3), line
    assert peak_dbtp - 0.6 <= line["peak"]["true_dbtp"] <= peak_dbtp + 0.3, line


def _by_ffmpeg(ffmpeg: Path, file: Path) -> tuple[float, float, float]:
    command = [str(ffmpeg), "-nostdin", "-hide_banner", "-nostats", "-i", str(file)]
    command += ["-af", "ebur128=peak=true", "-f", "null", "-"]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    summary = told[told.rindex("Summary:") :]
    found = [pattern.search(summary) for pattern in (FFMPEG_LUFS, FFMPEG_LU, FFMPEG_DBTP)]
    loudness_lufs, range_lu, peak_dbtp = (float(match[1]) for match in found if match)
    return loudness_lufs, range_lu, peak_dbtp


def _by_pyloudnorm(file: Path) -> float:
    helpers.need_module("pyloudnorm", what="pyloudnorm", helper="pyloudnorm")
    import pyloudnorm

    sound, sample_rate_hz = soundfile.read(file)
    return float(pyloudnorm.Meter(sample_rate_hz).integrated_loudness(sound))
