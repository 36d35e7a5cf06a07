"""Dropouts: moments where samples are missing, with zeros, a repeat or nothing in their place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.repeats import SHORTEST, Repeat
from quietleaf.listening.sample_runs import ZeroRun
from quietleaf.listening.splices import UNLIKE_MIN, Splice

_LONG_S = 0.1
_GATED_SHARE = 0.25
_GATED_MIN = 4
_BESIDE_S = 0.02


def dropout_findings(
    zero_runs: list[ZeroRun],
    pauses_s: NDArray[np.float64],
    samples: int,
    sample_rate_hz: int,
    limits: HearingLimits,
) -> list[Finding]:
    """Turn stretches of zeros into findings.

    Parameters
    ----------
    zero_runs : list of ZeroRun
    pauses_s : ndarray, shape (j, 2), seconds
        Pauses between stretches of speech.
    samples : int
        Length of the recording.

    Returns
    -------
    findings : list of Finding
        Kind ``dropout``; value and limit are milliseconds of zeros.

    Notes
    -----
    A microphone never gives exact zeros for 3 ms unless its room is so quiet that it rounds to
    them; so only zeros with sound directly on both sides count, and none at the beginning and the
    end, where somebody added silence. Where zeros of 0.1 s and more are as common as one in four
    pauses, the recording was gated or put together from pieces: zeros in pauses and long ones are
    then how it was made, and would be a finding each. Ours.

    Examples
    --------
    >>> run = ZeroRun(start=96_000, stop=97_200, zeros=1_200)
    >>> found = dropout_findings([run], np.empty((0, 2)), 480_000, 48_000, HearingLimits())
    >>> [(finding.start_s, finding.value) for finding in found]
    [(2.0, 25.0)]
    """
    inside = [run for run in zero_runs if run.start > 0 and run.stop < samples]
    centres = np.array([0.5 * (run.start + run.stop) / sample_rate_hz for run in inside])
    in_pause = _in_ranges(centres, pauses_s)
    long = np.array([run.zeros >= _LONG_S * sample_rate_hz for run in inside], dtype=np.bool_)
    places = len(pauses_s) + int(np.count_nonzero(long & ~in_pause))
    gated = np.count_nonzero(long) >= max(_GATED_MIN, _GATED_SHARE * places)
    return [
        _finding(run, sample_rate_hz, limits)
        for run, made in zip(inside, (in_pause | long) & gated, strict=True)
        if not made
    ]


def block_findings(
    repeats: list[Repeat], splices: list[Splice], others: list[Finding], sample_rate_hz: int
) -> list[Finding]:
    """Turn blocks that play twice, and places where samples are missing, into findings.

    Parameters
    ----------
    others : list of Finding
        The edges of zeros, of repeats and of clipping are splices as well, and no more findings.

    Returns
    -------
    findings : list of Finding
        Kind ``dropout``. Of a repeat, value and limit are milliseconds; of a splice, how unlike
        what either side leads to it is, in times of the greatest error there.

    Examples
    --------
    >>> repeat = Repeat(start=48_000, stop=48_512, block=512)
    >>> edge = Splice(place=48_000, unlike=20.0)
    >>> found = block_findings([repeat], [edge], [], 48_000)
    >>> [(finding.start_s, round(finding.value, 1), finding.unit) for finding in found]
    [(1.0, 10.7, 'ms')]
    """
    rate = sample_rate_hz
    found = [
        Finding(
            kind="dropout",
            start_s=repeat.start / rate,
            end_s=repeat.stop / rate,
            severity="hear",
            value=1000.0 * repeat.block / rate,
            limit=1000.0 * SHORTEST / rate,
            unit="ms",
            advice="A moment of sound plays twice here: the computer had nothing new to give. "
            "Listen: if a word is damaged, read the sentence again.",
        )
        for repeat in repeats
    ]
    edges = [
        (other.start_s - _BESIDE_S, other.end_s + _BESIDE_S)
        for other in (*others, *found)
        if other.kind in ("dropout", "clip")
    ]
    for splice in splices:
        place_s = splice.place / rate
        if any(start <= place_s <= stop for start, stop in edges):
            continue
        edges.append((place_s - _BESIDE_S, place_s + _BESIDE_S))
        found.append(
            Finding(
                kind="dropout",
                start_s=place_s,
                end_s=place_s + 1.0 / rate,
                severity="hear",
                value=splice.unlike,
                limit=UNLIKE_MIN,
                unit="times what is around it",
                advice="A moment of sound is missing here, and what is left was put together. "
                "Listen: if a word is damaged, read the sentence again.",
            )
        )
    return found


def _finding(run: ZeroRun, rate: int, limits: HearingLimits) -> Finding:
    return Finding(
        kind="dropout",
        start_s=run.start / rate,
        end_s=run.stop / rate,
        severity="hear",
        value=1000.0 * run.zeros / rate,
        limit=1000.0 * limits.dropout_s_min,
        unit="ms",
        advice="Sound is missing here. Listen: if a word is damaged, read the sentence again; "
        "if there are several, check the cable and what else the computer is doing.",
    )


def _in_ranges(places: NDArray[np.float64], ranges: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell for each place whether one of the ranges holds it."""
    if len(ranges) == 0 or places.size == 0:
        return np.zeros(places.size, dtype=np.bool_)
    index = np.searchsorted(ranges[:, 0], places, side="right") - 1
    held: NDArray[np.bool_] = (index >= 0) & (places < ranges[np.maximum(index, 0), 1])
    return held
