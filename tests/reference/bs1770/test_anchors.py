"""ITU-R BS.1770-5, Annex 1: loudness of steady tones, heard by the public command."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.hear_command import heard
from tests.signals import stepped_tone, write_wave

TOLERANCE_LU = 0.01


@pytest.mark.parametrize(
    ("frequency_hz", "level_dbfs", "channels", "sounding", "expected_lufs"),
    [
        pytest.param(997, 0.0, 2, (0,), -3.01, id="left"),
        pytest.param(997, 0.0, 2, (1,), -3.01, id="right"),
        pytest.param(997, 0.0, 5, (2,), -3.01, id="centre"),
        pytest.param(997, 0.0, 2, (0, 1), 0.00, id="left and right"),
        pytest.param(997, 0.0, 5, (3,), -1.518, id="surround"),
        pytest.param(1000, 0.0, 1, (0,), -3.004, id="1000 Hz, one channel"),
        pytest.param(1000, 0.0, 2, (0, 1), 0.007, id="1000 Hz, both"),
        pytest.param(1000, -18.0, 2, (0, 1), -17.993, id="1000 Hz at -18, both"),
        pytest.param(1000, -18.0, 1, (0,), -21.004, id="1000 Hz at -18, mono file"),
    ],
)
def test_steady_tone(
    frequency_hz: float,
    level_dbfs: float,
    channels: int,
    sounding: tuple[int, ...],
    expected_lufs: float,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    tone = stepped_tone((level_dbfs, 20.0), frequency_hz=frequency_hz)
    sound = np.zeros((tone.size, channels))
    for channel in sounding:
        sound[:, channel] = tone
    file = write_wave(tmp_path / "tone.wav", sound)
    assert heard(capsys, file)[0]["loudness"]["integrated_lufs"] == pytest.approx(
        expected_lufs, abs=TOLERANCE_LU
    )


@pytest.mark.parametrize("sample_rate_hz", [8_000, 11_025, 16_000, 22_050, 44_100, 96_000])
def test_steady_tone_at_other_rates(
    sample_rate_hz: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tone = stepped_tone((-18.0, 10.0), frequency_hz=997.0, sample_rate_hz=sample_rate_hz)
    file = write_wave(tmp_path / "tone.wav", tone, sample_rate_hz)
    assert heard(capsys, file)[0]["loudness"]["integrated_lufs"] == pytest.approx(-21.01, abs=0.05)


def test_low_frequency_channel_does_not_count(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = np.zeros((96_000, 6))
    sound[:, 3] = stepped_tone((0.0, 2.0), frequency_hz=60.0)
    file = write_wave(tmp_path / "low.wav", sound)
    assert heard(capsys, file)[0]["loudness"]["integrated_lufs"] is None


def test_silence_has_no_loudness(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = write_wave(tmp_path / "silence.wav", np.zeros(240_000))
    line = heard(capsys, file)[0]
    assert set(line["loudness"].values()) == {None}
    assert set(line["peak"].values()) == {None}
