"""The verdict follows from limits, and says why in words."""

from __future__ import annotations

from typing import get_args

import pytest

from quietleaf.listening.findings import Finding, FindingKind, Severity
from quietleaf.listening.hearing import Level
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.verdict import noise_below_speech_db, verdict_of
from quietleaf.planning.programme import REVIEW_DEPTHS, ReviewDepth

LIMITS = HearingLimits()


def level(noise_floor_dbov: float | None = -62.0) -> Level:
    """Give the levels of a voice at -23."""
    return Level(active_speech_dbov=-23.0, noise_floor_dbov=noise_floor_dbov, dc=0.0)


def finding(
    kind: FindingKind, start_s: float = 125.0, length_s: float = 0.1, severity: Severity = "hear"
) -> Finding:
    """Give a finding."""
    return Finding(
        kind=kind,
        start_s=start_s,
        end_s=start_s + length_s,
        severity=severity,
        value=None,
        limit=None,
        unit="",
        advice="",
    )


def test_nothing_found_is_ready() -> None:
    verdict, reasons = verdict_of(level(), 3_000.0, 3_400.0, [], LIMITS)
    assert verdict == "ready"
    assert reasons == ("Nothing was found that needs hearing.",)


@pytest.mark.parametrize("noise_floor_dbov", [-62.0, None])
def test_notes_change_nothing(noise_floor_dbov: float | None) -> None:
    notes = [finding("dead-air", severity="note")]
    assert verdict_of(level(noise_floor_dbov), 3_000.0, 3_400.0, notes, LIMITS)[0] == "ready"


@pytest.mark.parametrize("severity", ["hear", "fix"])
@pytest.mark.parametrize("kind", get_args(FindingKind))
def test_every_kind_asks_for_an_ear_and_is_named(kind: FindingKind, severity: Severity) -> None:
    verdict, (reason,) = verdict_of(
        level(), 3_000.0, 3_400.0, [finding(kind, severity=severity)], LIMITS
    )
    assert verdict == "needs an ear"
    assert reason.startswith("1 ")
    assert reason.endswith("at 2:05.")


def test_several_are_counted_and_the_first_is_named() -> None:
    found = [finding("clip", 61.0), finding("clip", 90.0), finding("dropout", 300.0)]
    _, reasons = verdict_of(level(), 3_000.0, 3_400.0, found, LIMITS)
    assert reasons == (
        "2 places where the voice is cut off at its peaks, the first at 1:01.",
        "1 place where sound is missing or plays twice, at 5:00.",
    )


@pytest.mark.parametrize(
    ("noise_floor_dbov", "verdict"),
    [(-43.0, "ready"), (-42.9, "needs an ear"), (-33.0, "needs an ear"), (-32.9, "read again")],
)
def test_noise_under_speech(noise_floor_dbov: float, verdict: str) -> None:
    got, reasons = verdict_of(level(noise_floor_dbov), 3_000.0, 3_400.0, [], LIMITS)
    assert got == verdict
    assert len(reasons) == 1


@pytest.mark.parametrize(("clipped_s", "verdict"), [(10.0, "needs an ear"), (11.0, "read again")])
def test_a_tenth_of_the_speech_clipped(clipped_s: float, verdict: str) -> None:
    found = [finding("clip", 5.0, clipped_s)]
    assert verdict_of(level(), 100.0, 120.0, found, LIMITS)[0] == verdict


@pytest.mark.parametrize(
    ("count", "duration_s", "verdict"),
    [
        (1, 10.0, "needs an ear"),
        (2, 10.0, "read again"),
        (60, 3_600.0, "needs an ear"),
        (61, 3_600.0, "read again"),
    ],
)
def test_sound_missing_again_and_again(count: int, duration_s: float, verdict: str) -> None:
    found = [finding("dropout", 0.1 * place) for place in range(count)]
    assert verdict_of(level(), 0.9 * duration_s, duration_s, found, LIMITS)[0] == verdict


def test_no_speech_is_to_be_read_again() -> None:
    silent = Level(active_speech_dbov=None, noise_floor_dbov=None, dc=0.0)
    verdict, reasons = verdict_of(silent, 0.0, 60.0, [], LIMITS)
    assert verdict == "read again"
    assert reasons == ("No speech was found in this recording.",)
    assert noise_below_speech_db(silent) is None


@pytest.mark.trade
@pytest.mark.parametrize(
    ("found", "verdict"),
    [
        ([], "ready"),
        ([finding("rustle")], "ready"),
        ([finding("clip", length_s=0.9)], "ready"),
        ([finding("clip", length_s=1.0)], "needs an ear"),
        ([finding("restart", severity="fix")], "needs an ear"),
        ([finding("dead-air", severity="note")], "ready"),
        ([finding("dropout", 0.1 * place) for place in range(61)], "read again"),
    ],
)
def test_without_review_only_what_must_not_go_out_is_held(
    found: list[Finding], verdict: str
) -> None:
    """Common practice: dailies are not heard before they air; some faults stop any programme."""
    assert verdict_of(level(), 3_000.0, 3_400.0, found, LIMITS, "none")[0] == verdict


def test_without_review_what_was_found_is_told_all_the_same() -> None:
    found = [finding("rustle"), finding("clip", 300.0)]
    _, reasons = verdict_of(level(-42.0), 3_000.0, 3_400.0, found, LIMITS, "none")
    assert reasons == (
        "There is much noise behind the voice: 19 dB lie between them, 20 dB or more are wanted.",
        "1 noise of paper, at 2:05.",
        "1 place where the voice is cut off at its peaks, at 5:00.",
        "This programme goes out without review.",
    )
    held = [*found, finding("clip", 400.0, 2.0)]
    *_, last = verdict_of(level(), 3_000.0, 3_400.0, held, LIMITS, "none")[1]
    assert last == "This programme goes out without review, but not like this."


@pytest.mark.parametrize("found", [[], [finding("rustle")]])
def test_what_is_heard_whole_is_never_ready_by_itself(found: list[Finding]) -> None:
    verdict, reasons = verdict_of(level(), 3_000.0, 3_400.0, found, LIMITS, "whole")
    assert verdict == "needs an ear"
    assert reasons[0] == "This programme is heard whole before it goes out."
    assert len(reasons) == 1 + len(found)


@pytest.mark.parametrize("review", REVIEW_DEPTHS)
def test_what_is_to_be_read_again_is_so_at_every_depth(review: ReviewDepth) -> None:
    assert verdict_of(level(-30.0), 3_000.0, 3_400.0, [], LIMITS, review)[0] == "read again"
