"""What was begun and read again: the first try goes, and what the desk decided stays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from quietleaf.errors import Conflict
from quietleaf.finishing.assembly import dry_blocks, master_place, master_samples
from quietleaf.finishing.decisions import Decisions, decisions_of, refuse_other_sound
from quietleaf.finishing.layout import plan_layout
from quietleaf.finishing.plan import Cut, Layout, Sentence
from quietleaf.finishing.restart_cuts import restart_cuts
from quietleaf.finishing.structure import structure_of
from quietleaf.listening.findings import Finding, Severity
from quietleaf.listening.join_check import check_join
from quietleaf.listening.reader_pauses import UNKNOWN
from tests.unit.finishing.planned import ENDS, plan_of, survey_of
from tests.voices import RATE_HZ, Held, Made


def stumbled(again_s: float = 0.9) -> tuple[np.ndarray, list[tuple[float, float]]]:
    """A reading of four sentences; the third is the first try of the fourth."""
    made = Made(seed=4)
    made.pause(0.8)
    spoken = []
    for length_s, pause_s in ((2.0, 0.7), (1.8, 0.6), (1.0, again_s), (2.4, 0.6), (1.5, 1.2)):
        spoken.append(made.speech(length_s))
        made.pause(pause_s)
    return made.samples(), spoken


def found(start_s: float, end_s: float, severity: Severity = "fix") -> Finding:
    return Finding(
        kind="restart",
        start_s=start_s,
        end_s=end_s,
        severity=severity,
        value=0.97 if severity == "fix" else 0.8,
        limit=0.93,
        unit="likelihood",
        advice="",
    )


def cuts_of(samples: np.ndarray, *findings: Finding) -> tuple[Cut, ...]:
    structure = structure_of(survey_of(samples))
    assert structure is not None
    return restart_cuts(findings, structure, Held(samples), UNKNOWN)


def layout_with(
    samples: np.ndarray, cuts: tuple[Cut, ...], decided: Decisions | None = None
) -> Layout:
    return plan_layout(
        survey_of(samples),
        Held(samples),
        ENDS,
        restarts=cuts,
        decided=decided or Decisions(),
    )


def test_the_first_try_goes_and_the_pause_is_as_it_was() -> None:
    samples, spoken = stumbled()
    (_, before_s), (tried_s, tried_to_s), (again_s, _) = spoken[1:4]
    (cut,) = cuts_of(samples, found(before_s + 0.3, tried_to_s + 0.5))
    assert cut.state == "made"
    assert before_s < cut.start / RATE_HZ < tried_s
    assert tried_to_s < cut.stop / RATE_HZ < again_s
    left_s = cut.start / RATE_HZ - before_s + again_s - cut.stop / RATE_HZ
    assert left_s == pytest.approx(tried_s - before_s, abs=0.03)
    assert cut.measured["likelihood"] == 0.97


def test_nobody_hears_the_join_and_no_sentence_is_made_of_what_went() -> None:
    samples, spoken = stumbled()
    (_, before_s), (tried_s, tried_to_s) = spoken[1:3]
    cuts = cuts_of(samples, found(before_s + 0.3, tried_to_s + 0.5))
    layout = layout_with(samples, cuts)
    assert not any(
        one.start < tried_to_s * RATE_HZ and one.stop > tried_s * RATE_HZ
        for one in layout.sentences
    )
    master = np.concatenate(list(dry_blocks(layout, Held(samples))))
    place = master_place(layout, cuts[0].start)
    said = check_join(master, RATE_HZ, place, fade_samples=480, pauses=UNKNOWN, own=None)
    assert said.faults == ()


def test_one_that_should_be_heard_first_is_left_in() -> None:
    samples, spoken = stumbled()
    finding = found(spoken[1][1] + 0.3, spoken[2][1] + 0.5, "hear")
    (cut,) = cuts_of(samples, finding)
    assert cut.state == "left"
    assert master_samples(layout_with(samples, (cut,))) == master_samples(layout_with(samples, ()))


def test_tries_in_a_row_are_one_cut() -> None:
    samples, spoken = stumbled()
    between_s = (spoken[1][1] + spoken[2][0]) / 2
    first = found(spoken[0][1] + 0.3, between_s)
    (cut,) = cuts_of(samples, first, found(between_s, spoken[2][1] + 0.5))
    assert cut.start / RATE_HZ < spoken[1][0]
    assert spoken[2][1] < cut.stop / RATE_HZ < spoken[3][0]
    assert "2 tries" in cut.reason


def test_a_first_try_at_the_very_beginning_is_no_word_to_begin_on() -> None:
    made = Made(seed=5)
    made.pause(0.8)
    _, tried_to_s = made.speech(1.0)
    made.pause(0.9)
    again_s, _ = made.speech(2.5)
    made.pause(0.7)
    made.speech(2.0)
    made.pause(1.5)
    samples = made.samples()
    layout = layout_with(samples, cuts_of(samples, found(0.4, tried_to_s + 0.5)))
    assert 0.45 <= master_place(layout, round(again_s * RATE_HZ)) / RATE_HZ <= 0.6


@pytest.mark.parametrize("before_s", [6.0, 20.0])
def test_after_a_long_pause_no_word_before_it_goes(before_s: float) -> None:
    made = Made(seed=6)
    made.pause(0.8)
    made.speech(2.0)
    made.pause(0.7)
    _, said_to_s = made.speech(2.0)
    made.pause(before_s)
    tried_s, tried_to_s = made.speech(1.0)
    made.pause(0.9)
    again_s, _ = made.speech(2.5)
    made.pause(1.5)
    (cut,) = cuts_of(made.samples(), found(tried_s - 0.3, tried_to_s + 0.5))
    assert said_to_s < cut.start / RATE_HZ < tried_s
    assert tried_to_s < cut.stop / RATE_HZ < again_s


def test_a_long_pause_beside_it_is_not_shortened_twice() -> None:
    samples, spoken = stumbled(again_s=7.0)
    cuts = cuts_of(samples, found(spoken[1][1] + 0.3, spoken[2][1] + 0.5))
    layout = layout_with(samples, cuts)
    assert [cut.kind for cut in layout.cuts if cut.kind not in ("head", "tail")] == ["restart"]


def test_what_was_refused_stays_refused_and_the_rest_is_planned_around_it() -> None:
    samples, spoken = stumbled()
    cuts = cuts_of(samples, found(spoken[1][1] + 0.3, spoken[2][1] + 0.5))
    refused = replace(cuts[0], state="refused")
    layout = layout_with(samples, cuts, Decisions(cuts=(refused,)))
    assert refused in layout.cuts
    assert sum(cut.kind == "restart" for cut in layout.cuts) == 1
    tried = (spoken[2][0] * RATE_HZ, spoken[2][1] * RATE_HZ)
    assert any(one.start < tried[1] and one.stop > tried[0] for one in layout.sentences)


def test_a_cut_and_a_gain_of_the_desk_are_kept() -> None:
    samples, spoken = stumbled()
    own = Cut(
        kind="restart",
        start=round((spoken[0][1] + 0.35) * RATE_HZ),
        stop=round((spoken[1][1] + 0.3) * RATE_HZ),
        reason="said twice",
        measured={},
        by="desk",
    )
    louder = Sentence(
        start=round(spoken[3][0] * RATE_HZ),
        stop=round(spoken[3][1] * RATE_HZ),
        loudness_lufs=-24.0,
        gain_db=3.0,
        reason="a soft voice is wanted nowhere",
        by="desk",
    )
    layout = layout_with(samples, (), Decisions(cuts=(own,), sentences=(louder,)))
    assert own in layout.cuts
    assert [one.gain_db for one in layout.sentences if one.by == "desk"] == [3.0]
    assert not any(one.start < own.stop and one.stop > own.start for one in layout.sentences)


def test_decisions_are_told_from_a_plan_and_belong_to_its_sound() -> None:
    samples, _ = stumbled()
    plan = plan_of(samples)
    assert decisions_of(plan).cuts == ()
    head, *others = plan.layout.cuts
    changed = replace(head, stop=head.stop - 100, by="desk")
    decided = decisions_of(replace(plan, layout=replace(plan.layout, cuts=(changed, *others))))
    assert decided.cuts == (changed,)
    refuse_other_sound(decided, samples.size)
    with pytest.raises(Conflict, match=r"of 13\.50 s; this one has 12\.50"):
        refuse_other_sound(decided, samples.size - RATE_HZ)
