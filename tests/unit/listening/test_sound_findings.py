"""Findings among sounds: what becomes one, what covers words, when a breath is loud."""

import numpy as np
import pytest

from quietleaf.listening.findings import Finding
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.sound_findings import sound_events, sound_findings
from quietleaf.listening.sound_kind_names import KINDS
from quietleaf.listening.sound_kinds import KnownSounds

Unit = tuple[str, int, int, float]
SPEECH: Unit = ("speech", 0, 100, 0.0)


def test_a_cough_in_a_pause_is_noted() -> None:
    (found,) = _findings(SPEECH, ("cough", 150, 190, -3.0), ("speech", 220, 300, 0.0))
    assert (found.kind, found.severity) == ("cough", "note")
    assert (found.start_s, found.end_s) == (1.5, 1.9)
    assert found.advice == "Cough in a pause; room tone will take its place."


def test_paper_between_two_halves_of_a_word_is_under_it() -> None:
    (found,) = _findings(SPEECH, ("rustle", 102, 140, -8.0), ("speech", 143, 300, 0.0))
    assert (found.kind, found.severity) == ("rustle", "fix")
    assert found.advice == "Paper noise under the word; read this sentence again."
    (found,) = _findings(SPEECH, ("rustle", 102, 140, -8.0), ("speech", 160, 300, 0.0))
    assert found.severity == "note"


def test_the_same_within_a_third_of_a_second_is_one() -> None:
    near = _findings(("rustle", 10, 40, -8.0), ("rustle", 74, 90, -9.0))
    far = _findings(("rustle", 10, 40, -8.0), ("rustle", 80, 90, -9.0))
    assert [(found.start_s, found.end_s) for found in near] == [(0.1, 0.9)]
    assert len(far) == 2


def test_many_clicks_in_a_row_are_one_to_be_heard() -> None:
    clicks: list[Unit] = [("click", at, at + 3, -10.0) for at in range(100, 1_100, 200)]
    (found,) = _findings(*clicks)
    assert found.severity == "hear"
    assert found.advice.startswith("Click, 5 times")
    assert [one.severity for one in _findings(*clicks[:3])] == ["note"] * 3


def test_what_may_be_many_things_is_a_noise() -> None:
    sounds = _sounds(("rustle", 10, 40, -8.0))
    shares = {"cough": 0.3, "rustle": 0.35, "click": 0.3, "speech": 0.05}
    sounds.shares[0] = [shares.get(kind, 0.0) for kind in KINDS]
    assert [event.kind for event in sound_events(sounds)] == ["noise"]


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


def _findings(*units: Unit) -> list[Finding]:
    return sound_findings(_sounds(*units), HEARING_LIMITS)


def _sounds(*units: Unit) -> KnownSounds:
    shares = np.zeros((len(units), len(KINDS)), dtype=np.float32)
    for index, (kind, *_) in enumerate(units):
        shares[index, KINDS.index(kind)] = 0.97
        shares[index] += np.float32(0.03 / len(KINDS))
    return KnownSounds(
        start=np.array([start for _, start, _, _ in units], dtype=np.int64),
        stop=np.array([stop for _, _, stop, _ in units], dtype=np.int64),
        shares=shares,
        over_top_db=np.array([peak for *_, peak in units], dtype=np.float32),
        over_floor_db=np.full(len(units), 30.0, dtype=np.float32),
    )
