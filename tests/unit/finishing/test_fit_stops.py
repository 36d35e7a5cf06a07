"""A programme that stops at an end of an article: the rest goes, the closing words stay."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from scipy.signal import correlate

from quietleaf.booth.edits import Wanted
from quietleaf.errors import Invalid
from quietleaf.finishing.assembly import dry_blocks, master_place, master_samples
from quietleaf.finishing.at_places import PlaceDecision
from quietleaf.finishing.decisions import Decisions, decisions_of
from quietleaf.finishing.fit_stops import closing_word
from quietleaf.finishing.make_plan import Wishes, make_plan
from quietleaf.finishing.plan import RATE_HZ, Plan
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.finishing.structure import structure_of
from quietleaf.finishing.targets import target_of_text
from quietleaf.units import Window
from tests.unit.finishing.planned import ENDS, survey_of
from tests.voices import Held, Made

TITLES = ("The ferry", "The tide", "The bells")


@dataclass(frozen=True)
class Read:
    """A reading of three articles and closing words, with its places in samples."""

    samples: np.ndarray
    spoken: list[tuple[int, int]]
    articles: tuple[int, ...]
    closing: int


def read() -> Read:
    made = Made(seed=21)
    spoken, articles = [], []
    made.pause(0.7)
    for number in range(12):
        if number in (0, 4, 8):
            articles.append(round((made.length_s - 0.2) * RATE_HZ))
        spoken.append(made.speech(1.1))
        made.pause(0.9 if number % 4 == 3 else 0.5)
    closing = round((made.length_s - 0.3) * RATE_HZ)
    spoken += [made.speech(1.8)]
    made.pause(1.5)
    places = [(round(a * RATE_HZ), round(b * RATE_HZ)) for a, b in spoken]
    return Read(samples=made.samples(), spoken=places, articles=tuple(articles), closing=closing)


READ = read()
SOUND = Held(READ.samples)
SURVEY = survey_of(READ.samples)
WINDOW = Window(shortest_s=8.0, longest_s=15.0)


def plan_with(decided: Decisions = Decisions(), **more: Any) -> Plan:  # noqa: B008
    wishes = Wishes(
        target=target_of_text("ebu-r128"),
        ends=ENDS,
        window=WINDOW,
        mp3_kbps=64,
        articles=READ.articles,
        titles=TITLES,
        closing=READ.closing,
        decided=decided,
    )
    return make_plan(SURVEY, SOUND, replace(wishes, **more))


@pytest.fixture(scope="module")
def offered() -> Plan:
    """The plan that nobody has decided about yet."""
    return plan_with()


def chosen(sample: int, wanted: Wanted = "made") -> Decisions:
    place = PlaceDecision(of="stop", kind="", start=sample, stop=sample + 1, wanted=wanted)
    return Decisions(at_places=(place,))


def heard(plan: Plan) -> list[int]:
    """Give which sentences can be heard in the master: they correlate with what was read."""
    master = np.concatenate(list(dry_blocks(plan.layout, SOUND)))
    found = []
    for number, (start, _) in enumerate(READ.spoken):
        part = READ.samples[start : start + RATE_HZ // 2]
        at = master_place(plan.layout, start)
        near = master[max(0, at - 4_800) : at + part.size + 4_800]
        if near.size < part.size:
            continue
        alike = correlate(near, part, "valid", "fft") / np.sqrt(np.sum(part**2))
        local = correlate(near**2, np.ones(part.size), "valid", "fft")
        if (alike / np.sqrt(np.maximum(local, 1e-9))).max() > 0.95:
            found.append(number)
    return found


def test_without_a_choice_it_only_says_where_it_could_stop(offered: Plan) -> None:
    plan = offered
    assert plan.fit.verdict == "long"
    assert {one.state for one in plan.fit.stops} == {"left"}
    assert not any(cut.kind == "stop" for cut in plan.layout.cuts)
    assert heard(plan) == list(range(13))


def test_what_comes_after_it_goes_and_the_closing_words_stay(offered: Plan) -> None:
    stop = offered.fit.stops[0]
    assert stop.leaves_out == ("The bells",)
    plan = plan_with(chosen(stop.sample))
    assert heard(plan) == [*range(8), 12]
    (cut,) = (cut for cut in plan.layout.cuts if cut.kind == "stop")
    assert (cut.by, cut.state) == ("desk", "made")
    # Both sides lie in the pauses: after the last word that stays, before the closing words.
    assert READ.spoken[7][1] <= cut.start <= READ.spoken[8][0]
    assert READ.spoken[11][1] <= cut.stop <= READ.spoken[12][0]
    assert plan.fit.verdict == "fits"
    assert WINDOW.shortest_s <= master_samples(plan.layout) / RATE_HZ <= WINDOW.longest_s
    # It says how long it would be, before anything is fitted.
    assert cut.measured["length_s"] == pytest.approx(plan.fit.measured["length_before_s"], abs=0.6)
    assert [(one.state, one.by) for one in plan.fit.stops if one.sample == stop.sample] == [
        ("made", "desk")
    ]


def test_without_closing_words_it_ends_there(offered: Plan) -> None:
    plan = plan_with(chosen(offered.fit.stops[0].sample), closing=None)
    assert heard(plan) == list(range(8))
    assert plan.fit.verdict == "fits"


def test_the_plan_itself_carries_the_choice_on(offered: Plan) -> None:
    first = offered
    stops = tuple(
        replace(one, state="made", by="desk") if one is first.fit.stops[0] else one
        for one in first.fit.stops
    )
    written = plan_to_text(replace(first, fit=replace(first.fit, stops=stops)))
    again = plan_with(decisions_of(plan_of_text(written)))
    assert heard(again) == [*range(8), 12]
    assert plan_of_text(plan_to_text(again)) == again
    # And once more, from the plan that came of it.
    third = plan_with(decisions_of(again))
    assert third.layout.cuts == again.layout.cuts


def test_a_choice_can_be_taken_back(offered: Plan) -> None:
    taken_back = chosen(offered.fit.stops[0].sample, "as planned")
    both = chosen(offered.fit.stops[0].sample).at_places + taken_back.at_places
    assert plan_with(Decisions(at_places=both)).layout == offered.layout


def test_a_private_request_is_never_stopped(offered: Plan) -> None:
    stop = offered.fit.stops[0]
    with pytest.raises(Invalid, match="never stopped before its end"):
        plan_with(chosen(stop.sample), private=True)


@pytest.mark.parametrize(
    ("mark_s", "word"),
    # In the pause before, a little after the first word, and while the last sentence is spoken.
    [(-0.3, 12), (0.4, 12), (-0.95, 12)],
)
def test_the_closing_words_begin_at_the_first_word_near_the_mark(mark_s: float, word: int) -> None:
    structure = structure_of(SURVEY)
    assert structure is not None
    begins = READ.spoken[word][0]
    found = closing_word(structure, begins + round(mark_s * RATE_HZ))
    assert found == pytest.approx(begins, abs=RATE_HZ // 20)
    assert closing_word(structure, READ.samples.size - 1) is None
