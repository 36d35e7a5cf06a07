"""One master, a file for each outlet: each measured by two programs that are not ours."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
import soxr

from quietleaf.cli.main import main
from tests.journey.meters import ffmpeg_loudness
from tests.voices import RATE_HZ, Made

WANTED = {
    "on-air": (-23.0, -1.0),
    "stream": (-18.0, -1.0),
    "feed": (-16.0 - 3.01, -1.0),  # counted as two loudspeakers; a meter counts the one channel
    "telephone": (-23.0, -3.0),
    "subcarrier": (-18.0, -2.0),
}


@pytest.fixture(scope="module")
def outlets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("outlets")
    made = Made(seed=4)
    made.pause(0.8)
    for length_s, level_dbov in ((3.0, -24.0), (4.0, -20.0), (2.5, -27.0)):
        made.speech(length_s, level_dbov)
        made.pause(0.6)
    recording, out = folder / "reading.wav", folder / "out"
    soundfile.write(recording, made.samples(), RATE_HZ, subtype="PCM_24")
    words = [word for key in WANTED for word in ("--outlet", key)]
    assert main(["finish", str(recording), "--out", str(out), *words]) == 0
    return {key: next(out.glob(f"reading-{key}.*")) for key in WANTED} | {
        "report": out / "report.html"
    }


@pytest.mark.parametrize("key", WANTED)
def test_each_is_as_loud_as_its_outlet_wants_and_under_its_ceiling(
    outlets: dict[str, Path], ffmpeg: Path, tmp_path: Path, key: str
) -> None:
    wanted_lufs, ceiling_dbtp = WANTED[key]
    samples, rate = soundfile.read(outlets[key])
    _, peak = ffmpeg_loudness(ffmpeg, outlets[key])
    assert peak <= ceiling_dbtp + 0.05
    # At 8 kHz both would redesign the weighting, and read it otherwise.
    at_48_khz = tmp_path / "decoded.wav"
    decoded = soxr.resample(samples, rate, RATE_HZ, quality="VHQ")
    soundfile.write(at_48_khz, decoded, RATE_HZ, subtype="FLOAT")
    integrated, _ = ffmpeg_loudness(ffmpeg, at_48_khz)
    # It tells tenths.
    assert integrated == pytest.approx(wanted_lufs, abs=0.16)
    second = pyloudnorm.Meter(RATE_HZ).integrated_loudness(decoded)
    assert second == pytest.approx(wanted_lufs, abs=0.16)


def test_the_telephone_has_its_rate_its_coder_and_its_band(
    outlets: dict[str, Path], ffmpeg: Path
) -> None:
    with soundfile.SoundFile(outlets["telephone"]) as file:
        assert (file.samplerate, file.channels, file.subtype) == (8_000, 1, "ULAW")
        seconds = file.frames / 8_000
        power = np.abs(np.fft.rfft(file.read())) ** 2
    with soundfile.SoundFile(outlets["on-air"]) as file:
        assert seconds == pytest.approx(file.frames / RATE_HZ, abs=1 / 8_000)
    hz = np.fft.rfftfreq(2 * power.size - 1, 1 / 8_000)
    inside = power[(hz > 150) & (hz < 3_400)].sum()
    assert power[hz < 60].sum() < 1e-4 * inside
    assert power[hz > 3_700].sum() < 1e-3 * inside
    told = subprocess.run(
        [str(ffmpeg), "-hide_banner", "-i", str(outlets["telephone"])],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    ).stderr
    assert re.search(r"pcm_mulaw.*8000 Hz.*mono", told)


def test_the_subcarrier_ends_at_five_kilohertz(outlets: dict[str, Path]) -> None:
    samples, rate = soundfile.read(outlets["subcarrier"])
    power = np.abs(np.fft.rfft(samples)) ** 2
    hz = np.fft.rfftfreq(samples.size, 1 / rate)
    assert power[hz > 5_600].sum() < 1e-5 * power.sum()


def test_the_report_tells_one_loudspeaker_from_two(outlets: dict[str, Path]) -> None:
    report = outlets["report"].read_text("utf-8")
    assert "Loudness of two loudspeakers, feed" in report
    assert "Loudness, telephone" in report


def test_an_outlet_that_is_none_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recording = tmp_path / "reading.wav"
    soundfile.write(recording, np.zeros(RATE_HZ), RATE_HZ)
    words = ["finish", str(recording), "--out", str(tmp_path / "out"), "--outlet", "gramophone"]
    assert main(words) == 2
    assert "subcarrier" in capsys.readouterr().err
