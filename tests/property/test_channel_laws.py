"""Laws of the choice of a channel: by blocks, by gain, by order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.listening.channel_levels import heard, start, step
from quietleaf.listening.channels import ChannelChoice, choose_channel
from tests.voices import reading

RATE_HZ = 16_000
VOICE = reading(seed=5, sentences=3).samples()[::3]
OTHER = reading(seed=6, sentences=4).samples()[::3][: len(VOICE)]
_DRAW = np.random.default_rng(9)
HISS = 1e-3 * _DRAW.standard_normal((len(VOICE), 2))
_FIRST = (np.arange(len(VOICE)) // (2 * RATE_HZ)) % 2 == 0
CASES = {
    "one side": np.column_stack([VOICE, HISS[:, 1]]),
    "crosstalk": np.column_stack([VOICE, 0.05 * VOICE + 0.1 * HISS[:, 1]]),
    "both": np.column_stack([VOICE, 0.8 * VOICE]),
    "turned": np.column_stack([VOICE, -VOICE]) + HISS,
    "pair": np.column_stack([VOICE, 0.95 * VOICE]) + 3.0 * HISS,
    "two places": np.column_stack([VOICE, np.roll(VOICE, 60)]) + HISS * [1, 10],
    "two readers": np.column_stack([VOICE * _FIRST, OTHER * ~_FIRST]) + HISS,
    "different": np.column_stack([VOICE, OTHER]),
    "many": np.column_stack([0.1 * VOICE, HISS[:, 0], VOICE, 0 * VOICE]) + HISS[:, [0, 1, 1, 0]],
}
cases = st.sampled_from(sorted(CASES))


def outcome(block: NDArray[np.float64]) -> ChannelChoice | str:
    try:
        return choose_channel([block], RATE_HZ)
    except AudioUnfit as refusal:
        return refusal.code


@pytest.mark.parametrize("name", CASES)
def test_each_case_is_what_it_is_called(name: str) -> None:
    codes = {"turned": "channels/cancel", "different": "channels/different"}
    kinds = {"crosstalk": "one side", "both": "same on both", "many": "one of many"}
    found = outcome(CASES[name])
    if name in codes:
        assert found == codes[name]
    else:
        assert isinstance(found, ChannelChoice)
        assert found.kind == kinds.get(name, name)


@settings(deadline=None, max_examples=25)
@given(cases, st.integers(-40, 20))
def test_a_gain_changes_nothing_but_the_peak(name: str, gain_db: int) -> None:
    before, after = outcome(CASES[name]), outcome(CASES[name] * 10 ** (gain_db / 20))
    if isinstance(before, str) or isinstance(after, str):
        assert before == after
    else:
        assert after.weights == before.weights
        assert after.sentence == before.sentence
        assert after.peak == pytest.approx(before.peak * 10 ** (gain_db / 20), rel=1e-9)


@settings(deadline=None, max_examples=25)
@given(cases, st.data())
def test_the_order_of_channels_changes_no_sample(name: str, data: st.DataObject) -> None:
    block = CASES[name]
    order = data.draw(st.permutations(range(block.shape[1])))
    before, after = outcome(block), outcome(block[:, order])
    if isinstance(before, str) or isinstance(after, str):
        assert before == after
    else:
        np.testing.assert_allclose(
            after.mono(block[:, order]), before.mono(block), rtol=0, atol=1e-15
        )
        assert after.kind == before.kind
        assert after.peak == pytest.approx(before.peak)


@settings(deadline=None, max_examples=25)
@given(cases, st.lists(st.integers(0, len(VOICE)), max_size=8))
def test_any_cutting_into_blocks_gives_the_same(name: str, cuts: list[int]) -> None:
    block = CASES[name]
    parts = np.split(block, sorted(cuts))
    whole = step(start(RATE_HZ, block.shape[1]), block)
    state = start(RATE_HZ, block.shape[1])
    for part in parts:
        state = step(state, part)
    assert (state.moves == whole.moves).all()
    assert (state.peaks == whole.peaks).all()
    assert state.sum_peak == whole.sum_peak
    np.testing.assert_allclose(heard(state).levels, heard(whole).levels, rtol=0, atol=1e-6)
