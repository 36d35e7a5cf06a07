"""How a recording is cut into blocks cannot be heard."""

from __future__ import annotations

import dataclasses
import functools
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from quietleaf.listening import listen
from quietleaf.listening.hearing import Hearing
from tests.signals import speech_like

LENGTH_S = 7.3
RATES_HZ = (11_025, 22_050, 44_100, 48_000)


@functools.cache
def sound(sample_rate_hz: int, channels: int) -> NDArray[np.float64]:
    """Make something with all that a hearing finds: speech, clipping, lost sound, a long pause."""
    voice = speech_like(5, LENGTH_S, sample_rate_hz)
    second = sample_rate_hz
    voice[: second // 2] = 0.0
    voice[round(0.8 * second) : round(1.2 * second)] *= 20.0
    voice = np.clip(voice, -0.4, 0.4) + 1e-4
    voice[2 * second + 77 : round(2.02 * second) + 77] = 0.0
    voice[round(4.2 * second) : round(5.6 * second)] *= 0.001
    return np.column_stack([voice, 0.7 * voice])[:, :channels]


@functools.cache
def at_once(sample_rate_hz: int, channels: int) -> Hearing:
    """Hear it as one block."""
    return listen.hear([sound(sample_rate_hz, channels)], sample_rate_hz, channels)


@given(
    sample_rate_hz=st.sampled_from(RATES_HZ),
    channels=st.sampled_from((1, 2)),
    cuts=st.lists(st.floats(0.0, 1.0), max_size=30),
)
def test_any_cutting_gives_the_same(sample_rate_hz: int, channels: int, cuts: list[float]) -> None:
    whole = sound(sample_rate_hz, channels)
    places = sorted({0, whole.shape[0], *(int(cut * whole.shape[0]) for cut in cuts)})
    blocks = [whole[start:stop] for start, stop in pairwise(places)]
    same(listen.hear(blocks, sample_rate_hz, channels), at_once(sample_rate_hz, channels))


@pytest.mark.parametrize("sample_rate_hz", RATES_HZ)
def test_tiny_blocks_give_the_same(sample_rate_hz: int) -> None:
    whole = sound(sample_rate_hz, 1)
    draw = np.random.default_rng(3)
    places = [0, 0, *np.cumsum(draw.integers(0, 300, size=10 * whole.shape[0] // 300))]
    places = [place for place in places if place < whole.shape[0]] + [whole.shape[0]]
    blocks = [whole[start:stop] for start, stop in pairwise(places)]
    same(listen.hear(blocks, sample_rate_hz, 1), at_once(sample_rate_hz, 1))


@given(place=st.floats(0.0, 1.0))
def test_a_look_on_the_way_changes_nothing(place: float) -> None:
    whole = sound(44_100, 1)
    cut = int(place * whole.shape[0])
    state = listen.start(44_100, 1)
    listen.step(state, whole[:cut])
    before = listen.result(state)
    same(listen.result(state), before)
    listen.step(state, whole[cut:])
    same(listen.result(state), at_once(44_100, 1))


def test_the_sound_has_what_is_looked_for() -> None:
    for sample_rate_hz in RATES_HZ:
        kinds = {finding.kind for finding in at_once(sample_rate_hz, 1).findings}
        assert {"clip", "dropout"} <= kinds


def same(ours: Hearing, theirs: Hearing) -> None:
    """Compare every field: figures to rounding, the rest exactly."""
    for field in ("loudness", "peak", "level"):
        got = dataclasses.asdict(getattr(ours, field))
        assert got == pytest.approx(dataclasses.asdict(getattr(theirs, field)), abs=1e-9), field
    for field in ("duration_s", "sample_rate_hz", "channels", "findings", "verdict", "reasons"):
        assert getattr(ours, field) == getattr(theirs, field), field
    for field in ("speech_s", "pauses_s"):
        np.testing.assert_array_equal(getattr(ours, field), getattr(theirs, field))
    np.testing.assert_allclose(ours.curve.power, theirs.curve.power, rtol=1e-9)
    np.testing.assert_array_equal(ours.track.steps, theirs.track.steps)
    np.testing.assert_array_equal(ours.track.speech_frames, theirs.track.speech_frames)
