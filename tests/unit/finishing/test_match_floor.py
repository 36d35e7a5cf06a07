"""Rooms on both sides of a join: filled where they differ, left alone where they agree."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import soxr
from numpy.typing import NDArray
from scipy.signal import welch

from quietleaf.finishing.assembly import dry_blocks, master_place
from quietleaf.finishing.fills import LaidFill, fill_range
from quietleaf.finishing.layout import Ends, plan_layout
from quietleaf.finishing.match_rooms import EvenedRooms
from quietleaf.finishing.plan import Layout
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.finishing.structure import structure_of
from quietleaf.listening.join_check import CONTEXT_S
from quietleaf.listening.join_room import side_step
from quietleaf.listening.structure import FRAMES_PER_S, structure_of_sound
from tests.bad_joins import in_a_booth
from tests.unit.finishing.planned import plan_of, survey_of
from tests.voices import RATE_HZ, Held, Made

ENDS = Ends(head_s=0.5, tail_s=0.5)


def reading(seed: int = 5) -> tuple[NDArray[np.float64], list[int]]:
    """Make thirty sentences in a booth, and three places where spans meet."""
    draw = np.random.default_rng(seed)
    made = Made(seed=seed, room_dbov=-75.0)
    made.pause(1.0)
    for _ in range(30):
        made.speech(float(draw.uniform(1.5, 2.5)))
        made.pause(float(draw.uniform(0.4, 0.8)))
    found = in_a_booth(made.samples(), RATE_HZ, seed)
    assert found is not None
    return found.samples, [sum(found.pauses[index]) // 2 for index in (8, 11, 20)]


def room(samples: int, seed: int, level_dbov: float) -> NDArray[np.float64]:
    noise = np.random.default_rng(seed).normal(size=samples)
    scaled: NDArray[np.float64] = noise * 10 ** (level_dbov / 20)
    return scaled


def rms(samples: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(samples**2)))


def layout_with(samples: NDArray[np.float64], joins: list[int]) -> Layout:
    return plan_layout(survey_of(samples), Held(samples), ENDS, (), (), 4.0, tuple(joins))


def steps_db(samples: NDArray[np.float64], layout: Layout, joins: list[int]) -> list[float]:
    """Render, and measure the room's step at each join."""
    master = np.concatenate(list(dry_blocks(layout, Held(samples))))
    places = [master_place(layout, join) for join in joins]
    bounds = [0, *places, master.size]
    steps = []
    for index, place in enumerate(places):
        reach = round(CONTEXT_S * RATE_HZ)
        first, stop = max(bounds[index], place - reach), min(bounds[index + 2], place + reach)
        part = master[first:stop]
        structure = structure_of_sound(part, RATE_HZ)
        assert structure is not None
        step = side_step(part, RATE_HZ, structure, (place - first) * FRAMES_PER_S // RATE_HZ)
        assert step.room.floor_db is not None
        steps.append(step.room.floor_db)
    return steps


def test_where_rooms_agree_nothing_is_added_and_the_bytes_are_the_same() -> None:
    samples, joins = reading()
    with_joins, without = layout_with(samples, joins), layout_with(samples, [])
    assert with_joins == without
    assert with_joins.fills == ()


@pytest.mark.parametrize("louder", [0, 1])
@pytest.mark.parametrize("level_dbov", [-62.0])
def test_a_step_of_the_room_is_filled(louder: int, level_dbov: float) -> None:
    samples, joins = reading()
    bounds = [0, *joins, samples.size]
    for index in range(louder, 4, 2):
        part = samples[bounds[index] : bounds[index + 1]]
        part += room(part.size, index, level_dbov)
    before = steps_db(samples, layout_with(samples, []), joins)
    layout = layout_with(samples, joins)
    after = steps_db(samples, layout, joins)
    assert min(before) > 3.0
    assert len(layout.fills) >= 2
    assert max(after) < 1.5, (before, after)


def test_a_quieter_take_is_filled_after_its_voice_was_evened() -> None:
    samples, joins = reading()
    samples[joins[0] : joins[1]] *= 10 ** (-9.0 / 20)
    layout = layout_with(samples, joins)
    # The quieter take is turned up with its room, which stands over its neighbours then.
    assert max(steps_db(samples, layout_with(samples, []), joins)) > 3.0
    assert max(steps_db(samples, layout, joins)) < 1.8


def test_rooms_are_told_as_they_will_be_heard() -> None:
    draw = np.random.default_rng(8)
    made = Made(seed=8, room_dbov=-66.0)
    made.pause(1.0)
    for index in range(14):
        made.speech(float(draw.uniform(1.5, 2.5)), (-20.0, -26.0, -29.0)[index % 3])
        made.pause(1.3)
    samples = made.samples()
    survey, layout = survey_of(samples), layout_with(samples, [])
    gains = [one.gain_db for one in layout.sentences]
    assert max(gains) - min(gains) > 3.0
    structure = structure_of(survey)
    assert structure is not None
    rooms = EvenedRooms(
        survey.power, structure, layout.sentences, Held(samples), layout.move_samples
    )
    for before, after in list(pairwise(layout.sentences))[3:10]:
        place = (before.stop + after.start) // 2
        told = rooms.at(place, 0, samples.size)
        assert told is not None
        assert abs(told.step_db) == pytest.approx(steps_db(samples, layout, [place])[0], abs=0.5)


@pytest.mark.parametrize("at_head", [True, False])
def test_a_fill_that_reaches_an_end_goes_on_under_what_is_laid_there(*, at_head: bool) -> None:
    samples, _ = reading()
    found = layout_with(samples, []).sentences
    number = 3 if at_head else len(found) - 3
    join = (found[number - 1].stop + found[number].start) // 2
    louder = slice(join, None) if at_head else slice(0, join)
    samples[louder] += room(samples[louder].size, 9, -62.0)
    # No room of its own at the ends: all of it is laid.
    samples = samples[found[0].start - 1_000 : found[-1].stop + 1_000]
    join -= found[0].start - 1_000
    layout = layout_with(samples, [join])
    assert len(layout.fills) == 1
    master = np.concatenate(list(dry_blocks(layout, Held(samples))))
    place = master_place(layout, join)
    half = RATE_HZ // 10
    middle = RATE_HZ // 4
    laid = (
        master[middle - half : middle + half]
        if at_head
        else master[-middle - half : -middle + half]
    )
    beside = master[place - half : place + half]
    assert 20 * np.log10(rms(laid) / rms(beside)) == pytest.approx(0.0, abs=1.5)


def test_nothing_is_laid_over_the_top_of_a_narrow_recording() -> None:
    samples, joins = reading()
    samples[joins[2] :] += room(samples.size - joins[2], 9, -62.0)
    narrow = soxr.resample(soxr.resample(samples, RATE_HZ, 16_000), 16_000, RATE_HZ)
    layout = layout_with(narrow, joins[2:])
    assert len(layout.fills) == 1
    filled = np.concatenate(list(dry_blocks(layout, Held(narrow))))
    plain = np.concatenate(list(dry_blocks(replace(layout, fills=()), Held(narrow))))
    place = master_place(layout, joins[2])
    added = (filled - plain)[place - 5 * RATE_HZ : place]
    hz, power = welch(added, RATE_HZ, nperseg=2_048)
    inside, over = (hz > 5_000) & (hz < 7_000), (hz > 8_200) & (hz < 12_000)
    assert 10 * np.log10(power[over].max() / power[inside].mean()) < -40.0
    assert max(steps_db(narrow, layout, joins[2:])) < 1.5


def test_another_room_altogether_is_left_for_an_ear() -> None:
    samples, joins = reading()
    samples[joins[2] :] += room(samples.size - joins[2], 9, -45.0)
    assert layout_with(samples, joins[2:]).fills == ()


def test_a_fill_says_why_and_is_read_back() -> None:
    samples, joins = reading()
    samples[joins[2] :] += room(samples.size - joins[2], 9, -62.0)
    layout = layout_with(samples, joins[2:])
    (fill,) = layout.fills
    assert "before this join" in fill.reason
    assert fill.measured["step_db"] > fill.measured["own_step_db"]
    assert "own_band_step" in fill.measured
    assert fill.start < joins[2] < fill.stop
    plan = plan_of(samples)
    plan = replace(plan, layout=layout)
    assert plan_of_text(plan_to_text(plan)) == plan


def test_the_noise_is_the_same_however_it_is_cut() -> None:
    samples, joins = reading()
    samples[joins[2] :] += room(samples.size - joins[2], 9, -62.0)
    (fill,) = layout_with(samples, joins[2:]).fills
    laid = LaidFill(fill=fill, start=100_000, stop=100_000 + fill.stop - fill.start)
    whole = fill_range(laid, 100_000, 250_000)
    parts = [fill_range(laid, *part) for part in ((100_000, 100_007), (100_007, 250_000))]
    np.testing.assert_allclose(np.concatenate(parts), whole, atol=1e-12)
    # It comes and goes by itself.
    assert abs(whole[0]) < 1e-6
