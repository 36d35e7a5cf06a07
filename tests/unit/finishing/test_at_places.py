"""What the desk decided about places holds for whatever is planned there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from quietleaf.booth.edits import Wanted
from quietleaf.finishing.assembly import dry_blocks, master_samples
from quietleaf.finishing.at_places import (
    EntrySort,
    PlaceDecision,
    can_be_made,
    cuts_at_places,
    decided_at,
    gains_at_places,
    repairs_at_places,
)
from quietleaf.finishing.fit import fit_layout
from quietleaf.finishing.fit_items import Offer
from quietleaf.finishing.plan import RATE_HZ, Cut
from quietleaf.finishing.repairs import Interpolation, LowBand, Repair, Replaced, TurnedDown
from tests.unit.finishing.test_fit import LAYOUT, NATURAL, SAMPLES, SURVEY, wish
from tests.voices import Held

COMMON: Any = {"state": "made", "by": "plan", "measured": {"after_db": 1.0, "over_db": 8.0}}


def decision(
    of: EntrySort,
    start: int,
    stop: int,
    *,
    kind: str = "",
    value: float | None = None,
    wanted: Wanted = "made",
) -> PlaceDecision:
    return PlaceDecision(
        of=of,
        kind=kind,
        start=start,
        stop=stop,
        wanted=wanted,
        value=value,
    )


def breath(start: int, stop: int) -> TurnedDown:
    return TurnedDown(
        kind="breath",
        start=start,
        stop=stop,
        by_db=6.0,
        quiet=((0, 100),),
        seed=1,
        tone_db=0.0,
        reason="a breath",
        **COMMON,
    )


def replaced(start: int, stop: int, quiet: tuple[tuple[int, int], ...]) -> Replaced:
    return Replaced(
        kind="rustle",
        start=start,
        stop=stop,
        quiet=quiet,
        seed=0,
        tone_db=0.0,
        reason="paper",
        **COMMON,
    )


def test_of_those_about_one_entry_the_last_holds() -> None:
    first = decision("repair", 90, 110, kind="breath", wanted="refused")
    last = decision("repair", 100, 120, kind="breath", value=3.0)
    elsewhere = decision("repair", 300, 310, kind="breath", wanted="refused")
    other_kind = decision("repair", 100, 120, kind="pop", wanted="refused")
    assert decided_at([first, last, elsewhere, other_kind], "repair", "breath", 95, 130) == last
    assert decided_at([last, first], "repair", "breath", 95, 130) == first
    taken_back = replace(first, wanted="as planned")
    assert decided_at([last, first, taken_back], "repair", "breath", 95, 130) is None
    assert decided_at([first], "cut", "breath", 95, 130) is None
    # Half-open: what ends where another begins does not meet it.
    assert decided_at([first], "repair", "breath", 110, 120) is None


def test_a_repair_is_refused_or_gets_another_strength() -> None:
    one = breath(100, 200)
    refused = repairs_at_places(
        [one], [decision("repair", 150, 151, kind="breath", wanted="refused")]
    )
    assert refused == (replace(one, state="refused", by="desk"),)
    (softer,) = repairs_at_places([one], [decision("repair", 150, 151, kind="breath", value=2.5)])
    assert isinstance(softer, TurnedDown)
    assert (softer.by_db, softer.state, softer.by) == (2.5, "made", "desk")
    assert softer.reason == "a breath; 6.0 dB were planned"
    # What was measured at the other strength is not told of this one.
    assert softer.measured == {"over_db": 8.0}


def test_what_cannot_be_made_stays_left() -> None:
    nothing: list[Repair] = [
        replace(breath(0, 10), by_db=0.0, state="left"),
        Interpolation(kind="clip", start=20, stop=30, runs=(), reason="", **COMMON),
        Replaced(
            kind="noise", start=40, stop=50, quiet=(), seed=0, tone_db=0.0, reason="", **COMMON
        ),
    ]
    left = [replace(one, state="left") for one in nothing]
    wished = [decision("repair", one.start, one.stop, kind=one.kind) for one in left]
    assert not any(can_be_made(one) for one in left)
    assert repairs_at_places(left, wished) == tuple(left)
    pop = LowBand(
        kind="pop",
        start=0,
        stop=10,
        corner_hz=85.0,
        by_db=9.0,
        reason="",
        **COMMON,
    )
    (made,) = repairs_at_places(
        [replace(pop, state="left")], [decision("repair", 0, 10, kind="pop")]
    )
    assert made == replace(pop, by="desk")


def test_of_two_of_one_sort_over_each_other_the_wished_one_is_made() -> None:
    left = replace(breath(100, 200), state="left")
    over = replaced(150, 260, ((0, 50),))
    made, other = repairs_at_places([left, over], [decision("repair", 100, 200, kind="breath")])
    assert (made.state, made.by) == ("made", "desk")
    assert (other.state, other.by) == ("left", "plan")


def test_a_cut_and_a_gain_follow_their_decisions() -> None:
    joined = {"pause_s": 0.5}
    cut = Cut(kind="restart", start=10, stop=20, reason="twice", measured=joined, state="left")
    # Without quiet places to join nothing is cut in two.
    placeless = replace(cut, measured={})
    assert cuts_at_places([placeless], [decision("cut", 12, 13, kind="restart")]) == (placeless,)
    assert cuts_at_places([cut], [decision("cut", 12, 13, kind="restart")])[0].state == "made"
    refused = [decision("cut", 12, 13, kind="restart", wanted="refused")]
    assert cuts_at_places([cut], refused)[0] == replace(cut, state="refused", by="desk")
    one = LAYOUT.sentences[1]
    (given,) = gains_at_places([one], [decision("sentence", one.start, one.stop, value=2.0)])
    assert (given.gain_db, given.by) == (2.0, "desk")
    assert given.reason.endswith(f"{one.gain_db:+.1f} dB were planned")
    (flat,) = gains_at_places(
        [replace(one, gain_db=3.0)], [decision("sentence", one.start, one.stop, wanted="refused")]
    )
    assert flat.gain_db == 0.0


def test_a_pause_gets_its_length_and_the_rest_is_fitted_around_it() -> None:
    planned, _ = fit_layout(LAYOUT, SURVEY, wish(0.02))
    first, second = planned.pauses[:2]
    places = (
        decision("pause", first.start, first.stop, value=1.25),
        decision("pause", second.start, second.stop, wanted="refused"),
    )
    layout, fit = fit_layout(LAYOUT, SURVEY, wish(0.02, at_places=places))
    assert fit.verdict == "fits"
    assert master_samples(layout) == round(NATURAL * 1.02)
    wished = next(one for one in layout.pauses if one.start == first.start)
    assert (wished.samples, wished.state, wished.by) == (1.25 * RATE_HZ, "made", "desk")
    assert "slot" not in wished.reason
    kept = next(one for one in layout.pauses if one.start == second.start)
    assert (kept.change, kept.state, kept.by) == (0, "refused", "desk")
    rendered = np.concatenate(list(dry_blocks(layout, Held(SAMPLES))))
    assert rendered.size == master_samples(layout)


def test_no_more_is_taken_from_a_pause_than_undisturbed_room_tone() -> None:
    planned, _ = fit_layout(LAYOUT, SURVEY, wish(0.02))
    pause = planned.pauses[0]
    layout, _ = fit_layout(
        LAYOUT,
        SURVEY,
        wish(0.0, at_places=(decision("pause", pause.start, pause.stop, value=0.01),)),
    )
    (shorter,) = (one for one in layout.pauses if one.by == "desk")
    left_s = pause.measured["pause_s"] - pause.measured["free_s"]
    assert shorter.samples / RATE_HZ == pytest.approx(left_s, abs=0.001)


def test_a_sentence_keeps_its_pace_and_an_item_stays_away() -> None:
    much, _ = fit_layout(LAYOUT, SURVEY, wish(-0.12))
    one = much.pace[0]
    places = (decision("pace", one.start, one.stop, wanted="refused"),)
    layout, fit = fit_layout(LAYOUT, SURVEY, wish(-0.12, at_places=places))
    assert fit.verdict == "fits"
    (kept,) = (pace for pace in layout.pace if pace.start == one.start)
    assert (kept.change, kept.state, kept.by) == (0, "refused", "desk")
    offer = Offer(key="tide", title="The tide", samples=4 * RATE_HZ, loudness_lufs=-20.0)
    places = (decision("item", 0, 1, kind="tide", wanted="refused"),)
    layout, _ = fit_layout(LAYOUT, SURVEY, wish(0.3, offers=(offer,), at_places=places))
    assert [(item.key, item.state, item.by) for item in layout.items] == [
        ("tide", "refused", "desk")
    ]
