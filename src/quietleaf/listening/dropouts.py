"""Dropouts: moments where samples are missing and zeros stand in their place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import FRAME_S
from quietleaf.listening.level_steps import LOWEST_DBOV, STEPS_A_DB
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.sample_runs import ZeroRun

_BESIDE_FRAMES = 3
_GATED_SHARE = 0.25
_GATED_PAUSES_MIN = 4


def dropout_findings(
    zero_runs: list[ZeroRun],
    steps: NDArray[np.uint8],
    pauses_s: NDArray[np.float64],
    samples: int,
    sample_rate_hz: int,
    limits: HearingLimits,
) -> list[Finding]:
    """Turn stretches of zeros into findings.

    Parameters
    ----------
    zero_runs : list of ZeroRun
    steps : ndarray, shape (k,), uint8
        Level of each frame of 10 ms, half decibels from -127.5 dBov.
    pauses_s : ndarray, shape (j, 2), seconds
        Pauses between stretches of speech.

    Returns
    -------
    findings : list of Finding
        Kind ``dropout``; value and limit are milliseconds of zeros.

    Notes
    -----
    Zeros at the very beginning and end are silence that somebody added, and so are zeros beside
    which it is as good as silent. Where a quarter of the pauses hold zeros, the recording was
    gated or put together from pieces: then only zeros with speech on both sides count, since the
    others would be one finding a pause. Ours.
    """
    inside = [
        run
        for run in zero_runs
        if run.start > 0
        and run.stop < samples
        and _beside(run, steps, sample_rate_hz) > limits.dropout_beside_dbov_min
    ]
    centres = np.array([0.5 * (run.start + run.stop) / sample_rate_hz for run in inside])
    in_pause = _which_range(centres, pauses_s)
    holding = np.unique(in_pause[in_pause >= 0]).size
    gated = holding >= max(_GATED_PAUSES_MIN, _GATED_SHARE * len(pauses_s))
    return [
        Finding(
            kind="dropout",
            start_s=run.start / sample_rate_hz,
            end_s=run.stop / sample_rate_hz,
            severity="hear",
            value=1000.0 * run.zeros / sample_rate_hz,
            limit=1000.0 * limits.dropout_s_min,
            unit="ms",
            advice="Sound is missing here. Listen: if a word is damaged, read the sentence again; "
            "if there are several, check the cable and what else the computer is doing.",
        )
        for run, pause in zip(inside, in_pause, strict=True)
        if pause < 0 or not gated
    ]


def _beside(run: ZeroRun, steps: NDArray[np.uint8], rate: int) -> float:
    """Give the level on the quieter side of a run, dBov; the louder of a few frames each side."""
    first = int(run.start / rate / FRAME_S)
    last = int(np.ceil(run.stop / rate / FRAME_S))
    before = steps[max(0, first - _BESIDE_FRAMES) : first + 1]
    after = steps[max(0, last - 1) : last + _BESIDE_FRAMES]
    if before.size == 0 or after.size == 0:
        return -np.inf
    return LOWEST_DBOV + min(int(before.max()), int(after.max())) / STEPS_A_DB


def _which_range(places: NDArray[np.float64], ranges: NDArray[np.float64]) -> NDArray[np.int64]:
    """Give for each place the range that holds it, -1 for none."""
    if len(ranges) == 0 or places.size == 0:
        return np.full(places.size, -1, dtype=np.int64)
    index = np.searchsorted(ranges[:, 0], places, side="right") - 1
    held = (index >= 0) & (places < ranges[np.maximum(index, 0), 1])
    return np.where(held, index, -1).astype(np.int64)
