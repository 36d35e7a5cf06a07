"""Findings among sounds: what is noted, what is to be read again, when a breath is loud."""

import pytest

from quietleaf.listening.findings import Finding
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.sound_findings import sound_findings
from quietleaf.listening.sound_rows import Noise, in_rows
from quietleaf.listening.under_words import joined_windows
from tests.unit.listening.sounds import SPEECH, Unit, known_sounds


def test_a_cough_in_a_pause_is_noted() -> None:
    (found,) = _findings(SPEECH, ("cough", 150, 190, -3.0), ("speech", 220, 300, 0.0))
    assert (found.kind, found.severity) == ("cough", "note")
    assert (found.start_s, found.end_s) == (1.5, 1.9)
    assert found.advice == "Cough in a pause; room tone can take its place."
    assert (found.value, found.unit) == (-3.0, "dB over the voice")


def test_paper_under_a_word_is_to_be_read_again() -> None:
    (found,) = _findings(SPEECH, ("rustle", 103, 140, -4.0), ("speech", 143, 300, 0.0))
    assert found.kind == "rustle"
    assert found.advice == "Paper noise under the word; read this sentence again."


def test_many_clicks_in_a_row_are_one() -> None:
    clicks = [_click(at) for at in range(100, 1_100, 200)]
    (row,) = in_rows(clicks)
    assert (row.start, row.stop, row.count) == (100, 903, 5)
    assert in_rows(clicks[:3]) == clicks[:3]
    apart = [_click(at) for at in range(100, 5_000, 450)]
    assert in_rows(apart) == apart


def test_a_breath_is_loud_against_this_readers_others() -> None:
    breaths: list[Unit] = [("breath", at, at + 30, -30.0) for at in range(0, 1_000, 100)]
    loud: Unit = ("breath", 1_000, 1_040, -12.0)
    (found,) = _findings(*breaths, loud)
    assert (found.kind, found.start_s, found.severity) == ("breath", 10.0, "note")
    assert (found.value, found.unit) == (18.0, "dB over the usual breath")
    assert found.limit == pytest.approx(-30.0 + 12.0 + 30.0)
    heavy: list[Unit] = [("breath", at, at + 30, -12.0) for at in range(0, 1_000, 100)]
    assert _findings(*heavy) == []


def test_nothing_gives_nothing() -> None:
    assert _findings() == []
    assert _findings(SPEECH) == []


def _click(at: int) -> Noise:
    return Noise(
        kind="click",
        start=at,
        stop=at + 3,
        likelihood=0.9,
        peak_db=-9.0,
        covers_words=False,
        sure=False,
    )


def _findings(*units: Unit) -> list[Finding]:
    return sound_findings(known_sounds(*units), joined_windows([]), [], HEARING_LIMITS)
