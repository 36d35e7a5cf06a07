"""Findings by arithmetic: flat tops, dropouts, dead air."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.sample_runs import FlatTop, ZeroRun

_BESIDE_SPEECH_S = 0.03
_DROPOUT_S_MAX = 1.0


def clip_findings(
    flat_tops: Sequence[FlatTop], sample_peak: float, sample_rate_hz: int, limits: HearingLimits
) -> list[Finding]:
    """Tell where the sound was cut flat at its peaks.

    The value is the longest flat top, in samples of the recording.
    """
    return [
        Finding(
            kind="clip",
            start_s=top.start / sample_rate_hz,
            end_s=top.stop / sample_rate_hz,
            severity="hear",
            value=float(top.longest),
            limit=float(limits.clip_run_samples),
            unit="samples",
            advice="The loudest part of a word is cut off flat: it was too loud for the "
            "microphone's input. If it is heard, read this sentence again a little further away.",
        )
        for top in flat_tops
        if top.value >= limits.clip_share_of_peak * sample_peak
        and (top.runs >= limits.clip_runs or top.longest >= limits.clip_run_samples)
    ]


def dropout_findings(
    zero_runs: Sequence[ZeroRun],
    speech_s: NDArray[np.float64],
    sample_rate_hz: int,
    limits: HearingLimits,
) -> list[Finding]:
    """Tell where a moment of the voice is missing.

    Only holes in speech or beside it count: whole pauses of exact zeros are how a gate or an
    edit leaves a recording, and nothing of the reading is missing there.
    """
    found = []
    for run in zero_runs:
        start_s, end_s = run.start / sample_rate_hz, run.stop / sample_rate_hz
        if run.start == 0 or end_s - start_s > _DROPOUT_S_MAX:
            continue
        before = _covers(speech_s, start_s - _BESIDE_SPEECH_S, start_s)
        after = _covers(speech_s, end_s, end_s + _BESIDE_SPEECH_S)
        if not (before and after):
            continue
        found.append(
            Finding(
                kind="dropout",
                start_s=start_s,
                end_s=end_s,
                severity="hear",
                value=1000.0 * run.zeros / sample_rate_hz,
                limit=1000.0 * limits.dropout_s,
                unit="ms",
                advice="A moment of the sound is missing inside a word. If a syllable is lost, "
                "read this sentence again.",
            )
        )
    return found


def dead_air_findings(pauses_s: NDArray[np.float64], limits: HearingLimits) -> list[Finding]:
    """Tell where nobody speaks for too long; head and tail are no pauses."""
    return [
        Finding(
            kind="dead-air",
            start_s=float(start_s),
            end_s=float(end_s),
            severity="fix",
            value=float(end_s - start_s),
            limit=limits.dead_air_s,
            unit="s",
            advice="Nobody speaks for a while. The silence is shortened when the programme is "
            "finished.",
        )
        for start_s, end_s in pauses_s
        if end_s - start_s > limits.dead_air_s
    ]


def _covers(speech_s: NDArray[np.float64], start_s: float, end_s: float) -> bool:
    """Whether a stretch of speech reaches into the range."""
    return bool(((speech_s[:, 0] < end_s) & (speech_s[:, 1] > start_s)).any())
