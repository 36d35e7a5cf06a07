"""The estimate of what a drive would give, held against the sound rendered and measured."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.finishing.assembly import dry_blocks, master_samples
from quietleaf.finishing.estimate import drive_for, estimate_of, estimated_drive
from quietleaf.finishing.trial import try_drives
from tests.unit.finishing.planned import layout_of, survey_of
from tests.voices import Held, reading

SAMPLES = reading(seed=8).samples()
EDITS = layout_of(SAMPLES)


@pytest.mark.parametrize("gain_db", [0.0, 6.0, 10.0])
def test_it_comes_near_to_what_is_measured(gain_db: float) -> None:
    estimate = estimate_of(survey_of(SAMPLES), EDITS)
    assert estimate is not None
    (exact,) = try_drives(
        dry_blocks(EDITS, Held(SAMPLES)), master_samples(EDITS), ((gain_db, -1.05),)
    )
    found = estimated_drive(estimate, gain_db, -1.05)
    assert found.loudness_lufs == pytest.approx(exact.loudness_lufs, abs=0.12)
    assert found.lost_lu == pytest.approx(exact.lost_lu, abs=0.1)


@pytest.mark.parametrize("wanted_lufs", [-30.0, -23.0, -16.0])
def test_the_drive_that_is_found_gives_the_loudness(wanted_lufs: float) -> None:
    estimate = estimate_of(survey_of(SAMPLES), EDITS)
    assert estimate is not None
    found = drive_for(estimate, wanted_lufs, -1.05, 70.0)
    assert found.loudness_lufs == pytest.approx(wanted_lufs, abs=0.002)


def test_a_loudness_out_of_reach_gives_the_greatest_gain() -> None:
    estimate = estimate_of(survey_of(SAMPLES), EDITS)
    assert estimate is not None
    found = drive_for(estimate, -0.1, -1.05, 20.0)
    assert found.gain_db == 20.0
    assert found.loudness_lufs is not None
    assert found.loudness_lufs < -1.0


def test_a_faint_recording_is_no_silence() -> None:
    loud, faint = (
        estimate_of(survey_of(SAMPLES), EDITS),
        estimate_of(survey_of(1e-3 * SAMPLES), EDITS),
    )
    assert loud is not None
    assert faint is not None
    assert faint.loudness_lufs == pytest.approx(loud.loudness_lufs - 60.0, abs=0.01)


def test_silence_has_no_estimate() -> None:
    assert estimate_of(survey_of(np.zeros(SAMPLES.size)), EDITS) is None
