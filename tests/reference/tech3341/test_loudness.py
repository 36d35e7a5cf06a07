"""EBU Tech 3341 v4, Table 1: signals 1-6 and 9-14, heard by the public command."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from quietleaf.listening.measuring import measured, start_measuring, step_measuring
from tests.hear_command import curve, heard
from tests.signals import RATE_HZ, same_in, stepped_tone, write_wave

SILENCE = -math.inf
TOLERANCE_LU = 0.1
STEPS = range(20)


@pytest.mark.parametrize(("level_dbfs", "expected"), [(-23.0, -23.0), (-33.0, -33.0)])
def test_signals_1_and_2_steady(
    level_dbfs: float, expected: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_wave(tmp_path / "1.wav", same_in(2, stepped_tone((level_dbfs, 20.0))))
    loudness = heard(capsys, file)[0]["loudness"]
    for figure in ("integrated_lufs", "momentary_max_lufs", "short_term_max_lufs"):
        assert loudness[figure] == pytest.approx(expected, abs=TOLERANCE_LU)


@pytest.mark.parametrize(
    "steps",
    [
        pytest.param([(-36, 10), (-23, 60), (-36, 10)], id="3"),
        pytest.param([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], id="4"),
        pytest.param([(-26, 20), (-20, 20.1), (-26, 20)], id="5"),
    ],
)
def test_signals_3_to_5_gates(
    steps: list[tuple[float, float]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_wave(tmp_path / "3.wav", same_in(2, stepped_tone(*steps)))
    assert heard(capsys, file)[0]["loudness"]["integrated_lufs"] == pytest.approx(
        -23.0, abs=TOLERANCE_LU
    )


def test_signal_6_five_channels(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    levels_dbfs = (-28.0, -28.0, -24.0, -30.0, -30.0)
    sound = np.column_stack([stepped_tone((level, 20.0)) for level in levels_dbfs])
    file = write_wave(tmp_path / "6.wav", sound)
    assert heard(capsys, file)[0]["loudness"]["integrated_lufs"] == pytest.approx(
        -23.0, abs=TOLERANCE_LU
    )


def test_signal_9_short_term_is_constant(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_wave(
        tmp_path / "9.wav", same_in(2, stepped_tone(*[(-20.0, 1.34), (-30.0, 1.66)] * 5))
    )
    assert heard(capsys, file)[0]["loudness"]["short_term_max_lufs"] == pytest.approx(
        -23.0, abs=TOLERANCE_LU
    )
    after = [short for time_s, _, short in curve(file, tmp_path / "9.csv") if time_s >= 3.0]
    assert len(after) == 121
    assert after == pytest.approx([-23.0] * 121, abs=TOLERANCE_LU)


def test_signal_10_short_term_wherever_it_begins(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = [
        write_wave(
            tmp_path / f"10-{i}.wav",
            same_in(2, stepped_tone((SILENCE, 0.15 * i), (-23.0, 3.0), (SILENCE, 1.0))),
        )
        for i in STEPS
    ]
    most = [line["loudness"]["short_term_max_lufs"] for line in heard(capsys, *files)]
    assert most == pytest.approx([-23.0] * 20, abs=TOLERANCE_LU)


def test_signal_11_short_term_in_one_stream(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    parts = [
        same_in(2, stepped_tone((SILENCE, 0.15 * i), (-38.0 + i, 3.0), (SILENCE, 3.0 - 0.15 * i)))
        for i in STEPS
    ]
    state = start_measuring(RATE_HZ, 2)
    most = []
    for part in parts:
        step_measuring(state, part)
        most.append(measured(state).loudness.short_term_max_lufs)
    assert most == pytest.approx([-38.0 + i for i in STEPS], abs=TOLERANCE_LU)

    whole = write_wave(tmp_path / "11.wav", np.concatenate(parts))
    assert heard(capsys, whole)[0]["loudness"]["short_term_max_lufs"] == pytest.approx(
        -19.0, abs=TOLERANCE_LU
    )


def test_signal_12_momentary_is_constant(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_wave(
        tmp_path / "12.wav", same_in(2, stepped_tone(*[(-20.0, 0.18), (-30.0, 0.22)] * 25))
    )
    assert heard(capsys, file)[0]["loudness"]["momentary_max_lufs"] == pytest.approx(
        -23.0, abs=TOLERANCE_LU
    )
    after = [momentary for time_s, momentary, _ in curve(file, tmp_path / "12.csv") if time_s >= 1]
    assert len(after) == 91
    assert after == pytest.approx([-23.0] * 91, abs=TOLERANCE_LU)


def test_signal_13_momentary_wherever_it_begins(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = [
        write_wave(
            tmp_path / f"13-{i}.wav",
            same_in(2, stepped_tone((SILENCE, 0.02 * i), (-23.0, 0.4), (SILENCE, 1.0))),
        )
        for i in STEPS
    ]
    most = [line["loudness"]["momentary_max_lufs"] for line in heard(capsys, *files)]
    assert most == pytest.approx([-23.0] * 20, abs=TOLERANCE_LU)


def test_signal_14_momentary_in_one_stream(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    parts = [
        same_in(2, stepped_tone((SILENCE, 0.02 * i), (-38.0 + i, 0.4), (SILENCE, 0.4 - 0.02 * i)))
        for i in STEPS
    ]
    state = start_measuring(RATE_HZ, 2)
    most = []
    for part in parts:
        step_measuring(state, part)
        most.append(measured(state).loudness.momentary_max_lufs)
    assert most == pytest.approx([-38.0 + i for i in STEPS], abs=TOLERANCE_LU)

    whole = write_wave(tmp_path / "14.wav", np.concatenate(parts))
    assert heard(capsys, whole)[0]["loudness"]["momentary_max_lufs"] == pytest.approx(
        -19.0, abs=TOLERANCE_LU
    )
