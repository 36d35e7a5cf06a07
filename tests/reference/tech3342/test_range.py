"""EBU Tech 3342 v4, Table 1: signals 1-4, heard by the public command."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.hear_command import heard
from tests.signals import same_in, stepped_tone, write_wave


@pytest.mark.parametrize(
    ("levels_dbfs", "expected_lu"),
    [
        pytest.param((-20, -30), 10.0, id="1"),
        pytest.param((-20, -15), 5.0, id="2"),
        pytest.param((-40, -20), 20.0, id="3"),
        pytest.param((-50, -35, -20, -35, -50), 15.0, id="4"),
    ],
)
def test_signals_1_to_4(
    levels_dbfs: tuple[float, ...],
    expected_lu: float,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    once = same_in(2, stepped_tone(*[(level, 20.0) for level in levels_dbfs]))
    files = [
        write_wave(tmp_path / "once.wav", once),
        write_wave(tmp_path / "twice.wav", np.concatenate([once, once])),
    ]
    ranges = [line["loudness"]["range_lu"] for line in heard(capsys, *files)]
    # The tolerance of the document is 1 LU; the definition itself gives these within 0.1.
    assert ranges[0] == pytest.approx(expected_lu, abs=0.1)
    # Said twice, a programme ranges as far as said once.
    assert ranges[1] == pytest.approx(expected_lu, abs=0.1)
