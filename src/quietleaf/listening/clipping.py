"""Clipping: places where the sound was louder than the way it was recorded could hold."""

from __future__ import annotations

from quietleaf.listening.findings import Finding
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.sample_runs import FlatTop


def clip_findings(
    flat_tops: list[FlatTop], sample_rate_hz: int, limits: HearingLimits
) -> list[Finding]:
    """Turn flat tops into findings.

    Parameters
    ----------
    flat_tops : list of FlatTop
        Groups of flat tops of all channels, in order of their start.

    Returns
    -------
    findings : list of Finding
        Kind ``clip``; value and limit are the longest flat top and the shortest that counts.

    Notes
    -----
    A flat top is at least three successive samples that differ by at most 1.5/32768, at the
    greatest magnitude within 20 ms, with a corner at each end: a round crest, of a low voice at a
    high rate or in coarse steps, has none. Two within 0.4 s, or one of eight samples, make
    a finding, wherever full scale is: a take, or a part of it, may have been turned down after it
    clipped. Ours.

    Examples
    --------
    >>> top = FlatTop(start=48_000, stop=48_040, runs=1, longest=40, value=0.9999)
    >>> [finding.start_s for finding in clip_findings([top], 48_000, HearingLimits())]
    [1.0]
    """
    findings: list[Finding] = []
    last_stop = -1
    for top in flat_tops:
        alone = top.runs == 1 and top.longest < limits.clip_alone_samples_min
        if alone:
            continue
        value = float(top.longest)
        start = top.start
        if findings and start <= last_stop:  # the same moment in another channel
            value = max(value, findings[-1].value or 0.0)
            start = round(findings[-1].start_s * sample_rate_hz)
            findings.pop()
        last_stop = max(last_stop, top.stop)
        findings.append(
            Finding(
                kind="clip",
                start_s=start / sample_rate_hz,
                end_s=last_stop / sample_rate_hz,
                severity="hear",
                value=value,
                limit=float(limits.clip_samples_min),
                unit="samples",
                advice="The voice was too loud for the recording and its peaks are cut off. "
                "Listen: if it crackles, read the sentence again with the input turned down.",
            )
        )
    return findings
