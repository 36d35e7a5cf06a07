"""Units put together: what touches, the same again, a tick between two; and what lies around."""

import numpy as np
import pytest

from quietleaf.listening.sound_events import (
    FAR_FRAMES,
    FEATURES,
    event_features,
    joined,
    sound_events,
    unit_groups,
)
from quietleaf.listening.sound_kind_names import KINDS, NOISE_KINDS
from tests.unit.listening.sounds import SPEECH, Unit, known_sounds


def test_what_touches_is_one_sound() -> None:
    sounds = known_sounds(SPEECH, ("cough", 150, 180, -3.0), ("rustle", 184, 190, -9.0))
    assert unit_groups(sounds) == [[1, 2]]


def test_the_same_within_a_third_of_a_second_is_one() -> None:
    near = known_sounds(("rustle", 10, 40, -8.0), ("rustle", 74, 90, -9.0))
    far = known_sounds(("rustle", 10, 40, -8.0), ("rustle", 80, 90, -9.0))
    assert unit_groups(near) == [[0, 1]]
    assert unit_groups(far) == [[0], [1]]


def test_a_tick_in_paper_is_paper_and_a_cough_is_not() -> None:
    first: Unit = ("rustle", 10, 40, -8.0)
    last: Unit = ("rustle", 70, 90, -8.0)
    assert unit_groups(known_sounds(first, ("click", 52, 56, -8.0), last)) == [[0, 1, 2]]
    assert len(unit_groups(known_sounds(first, ("cough", 48, 62, -8.0), last))) == 3


def test_features_tell_what_lies_around() -> None:
    sounds = known_sounds(
        SPEECH, ("cough", 130, 170, -3.0), ("speech", 175, 200, 0.0), ("click", 400, 403, -9.0)
    )
    features = event_features(sounds, unit_groups(sounds))
    assert features.shape == (2, FEATURES)
    assert features[:, -10:].tolist() == [
        [40.0, 1.0, -3.0, 30.0, 0.0, 30.0, 5.0, FAR_FRAMES, FAR_FRAMES, 40.0],
        [3.0, 1.0, -9.0, 30.0, 0.0, FAR_FRAMES, FAR_FRAMES, FAR_FRAMES, FAR_FRAMES, 3.0],
    ]


def test_a_sound_between_two_halves_of_a_word_covers_it() -> None:
    sounds = known_sounds(
        SPEECH,
        ("rustle", 102, 140, -8.0),
        ("speech", 143, 300, 0.0),
        ("rustle", 340, 360, -8.0),
        ("speech", 362, 400, 0.0),
    )
    assert sound_events(sounds).covers_words.tolist() == [True, False]


def test_sounds_of_chunks_are_joined() -> None:
    one = known_sounds(SPEECH)
    other = known_sounds(("click", 150, 153, -9.0))
    both = joined([one, other])
    assert both.start.tolist() == [0, 150]
    assert both.shares.shape == (2, len(KINDS))
    assert sound_events(joined([])).shares.shape == (0, len(NOISE_KINDS))


def test_what_is_surely_a_cough_is_told_as_one() -> None:
    events = sound_events(known_sounds(SPEECH, ("cough", 150, 190, -3.0)))
    assert NOISE_KINDS[int(events.shares[0].argmax())] == "cough"
    assert events.shares[0].sum() == pytest.approx(1.0, abs=1e-5)
    assert events.likelihood[0] > 0.9
    assert np.array_equal(events.start, [150])
