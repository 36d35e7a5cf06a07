"""Joins that show in what was planned are planned again; the others are left as they were."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.finishing import match_again
from quietleaf.finishing.assembly import dry_blocks, dry_range, master_place
from quietleaf.finishing.fills import LaidFill, add_fills
from quietleaf.finishing.layout import Ends, plan_layout
from quietleaf.finishing.plan import Layout
from quietleaf.listening.join_check import check_join
from tests.unit.finishing.planned import survey_of
from tests.voices import RATE_HZ, Held, Made

ENDS = Ends(head_s=0.5, tail_s=0.5)
AROUND = 13 * RATE_HZ


def reading() -> tuple[NDArray[np.float64], int]:
    samples, join = made_reading()
    return samples.copy(), join


@cache
def made_reading() -> tuple[NDArray[np.float64], int]:
    """Make twelve sentences, and give the quiet middle of a pause."""
    draw = np.random.default_rng(4)
    made = Made(seed=4, room_dbov=-66.0)
    made.pause(1.0)
    join = 0
    for index in range(12):
        made.speech(float(draw.uniform(1.5, 2.5)))
        if index == 6:
            join = made.samples().size + round(0.35 * RATE_HZ)
        made.pause(0.7)
    return made.samples(), join


def louder(samples: NDArray[np.float64], start: int, stop: int, level_dbov: float) -> None:
    noise = np.random.default_rng(start).normal(size=stop - start)
    samples[start:stop] += noise * 10 ** (level_dbov / 20)


def layout_with(samples: NDArray[np.float64], joins: tuple[int, ...]) -> Layout:
    return plan_layout(survey_of(samples), Held(samples), ENDS, joins=joins)


def measured(samples: NDArray[np.float64], layout: Layout, join: int) -> Mapping[str, float]:
    """Render all of it, and listen to the join."""
    master = np.concatenate(list(dry_blocks(layout, Held(samples))))
    place = master_place(layout, join)
    first = max(0, place - AROUND)
    part = master[first : place + AROUND]
    return check_join(part, RATE_HZ, place - first, fade_samples=480).measured


@pytest.mark.parametrize("side", ["before", "after"])
def test_a_step_inside_the_pause_alone_is_filled(side: str) -> None:
    samples, join = reading()
    start, stop = (join, join + RATE_HZ) if side == "after" else (join - RATE_HZ, join)
    louder(samples, start, stop, -60.0)
    layout = layout_with(samples, (join,))
    plain = measured(samples, replace(layout, fills=()), join)
    again = measured(samples, layout, join)
    assert plain["pause_step_db"] > 4.0
    assert again["pause_step_db"] < 1.5
    assert again["pause_band_step"] < 3.0
    # Of the pauses around, which agreed, nothing was given up.
    assert again["floor_step_db"] < 1.5
    assert again["band_step"] < 3.0
    assert len({fill.seed for fill in layout.fills}) == len(layout.fills) > 0


def test_a_join_that_does_not_show_is_left_as_it_was_planned(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refused(*_: object) -> None:
        raise AssertionError("tried")

    monkeypatch.setattr(match_again, "_tries", refused)
    samples, join = reading()
    assert layout_with(samples, (join,)) == layout_with(samples, ())
    # One that was filled, and whose rooms agree since.
    louder(samples, join, samples.size, -63.0)
    assert len(layout_with(samples, (join,)).fills) == 1


def test_after_six_tries_the_best_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    steps_db = iter((60.0, 90.0, 50.0, 30.0, 40.0, 80.0, 70.0))
    tried = []

    def told(*_: object) -> Mapping[str, float]:
        return {"pause_step_db": next(steps_db)}

    def added(block: NDArray[np.float64], first: int, fills: list[LaidFill]) -> None:
        tried.append(tuple(one.fill for one in fills))
        add_fills(block, first, fills)

    monkeypatch.setattr(match_again, "measure_room", told)
    monkeypatch.setattr(match_again, "add_fills", added)
    samples, join = reading()
    louder(samples, join, join + RATE_HZ, -60.0)
    layout = layout_with(samples, (join,))
    assert next(steps_db, None) is None
    assert len(tried) == 7
    assert layout.fills == tried[3]


def test_a_range_is_rendered_as_it_lies_in_the_master() -> None:
    samples, join = reading()
    # A pause that is shortened lies in the range.
    quiet = np.random.default_rng(3).normal(size=6 * RATE_HZ) * 10 ** (-66.0 / 20)
    samples = np.concatenate([samples[:join], quiet, samples[join:]])
    samples[: samples.size // 2] *= 10 ** (-5.0 / 20)
    layout = layout_with(samples, ())
    assert "dead-air" in {cut.kind for cut in layout.cuts}
    assert len({one.gain_db for one in layout.sentences}) > 1
    master = np.concatenate(list(dry_blocks(layout, Held(samples))))
    part, first = dry_range(layout, Held(samples), join - 5 * RATE_HZ, join + 12 * RATE_HZ)
    assert part.size > 10 * RATE_HZ
    np.testing.assert_allclose(part, master[first : first + part.size], atol=1e-6)
