"""The colour of a voice between joins: matched where it differs for long, else left alone."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from quietleaf.finishing.assembly import dry_blocks
from quietleaf.finishing.colours import COLOUR_HZ, ColouredSound
from quietleaf.finishing.match_colour import plan_colours
from quietleaf.finishing.plan import Colour, Layout
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.finishing.structure import structure_of
from tests.unit.finishing.planned import layout_of, plan_of, survey_of
from tests.voices import RATE_HZ, Held, reading

SEEDS = (5, 6)


@functools.cache
def halves(seed: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return reading(seed, 22).samples(), reading(seed + 20, 22).samples()


def made(seed: int = 5) -> tuple[NDArray[np.float64], int]:
    """Make 44 sentences, and a place between two of them in the middle."""
    return np.concatenate(halves(seed)), halves(seed)[0].size


def shelved(samples: NDArray[np.float64], gain_db: float) -> NDArray[np.float64]:
    low = sosfilt(butter(1, 2_000.0, "low", fs=RATE_HZ, output="sos"), samples)
    raised: NDArray[np.float64] = low + (samples - low) * 10.0 ** (gain_db / 20.0)
    return raised


def proximate(samples: NDArray[np.float64], gain_db: float) -> NDArray[np.float64]:
    low = sosfilt(butter(1, 250.0, "low", fs=RATE_HZ, output="sos"), samples)
    nearer: NDArray[np.float64] = samples + low * (10.0 ** (gain_db / 20.0) - 1.0)
    return nearer


def colours_of(samples: NDArray[np.float64], *joins: int) -> tuple[Colour, ...]:
    structure = structure_of(survey_of(samples))
    assert structure is not None
    return plan_colours(structure, Held(samples), joins, (0, samples.size))


def colour_of_shelf() -> tuple[NDArray[np.float64], int, Colour]:
    samples, join = made()
    samples[join:] = shelved(samples[join:], 5.0)
    (colour,) = colours_of(samples, join)
    return samples, join, colour


@pytest.mark.parametrize("seed", SEEDS)
def test_a_voice_that_did_not_move_is_left_alone(seed: int) -> None:
    samples, join = made(seed)
    assert colours_of(samples, join) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_moved_voice_comes_near_to_the_rest(seed: int) -> None:
    for moved, gain_db in ((shelved, 6.0), (proximate, 9.0)):
        samples, join = made(seed)
        samples[join:] = moved(samples[join:], gain_db)
        (colour,) = colours_of(samples, join)
        assert max(colour.bands_db) - min(colour.bands_db) <= 8.0
        matched = ColouredSound(Held(samples), [colour], 480).read(0, samples.size)[:, 0]
        # Nothing is left that would be matched.
        assert colours_of(matched, join) == ()


def test_less_than_half_a_minute_says_nothing() -> None:
    samples, _ = made()
    join = 15 * RATE_HZ
    samples[:join] = shelved(samples[:join], 6.0)
    assert colours_of(samples, join) == ()


def test_another_voice_keeps_its_colour() -> None:
    samples, join = made()
    samples[join:] = shelved(samples[join:], 30.0)
    assert colours_of(samples, join) == ()


def test_outside_of_a_colour_not_a_bit_changes() -> None:
    samples, _, colour = colour_of_shelf()
    heard = ColouredSound(Held(samples), [colour], 480).read(0, samples.size)[:, 0]
    changed = np.flatnonzero(heard != samples)
    whole = (colour.start - 240 * (colour.start > 0), colour.stop + 240)
    assert whole[0] <= changed[0]
    assert changed[-1] < whole[1]


def test_a_colour_is_the_same_however_it_is_read() -> None:
    samples, join, colour = colour_of_shelf()
    sound = ColouredSound(Held(samples), [colour], 480)
    first, stop = join - 2_000, join + 9_000
    parts = [sound.read(*part) for part in ((first, join + 7), (join + 7, stop))]
    np.testing.assert_allclose(np.concatenate(parts), sound.read(first, stop), atol=1e-12)


def test_a_plan_with_a_colour_is_read_back_and_rendered() -> None:
    samples, _, colour = colour_of_shelf()
    assert len(colour.bands_db) == len(COLOUR_HZ)
    layout = layout_of(samples)
    plan = replace(plan_of(samples), layout=replace(layout, colours=(colour,)))
    assert plan_of_text(plan_to_text(plan)) == plan

    def rendered(of: Layout) -> NDArray[np.float64]:
        return np.concatenate(list(dry_blocks(of, Held(samples))))

    once = rendered(plan.layout)
    assert np.array_equal(once, rendered(plan.layout))
    assert not np.array_equal(once, rendered(layout))
