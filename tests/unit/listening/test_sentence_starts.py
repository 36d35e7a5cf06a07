"""Sentence starts: places in silence, pauses where they were laid, silence and refusals."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.errors import AudioUnfit
from quietleaf.listening.sentence_model import LIKELY
from quietleaf.listening.sentence_starts import sentence_starts
from tests.voices import RATE_HZ, Made


def test_a_long_pause_begins_a_sentence_and_a_short_one_does_not() -> None:
    made = Made(seed=3)
    made.pause(0.9)
    laid = []
    for index in range(12):
        laid.append(made.speech(1.5))
        made.pause(0.8 if index % 2 else 0.2)
    found = sentence_starts(made.samples(), RATE_HZ)
    assert len(found) == len(laid)
    assert found[0].likelihood == 1.0
    assert found[0].pause_start == 0
    for index, ((start_s, _), one) in enumerate(zip(laid, found, strict=True)):
        assert one.pause_stop / RATE_HZ == pytest.approx(start_s, abs=0.03)
        assert one.pause_start <= one.place < one.pause_stop
        if index:
            assert one.pause_start / RATE_HZ == pytest.approx(laid[index - 1][1], abs=0.06)
            assert (one.likelihood >= LIKELY) == (index % 2 == 0)


def test_the_place_is_before_a_breath() -> None:
    made = Made(seed=4)
    made.pause(0.9)
    made.speech(2.0)
    made.pause(0.5)
    breath = made.noise(0.3, -45.0)
    made.pause(0.08)
    made.speech(2.0)
    made.pause(0.5)
    place_s = sentence_starts(made.samples(), RATE_HZ)[1].place / RATE_HZ
    assert breath[0] - 0.3 < place_s < breath[0] - 0.04


@pytest.mark.parametrize("sample_rate_hz", [8_000, 44_100])
@pytest.mark.parametrize("samples", [0, 1, 441, 100_000])
def test_silence_and_room_have_none(sample_rate_hz: int, samples: int) -> None:
    assert sentence_starts(np.zeros(samples), sample_rate_hz) == ()
    room = 1e-3 * np.random.default_rng(1).normal(size=samples)
    assert sentence_starts(room, sample_rate_hz) == ()


def test_what_cannot_be_heard_is_refused() -> None:
    with pytest.raises(AudioUnfit, match="at least 8000 samples a second"):
        sentence_starts(np.zeros(10), 7_999)
    for bad in (np.nan, np.inf, 1e200):
        with pytest.raises(AudioUnfit, match="Export the recording again"):
            sentence_starts(np.full(1_000, bad), 48_000)
