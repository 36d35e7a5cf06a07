"""Loudness over time as a picture: one line over ruled paper, and its text twin."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.report_words import number
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import CURVE_HOP_S, LOUDNESS_OFFSET_DB, Curve
from quietleaf.units import clock

WIDTH = 1000
HEIGHT = 320
PAPER_HEIGHT = 300
MARKS_AT = 312
"""What is to be heard is marked below the paper."""

BAND_LU = 3.0
"""Either side of the target; our choice, a help to the eye and not a limit."""
RULES_LU = (6.0, 0.0, -6.0, -12.0, -18.0)
_TOP_LU = 9.0
_BOTTOM_LU = -21.0

_STRETCHES_S = (3, 5, 6, 10, 15, 20, 30, 60, 120, 300)
_POINTS_MOST = 360
_TIMES_S = (10, 20, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600, 7200, 14_400)
_TIMES_MOST = 4
_MARK_WIDTH = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A ruled line, or a time below the paper, and where it lies in percent."""

    label: str
    percent: float
    is_target: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A thing to hear, under its place."""

    severity: str
    start: float
    stop: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What is drawn, in units of ``WIDTH`` by ``HEIGHT``, and what is said of it.

    Attributes
    ----------
    line : str
        A path; it breaks where there is silence or less than the paper shows.
    band_top, band_height : float
        Where the band around the target lies.
    """

    line: str
    band_top: float
    band_height: float
    levels: tuple[Rule, ...]
    times: tuple[Rule, ...]
    marks: tuple[Mark, ...]
    stretch_s: int
    sentence: str


def picture_of_curve(
    curve: Curve, target_lufs: float, findings: tuple[Finding, ...] = ()
) -> Picture:
    """Draw a curve.

    Parameters
    ----------
    curve : Curve
        One power each 100 ms.
    target_lufs : float
        Where the band lies; the paper goes from 21 LU below it to 9 above.
    findings : tuple of Finding
        What is marked under the line.
    """
    duration_s = curve.power.size * CURVE_HOP_S
    stretch_s = next(
        (stretch for stretch in _STRETCHES_S if duration_s / stretch <= _POINTS_MOST),
        _STRETCHES_S[-1],
    )
    levels = stretch_levels_lufs(curve, float(stretch_s))
    return Picture(
        line=_path(levels - target_lufs, stretch_s / duration_s if duration_s else 0.0),
        band_top=_height(BAND_LU),
        band_height=_height(-BAND_LU) - _height(BAND_LU),
        levels=tuple(
            Rule(
                label=number(target_lufs + rule_lu, 0 if target_lufs.is_integer() else 1),
                percent=_percent(_height(rule_lu) / HEIGHT),
                is_target=rule_lu == 0.0,
            )
            for rule_lu in RULES_LU
        ),
        times=_times(duration_s),
        marks=tuple(
            _mark(finding, duration_s) for finding in findings if finding.severity != "note"
        ),
        stretch_s=stretch_s,
        sentence=_sentence(levels, stretch_s, target_lufs),
    )


def stretch_levels_lufs(curve: Curve, stretch_s: float) -> NDArray[np.float64]:
    """Measure the loudness of successive stretches, ungated.

    Parameters
    ----------
    curve : Curve
    stretch_s : float
        A whole number of 100 ms; the last stretch may be shorter.

    Returns
    -------
    levels : ndarray, shape (k,), LUFS
        -inf for silence.

    Notes
    -----
    ITU-R BS.1770-5, Annex 1, equation 2, over each stretch.

    Examples
    --------
    >>> stretch_levels_lufs(Curve(power=np.full(40, 0.01)), 3.0).round(2)
    array([-20.69, -20.69])
    """
    hops = round(stretch_s / CURVE_HOP_S)
    if not curve.power.size:
        return np.zeros(0)
    starts = np.arange(0, curve.power.size, hops)
    counts = np.diff(np.append(starts, curve.power.size))
    means = np.add.reduceat(curve.power, starts) / counts
    with np.errstate(divide="ignore"):
        return LOUDNESS_OFFSET_DB + 10.0 * np.log10(means)


def _path(levels_lu: NDArray[np.float64], share: float) -> str:
    """Draw each run of points on the paper from the edge of its first stretch to its last's."""
    parts: list[str] = []
    shown = [*(levels_lu >= _BOTTOM_LU).tolist(), False]
    for place, level_lu in enumerate(levels_lu.tolist()):
        if not shown[place]:
            continue
        height = f"{_height(min(level_lu, _TOP_LU)):.1f}"
        left, right = (min(edge * share, 1.0) * WIDTH for edge in (place, place + 1))
        if place == 0 or not shown[place - 1]:
            parts.append(f"M{left:.1f} {height}")
        parts.append(f"L{(left + right) / 2:.1f} {height}")
        if not shown[place + 1]:
            parts.append(f"L{right:.1f} {height}")
    return "".join(parts)


def _height(level_lu: float) -> float:
    return PAPER_HEIGHT * (_TOP_LU - level_lu) / (_TOP_LU - _BOTTOM_LU)


def _percent(share: float) -> float:
    return round(100 * share, 2)


def _times(duration_s: float) -> tuple[Rule, ...]:
    step_s = next(
        (step for step in _TIMES_S if duration_s / step <= _TIMES_MOST), math.ceil(duration_s)
    )
    # A label near the right edge would be cut off.
    return tuple(
        Rule(label=clock(time_s), percent=_percent(time_s / duration_s))
        for time_s in range(0, math.ceil(0.94 * duration_s), step_s)
    )


def _mark(finding: Finding, duration_s: float) -> Mark:
    start, stop = (
        WIDTH * min(time_s / duration_s if duration_s else 0.0, 1.0)
        for time_s in (finding.start_s, finding.end_s)
    )
    short = max(0.0, _MARK_WIDTH - (stop - start))
    start = min(max(0.0, start - short / 2), WIDTH - _MARK_WIDTH)
    return Mark(
        severity=finding.severity,
        start=round(start, 1),
        stop=round(max(stop, start + _MARK_WIDTH), 1),
    )


def _sentence(levels: NDArray[np.float64], stretch_s: int, target_lufs: float) -> str:
    heard = levels[levels - target_lufs >= _BOTTOM_LU]
    if not heard.size:
        return "Nothing is loud enough to show."
    low, high = np.percentile(heard, (5, 95))
    inside = round(100 * float(np.mean(np.abs(heard - target_lufs) <= BAND_LU)))
    told = (
        f"Loudness of every {stretch_s} seconds. Nine tenths of it lie between {number(low)} and "
        f"{number(high)} LUFS; {inside} % lie in the shaded band, {BAND_LU:.0f} LU either side of "
        f"{number(target_lufs)} LUFS."
    )
    return told if heard.size == levels.size else f"{told} The line breaks where there is silence."
