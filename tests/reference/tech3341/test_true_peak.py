"""EBU Tech 3341 v4, Table 1: signals 15-23, heard by the public command."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.hear_command import heard
from tests.signals import faded_tone, hidden_period, same_in, write_wave

OVER_DB = 0.2
UNDER_DB = 0.4


@pytest.mark.parametrize(
    ("sound", "expected_dbtp", "annex_2_dbtp", "sample_peak_dbfs"),
    [
        pytest.param(faded_tone(4, 0.50, 0.0), -6.0, -6.021, -6.021, id="15"),
        pytest.param(faded_tone(4, 0.50, 45.0), -6.0, -5.976, -9.031, id="16"),
        pytest.param(faded_tone(6, 0.50, 60.0), -6.0, -6.313, -7.270, id="17"),
        pytest.param(faded_tone(8, 0.50, 67.5), -6.0, -6.026, -6.709, id="18"),
        pytest.param(faded_tone(4, 1.41, 45.0), 3.0, 3.029, -0.026, id="19"),
        pytest.param(hidden_period(0), 0.0, -0.130, -0.130, id="20"),
        pytest.param(hidden_period(1), 0.0, -0.077, -0.464, id="21"),
        pytest.param(hidden_period(2), 0.0, -0.202, -2.507, id="22"),
        pytest.param(hidden_period(3), 0.0, -0.077, -0.464, id="23"),
    ],
)
def test_signals_15_to_23(
    sound: NDArray[np.float64],
    expected_dbtp: float,
    annex_2_dbtp: float,
    sample_peak_dbfs: float,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    file = write_wave(tmp_path / "peak.wav", same_in(2, sound))
    peak = heard(capsys, file)[0]["peak"]
    assert expected_dbtp - UNDER_DB <= peak["true_dbtp"] <= expected_dbtp + OVER_DB
    # What the published coefficients give on signals made by formula, or the greatest sample
    # where that is more; worked out elsewhere. The fades and the low-pass leave this much open.
    assert peak["true_dbtp"] == pytest.approx(annex_2_dbtp, abs=0.02)
    assert peak["sample_dbfs"] == pytest.approx(sample_peak_dbfs, abs=0.02)
