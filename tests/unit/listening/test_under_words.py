"""Noises under words: told where they were laid, and nowhere in a clean reading."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.listen import hear
from quietleaf.listening.sound_kind_names import NOISE_KINDS
from quietleaf.listening.under_events import noises_under_words
from quietleaf.listening.under_words import DisturbedWindows
from tests.voices import RATE_HZ, reading


def noises(sound: NDArray[np.float64]) -> list[Finding]:
    """Give what is told of noises."""
    findings = hear([sound[:, np.newaxis]], RATE_HZ, 1).findings
    return [found for found in findings if found.kind in NOISE_KINDS]


@cache
def words() -> NDArray[np.float64]:
    """Read ten sentences."""
    return reading(sentences=10).samples()


def test_nothing_lies_under_the_words_of_a_clean_reading() -> None:
    assert not noises(words())


def test_a_crackling_noise_over_words_is_told() -> None:
    sound = words().copy()
    loud = np.flatnonzero(np.abs(sound) > 0.5 * np.abs(sound).max())
    start = int(loud[np.searchsorted(loud, 8 * RATE_HZ)])
    draw = np.random.default_rng(3)
    crackle = draw.normal(size=round(0.5 * RATE_HZ)) * (draw.random(round(0.5 * RATE_HZ)) < 0.02)
    sound[start : start + crackle.size] += 0.6 * crackle
    told = noises(sound)
    assert any(abs(found.start_s - start / RATE_HZ) < 0.4 for found in told)


def test_windows_near_each_other_are_one_noise_with_its_likeliest_name() -> None:
    windows = windows_of([(100, 0.95, 1), (108, 0.97, 1), (120, 0.96, 2), (400, 0.96, 0)])
    (noise,) = noises_under_words(windows, 6000, HEARING_LIMITS)
    assert (noise.kind, noise.covers_words) == ("cough", True)
    assert (noise.start, noise.stop) == (104, 132)
    assert not noise.sure


def test_one_window_alone_must_be_likelier_than_two() -> None:
    windows = windows_of([(100, 0.85, 2), (800, 0.85, 2), (808, 0.85, 2)])
    (noise,) = noises_under_words(windows, 6000, HEARING_LIMITS)
    assert noise.start == 804


def test_a_voice_that_sounds_disturbed_all_over_is_asked_for_more() -> None:
    windows = windows_of([(1000 * index, 0.93, 2) for index in range(5)] + [(5500, 0.99, 3)])
    (noise,) = noises_under_words(windows, 6000, HEARING_LIMITS)
    assert (noise.kind, noise.start, noise.sure) == ("click", 5504, True)
    assert len(noises_under_words(windows, 60_000, HEARING_LIMITS)) == 6


def windows_of(rows: list[tuple[int, float, int]]) -> DisturbedWindows:
    """Make windows from their start, likelihood and kind."""
    return DisturbedWindows(
        start=np.array([start for start, _, _ in rows], dtype=np.int64),
        likelihood=np.array([likelihood for _, likelihood, _ in rows], dtype=np.float32),
        shares=np.eye(len(NOISE_KINDS), dtype=np.float32)[[kind for _, _, kind in rows]],
        over_top_db=np.zeros(len(rows), dtype=np.float32),
    )
