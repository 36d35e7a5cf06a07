"""Loudness over time as a picture, worked out by hand."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.delivery.report_picture import (
    PAPER_HEIGHT,
    WIDTH,
    picture_of_curve,
    stretch_levels_lufs,
)
from quietleaf.listening.findings import Finding, Severity
from quietleaf.listening.hearing import Curve


def curve(*levels_lufs: float, hops: int = 30) -> Curve:
    """Stretches of 3 s at these levels."""
    power: NDArray[np.float64] = 10.0 ** ((np.array(levels_lufs) + 0.691) / 10.0)
    return Curve(power=np.repeat(power, hops))


def finding(start_s: float, end_s: float, severity: Severity = "hear") -> Finding:
    """A thing to hear."""
    return Finding(
        kind="click",
        start_s=start_s,
        end_s=end_s,
        severity=severity,
        value=None,
        limit=None,
        unit="",
        advice="",
    )


def test_levels_of_stretches() -> None:
    # Half a stretch at -20 LUFS and half silent is 3.01 dB less.
    power = np.concatenate([curve(-20.0).power, curve(-20.0, hops=15).power, np.zeros(15)])
    levels = stretch_levels_lufs(Curve(power=power), 3.0)
    np.testing.assert_allclose(levels, [-20.0, -23.0103], atol=1e-4)


def test_silence_has_no_level() -> None:
    assert stretch_levels_lufs(Curve(power=np.zeros(30)), 3.0).tolist() == [-np.inf]
    assert stretch_levels_lufs(Curve(power=np.zeros(0)), 3.0).size == 0


def test_line_by_hand() -> None:
    # Paper of 30 LU is 300 high: -23 lies 9 LU below the top, at 90; -29 at 150. Two stretches
    # of 500 each, points in their middles, the line drawn to the edges.
    picture = picture_of_curve(curve(-23.0, -29.0), -23.0)
    assert picture.line == "M0.0 90.0L250.0 90.0L750.0 150.0L1000.0 150.0"
    assert (picture.band_top, picture.band_height) == pytest.approx((60.0, 60.0))
    assert [(rule.label, rule.percent) for rule in picture.levels] == [
        ("−17", 9.38),
        ("−23", 28.12),
        ("−29", 46.88),
        ("−35", 65.62),
        ("−41", 84.38),
    ]
    assert [rule.is_target for rule in picture.levels] == [False, True, False, False, False]


def test_line_breaks_in_silence_and_stops_at_the_top() -> None:
    silent = Curve(
        power=np.concatenate([curve(-23.0).power, np.zeros(30), curve(0.0, -50.0, -23.0).power])
    )
    picture = picture_of_curve(silent, -23.0)
    assert picture.line == (
        "M0.0 90.0L100.0 90.0L200.0 90.0"
        "M400.0 0.0L500.0 0.0L600.0 0.0"
        "M800.0 90.0L900.0 90.0L1000.0 90.0"
    )
    assert picture.sentence.endswith("The line breaks where there is silence.")


def test_nothing_at_all() -> None:
    picture = picture_of_curve(Curve(power=np.zeros(0)), -23.0, (finding(0.0, 0.1),))
    assert picture.line == ""
    assert picture.sentence == "Nothing is loud enough to show."
    assert picture.times == ()


def test_sentence() -> None:
    levels = [-23.0] * 9 + [-27.0]
    assert picture_of_curve(curve(*levels), -23.0).sentence == (
        "Loudness of every 3 seconds. Nine tenths of it lie between −25.2 and −23.0 LUFS; 90 % lie "
        "in the shaded band, 3 LU either side of −23.0 LUFS."
    )


@pytest.mark.parametrize("duration_s", [0.1, 3.0, 29.0, 300.0, 3480.0, 36_000.0, 90_000.0])
def test_any_length_stays_on_the_paper(duration_s: float) -> None:
    power = np.random.default_rng(11).uniform(1e-6, 1e-1, round(duration_s * 10))
    picture = picture_of_curve(Curve(power=power), -23.0, (finding(duration_s - 0.1, duration_s),))
    points = [(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", picture.line)]
    assert 3 <= len(points) <= 364
    assert all(0 <= x <= WIDTH and 0 <= y <= PAPER_HEIGHT for x, y in points)
    assert [x for x, _ in points] == sorted(x for x, _ in points)
    assert points[-1][0] == WIDTH
    assert 1 <= len(picture.times) <= 5
    assert all(0 <= time.percent < 95 for time in picture.times)
    assert all(0 <= mark.start < mark.stop <= WIDTH for mark in picture.marks)


def test_marks_lie_under_their_place_and_notes_have_none() -> None:
    things = (finding(15.0, 30.0, "fix"), finding(45.0, 45.1), finding(50.0, 50.1, "note"))
    marks = picture_of_curve(curve(*[-23.0] * 20), -23.0, things).marks
    assert [(mark.severity, mark.start, mark.stop) for mark in marks] == [
        ("fix", 250.0, 500.0),
        # 0.1 s is 1.7 of 1000: widened to 12, about its middle.
        ("hear", 744.8, 756.8),
    ]


def test_a_target_that_is_not_whole_is_shown_with_a_decimal() -> None:
    assert picture_of_curve(curve(-16.5), -16.5).levels[1].label == "−16.5"
