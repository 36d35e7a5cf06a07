"""A reading brought to its length: exact, in steps, and never by cutting anything off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from quietleaf.errors import Invalid
from quietleaf.finishing.assembly import dry_blocks, master_place, master_samples
from quietleaf.finishing.fit import FitWish, fit_layout
from quietleaf.finishing.fit_entries import FitEntries
from quietleaf.finishing.fit_items import Offer
from quietleaf.finishing.plan import RATE_HZ, Layout
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.units import Window
from tests.unit.finishing.planned import ENDS, layout_of, plan_of, survey_of
from tests.voices import Held, reading

SAMPLES = reading(seed=5, sentences=12).samples()
SURVEY = survey_of(SAMPLES)
LAYOUT = layout_of(SAMPLES, ENDS)
NATURAL = master_samples(LAYOUT)


def rendered(layout: Layout) -> np.ndarray:
    return np.concatenate(list(dry_blocks(layout, Held(SAMPLES))))


def wish(share: float, **more: object) -> FitWish:
    return FitWish(exact_s=round(NATURAL * (1.0 + share)) / RATE_HZ, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("share", [-0.05, -0.031, -1e-6, 2e-5, 0.018, 0.05])
def test_a_length_is_met_to_the_sample(share: float) -> None:
    layout, fit = fit_layout(LAYOUT, SURVEY, wish(share))
    assert fit.verdict == "fits"
    assert rendered(layout).size == master_samples(layout) == round(NATURAL * (1.0 + share))


@pytest.mark.long
def test_any_length_within_five_percent_is_met_to_the_sample() -> None:
    draw = np.random.default_rng(20)
    for share in draw.uniform(-0.05, 0.05, 20):
        layout, fit = fit_layout(LAYOUT, SURVEY, wish(float(share)))
        assert fit.verdict == "fits", share
        assert rendered(layout).size == round(NATURAL * (1.0 + share))


def test_pauses_give_first_and_the_pace_only_what_they_cannot() -> None:
    little, _ = fit_layout(LAYOUT, SURVEY, wish(0.02))
    assert little.pauses
    assert not little.pace
    assert all(one.change > 0 for one in little.pauses)
    much, _ = fit_layout(LAYOUT, SURVEY, wish(-0.12))
    assert sum(one.change for one in much.pauses) < 0
    for one in much.pace:
        assert 0.0 < -one.change <= 0.045 * (one.stop - one.start)
    total = sum(one.stop - one.start for one in much.sentences)
    assert sum(-one.change for one in much.pace) <= 0.03 * total


def test_words_lie_where_the_plan_says_and_are_as_they_were() -> None:
    before = rendered(LAYOUT)
    for share in (-0.02, 0.02):
        layout, _ = fit_layout(LAYOUT, SURVEY, wish(share))
        after = rendered(layout)
        for one in LAYOUT.sentences[1:-1]:
            length = one.stop - one.start
            was, now = master_place(LAYOUT, one.start), master_place(layout, one.start)
            np.testing.assert_allclose(
                after[now : now + length], before[was : was + length], atol=2e-3
            )


def test_a_window_is_entered_at_its_nearer_edge_and_not_beyond() -> None:
    least, most = (round(NATURAL * share) / RATE_HZ for share in (1.02, 1.05))
    layout, fit = fit_layout(
        LAYOUT, SURVEY, FitWish(window=Window(shortest_s=least, longest_s=most))
    )
    assert fit.verdict == "fits"
    assert master_samples(layout) == round(least * RATE_HZ)
    inside = Window(shortest_s=0.9 * NATURAL / RATE_HZ, longest_s=least)
    layout, fit = fit_layout(LAYOUT, SURVEY, FitWish(window=inside))
    assert layout == LAYOUT
    assert fit.wanted_samples is None


def test_a_private_request_keeps_its_length() -> None:
    layout, fit = fit_layout(LAYOUT, SURVEY, wish(0.02, free=True))
    assert layout == LAYOUT
    assert fit.verdict == "free"


def test_what_the_desk_decided_holds_and_the_rest_is_planned_around_it() -> None:
    first, _ = fit_layout(LAYOUT, SURVEY, wish(0.02))
    refused = replace(first.pauses[0], state="refused", by="desk")
    changed = replace(first.pauses[3], samples=first.pauses[3].samples + 4_321, by="desk")
    decided = FitEntries(pauses=(refused, changed))
    second, fit = fit_layout(LAYOUT, SURVEY, wish(0.02, decided=decided))
    assert fit.verdict == "fits"
    assert rendered(second).size == round(NATURAL * 1.02)
    assert refused in second.pauses
    assert changed in second.pauses
    assert sum(one.start == refused.start for one in second.pauses) == 1
    starts = [one.start for one in second.pauses]
    assert starts == sorted(starts)


def test_a_pause_made_shorter_can_be_made_longer_by_the_desk() -> None:
    first, _ = fit_layout(LAYOUT, SURVEY, wish(-0.02))
    longer = first.pauses[0].stop - first.pauses[0].start + 9_600
    changed = replace(first.pauses[0], samples=longer, by="desk")
    layout, fit = fit_layout(LAYOUT, SURVEY, wish(-0.02, decided=FitEntries(pauses=(changed,))))
    assert fit.verdict == "fits"
    laid = master_place(layout, changed.place)
    after = rendered(layout)
    tone = after[laid + 480 : laid + 9_120]
    beside = after[laid - 1_500 : laid - 300]
    assert np.std(tone) == pytest.approx(np.std(beside), rel=0.5)


def test_a_reading_too_long_is_told_where_it_could_stop() -> None:
    marks = [LAYOUT.sentences[index].start for index in (0, 6, 9)]
    articles = tuple(zip(marks, ("The ferry", "The tide", "The bells"), strict=True))
    layout, fit = fit_layout(LAYOUT, SURVEY, wish(-0.2, articles=articles))
    assert layout == LAYOUT
    assert fit.verdict == "long"
    last, earlier = fit.stops
    assert last.leaves_out == ("The bells",)
    assert earlier.leaves_out == ("The tide", "The bells")
    assert last.sample == LAYOUT.sentences[8].stop
    kept = master_place(LAYOUT, last.sample) + LAYOUT.tail_samples
    assert last.length_s == pytest.approx(kept / RATE_HZ, abs=0.001)


def test_items_are_laid_before_the_reader_is_made_slower() -> None:
    offers = tuple(
        Offer(key=str(length), title="", samples=round(length * RATE_HZ), loudness_lufs=-20.0)
        for length in (4.0, 7.5, 30.0)
    )
    layout, fit = fit_layout(LAYOUT, SURVEY, wish(0.45, offers=offers))
    assert fit.verdict == "fits"
    assert [one.key for one in layout.items] == ["4.0", "7.5"]
    assert not layout.pace
    items = {one.key: Held(SAMPLES[: one.samples]) for one in layout.items}
    blocks = list(dry_blocks(layout, Held(SAMPLES), items))
    assert sum(block.size for block in blocks) == round(NATURAL * 1.45)


def test_an_item_that_the_desk_wants_has_to_be_there() -> None:
    offer = Offer(key="tide", title="The tide", samples=4 * RATE_HZ, loudness_lufs=-20.0)
    layout, _ = fit_layout(LAYOUT, SURVEY, wish(0.3, offers=(offer,)))
    wanted = FitEntries(items=(replace(layout.items[0], by="desk"),))
    again, fit = fit_layout(LAYOUT, SURVEY, wish(0.3, offers=(offer,), decided=wanted))
    assert (fit.verdict, again.items) == ("fits", wanted.items)
    with pytest.raises(Invalid, match="The tide"):
        fit_layout(LAYOUT, SURVEY, wish(0.3, decided=wanted))
    refused = FitEntries(items=(replace(layout.items[0], state="refused"),))
    without, _ = fit_layout(LAYOUT, SURVEY, wish(0.3, offers=(offer,), decided=refused))
    assert all(item.state == "refused" for item in without.items)


def test_what_is_fitted_is_written_and_read_back() -> None:
    plan = plan_of(SAMPLES)
    for share in (-0.12, 0.03, -0.3):
        articles = ((LAYOUT.sentences[3].start, "The tide"),)
        layout, fit = fit_layout(plan.layout, SURVEY, wish(share, articles=articles))
        fitted = replace(plan, layout=layout, fit=fit)
        assert plan_of_text(plan_to_text(fitted)) == fitted
