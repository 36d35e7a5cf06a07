"""ITU-T P.56, method B: examples and invariances, heard by the public command."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.hear_command import heard
from tests.signals import gated_tone, write_wave

TOLERANCE_DB = 0.05
TOLERANCE_POINTS = 1.0
ONE_ON_ONE_OFF_DBOV = -24.072


def activity_percent(sound: NDArray[np.float64], active_dbov: float) -> float:
    """Give the share of the time that is speech: the level of the whole under that of speech."""
    whole_dbov = 10.0 * math.log10(float(np.mean(sound**2)))
    return float(100.0 * 10.0 ** ((whole_dbov - active_dbov) / 10.0))


@pytest.mark.parametrize(
    ("on_s", "off_s", "active_dbov", "percent"),
    [
        (1.0, 0.0, -23.005, 99.88),
        (1.0, 1.0, ONE_ON_ONE_OFF_DBOV, 63.85),
        (0.5, 0.5, -24.956, 78.25),
        (2.0, 1.0, -23.568, 75.80),
        (0.3, 0.15, -24.768, 99.90),
        (1.0, 0.3, -24.071, 98.21),
    ],
)
def test_examples(
    on_s: float,
    off_s: float,
    active_dbov: float,
    percent: float,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    whole_s = 20.0 // (on_s + off_s) * (on_s + off_s)
    sound = gated_tone(on_s, off_s, whole_s)
    file = write_wave(tmp_path / "gated.wav", sound, 8_000)
    measured = heard(capsys, file)[0]["level"]["active_speech_dbov"]
    assert measured == pytest.approx(active_dbov, abs=TOLERANCE_DB)
    assert activity_percent(sound, measured) == pytest.approx(percent, abs=TOLERANCE_POINTS)


def test_moves_with_the_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    levels_dbfs = [-10.0, -20.0, -30.0, -40.0, -50.0]
    files = [
        write_wave(tmp_path / f"{level}.wav", gated_tone(1, 1, 20.0, level_dbfs=level), 8_000)
        for level in levels_dbfs
    ]
    measured = [line["level"]["active_speech_dbov"] for line in heard(capsys, *files)]
    expected = [ONE_ON_ONE_OFF_DBOV + 20.0 + level for level in levels_dbfs]
    assert measured == pytest.approx(expected, abs=TOLERANCE_DB)


@pytest.mark.parametrize(("silence_s", "percent"), [(1, 60.81), (5, 51.08), (20, 31.93)])
def test_silence_after_it_changes_nothing(
    silence_s: int, percent: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = np.concatenate([gated_tone(1, 1, 20.0), np.zeros(8_000 * silence_s)])
    file = write_wave(tmp_path / "tail.wav", sound, 8_000)
    measured = heard(capsys, file)[0]["level"]["active_speech_dbov"]
    assert measured == pytest.approx(ONE_ON_ONE_OFF_DBOV, abs=TOLERANCE_DB)
    assert activity_percent(sound, measured) == pytest.approx(percent, abs=TOLERANCE_POINTS)


@pytest.mark.parametrize("sample_rate_hz", [8_000, 16_000, 44_100, 48_000])
def test_same_at_every_rate(
    sample_rate_hz: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = gated_tone(1, 1, 20.0, sample_rate_hz=sample_rate_hz)
    file = write_wave(tmp_path / "rate.wav", sound, sample_rate_hz)
    assert heard(capsys, file)[0]["level"]["active_speech_dbov"] == pytest.approx(
        ONE_ON_ONE_OFF_DBOV, abs=TOLERANCE_DB
    )


def test_dc_does_not_count(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = write_wave(tmp_path / "dc.wav", gated_tone(1, 1, 20.0) + 0.01, 8_000)
    level = heard(capsys, file)[0]["level"]
    assert level["active_speech_dbov"] == pytest.approx(ONE_ON_ONE_OFF_DBOV, abs=TOLERANCE_DB)
    assert level["dc"] == pytest.approx(0.01, abs=1e-5)


def test_silence_is_no_measurement(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = write_wave(tmp_path / "silence.wav", np.zeros(16_000), 8_000)
    assert heard(capsys, file)[0]["level"]["active_speech_dbov"] is None
