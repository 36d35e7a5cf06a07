"""Joins of a master: a good one says nothing, a bad one is a thing to hear."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.listening.hearing import Hearing
from quietleaf.listening.listen import hear
from quietleaf.work.hear_joins import hear_joins
from tests.bad_joins import Kind, Reading, bad_join, in_a_booth
from tests.voices import RATE_HZ, Held, Made

FADE = 480


@pytest.fixture(scope="module")
def reading() -> Reading:
    draw = np.random.default_rng(3)
    made = Made(seed=13, room_dbov=-70.0)
    made.pause(1.0)
    for _ in range(28):
        made.speech(float(draw.uniform(1.5, 2.6)))
        made.pause(float(draw.uniform(0.4, 0.8)))
    found = in_a_booth(made.samples(), RATE_HZ, seed=4)
    assert found is not None
    return found


def heard_of(samples: np.ndarray) -> Hearing:
    return hear([samples[:, np.newaxis]], RATE_HZ, 1)


def with_bad_join(reading: Reading, kind: Kind, at: int) -> tuple[np.ndarray, int]:
    """Put a bad join into the whole reading; give where it lies."""
    pause = reading.pauses[at]
    middle = sum(pause) // 2
    bad = bad_join(reading, pause, kind, 1)
    reach = 13 * RATE_HZ
    samples = np.concatenate(
        [reading.samples[: middle - reach], bad.samples, reading.samples[middle + reach :]]
    )
    return samples, middle - reach + bad.splice


def test_a_master_without_joins_is_not_listened_to(reading: Reading) -> None:
    heard = heard_of(reading.samples)
    assert hear_joins(Held(reading.samples), (), heard, FADE) == ()


def test_pauses_that_nobody_made_say_nothing(reading: Reading) -> None:
    joins = [sum(reading.pauses[index]) // 2 for index in (3, 10, 20)]
    heard = heard_of(reading.samples)
    assert hear_joins(Held(reading.samples), joins, heard, FADE) == ()


@pytest.mark.parametrize(
    ("kind", "found"),
    [
        ("hard cut", ("click", "hear")),
        ("clipped consonant", ("click", "hear")),
        ("doubled breath", ("breath", "hear")),
        ("floor step", ("level-step", "hear")),
        ("pause long", ("dead-air", "note")),
    ],
)
def test_what_shows_is_a_thing_to_hear(
    reading: Reading, kind: Kind, found: tuple[str, str]
) -> None:
    samples, join = with_bad_join(reading, kind, 16)
    findings = hear_joins(Held(samples), (join,), heard_of(samples), FADE)
    assert found in {(finding.kind, finding.severity) for finding in findings}
    for finding in findings:
        assert finding.start_s < join / RATE_HZ < finding.end_s
        assert finding.advice.startswith("Two spans meet here.")
    kinds = [(finding.kind, finding.severity) for finding in findings]
    assert len(kinds) == len(set(kinds))
