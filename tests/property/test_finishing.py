"""Laws of finishing, on readings that are drawn: whatever is read, they hold."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from quietleaf.finishing.apply import apply_both, apply_wave
from quietleaf.finishing.assembly import (
    dry_blocks,
    kept_ranges,
    master_place,
    master_samples,
    moves_of,
)
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.sound.true_peak import true_peak
from tests.unit.finishing.planned import layout_of, plan_of
from tests.unit.finishing.test_trial import plain_loudness_lufs
from tests.voices import RATE_HZ, Held, Made

FEW = settings(max_examples=12)


@st.composite
def readings(draw: st.DrawFn) -> tuple[NDArray[np.float64], list[tuple[float, float]]]:
    """Give a reading, and where its sentences lie in it."""
    made = Made(seed=draw(st.integers(0, 10_000)), room_dbov=draw(st.sampled_from([-75, -66, -58])))
    made.pause(draw(st.floats(0.05, 2.5)))
    if draw(st.booleans()):
        made.noise(draw(st.floats(0.2, 0.5)), draw(st.sampled_from([-55.0, -48.0, -42.0])))
        made.pause(draw(st.floats(0.1, 0.8)))
    places = []
    for _ in range(draw(st.integers(2, 5))):
        places.append(made.speech(draw(st.floats(0.8, 2.5)), draw(st.floats(-34.0, -18.0))))
        made.pause(draw(st.one_of(st.floats(0.3, 1.5), st.floats(3.2, 7.0))))
    return made.samples(), places


@FEW
@given(readings())
def test_after_the_head_comes_the_first_syllable(
    reading: tuple[NDArray[np.float64], list[tuple[float, float]]],
) -> None:
    """Common practice, no source: the head begins on speech."""
    samples, places = reading
    layout = layout_of(samples)
    onset = master_place(layout, round(places[0][0] * RATE_HZ))
    assert layout.head_samples <= onset <= layout.head_samples + 0.06 * RATE_HZ


@FEW
@given(readings())
def test_no_cut_touches_speech(
    reading: tuple[NDArray[np.float64], list[tuple[float, float]]],
) -> None:
    samples, places = reading
    layout = layout_of(samples)
    for start_s, stop_s in places:
        start, stop = round(start_s * RATE_HZ), round(stop_s * RATE_HZ)
        assert any(first <= start and stop <= last for first, last in kept_ranges(layout))
        # The 10 ms of a join lie outside it as well.
        for cut in layout.cuts:
            if cut.kind == "dead-air":
                assert cut.stop <= start - 0.05 * RATE_HZ or cut.start >= stop + 0.05 * RATE_HZ


@FEW
@given(readings())
def test_gain_is_constant_in_every_sentence(
    reading: tuple[NDArray[np.float64], list[tuple[float, float]]],
) -> None:
    samples, places = reading
    layout = layout_of(samples)
    moves = moves_of(layout)
    for start_s, stop_s in places:
        start = master_place(layout, round(start_s * RATE_HZ))
        stop = master_place(layout, round(stop_s * RATE_HZ))
        assert not any(move.start < stop and start < move.stop for move in moves)


@FEW
@given(readings())
def test_the_length_is_what_is_kept_and_what_is_laid(
    reading: tuple[NDArray[np.float64], list[tuple[float, float]]],
) -> None:
    samples, _ = reading
    layout = layout_of(samples)
    rendered = sum(block.size for block in dry_blocks(layout, Held(samples)))
    assert rendered == master_samples(layout)
    gone = sum(stop - start for start, stop in kept_ranges(layout))
    assert rendered == gone + sum(tone.samples for tone in layout.room_tone)


@FEW
@given(readings(), st.sampled_from(["ebu-r128", "atsc-a85", "-18", "-15"]))
def test_a_plan_is_read_back_and_carried_out_twice_to_the_same_bytes(
    reading: tuple[NDArray[np.float64], list[tuple[float, float]]], loudness: str
) -> None:
    samples, _ = reading
    plan = plan_of(samples, loudness)
    again = plan_of_text(plan_to_text(plan))
    assert again == plan
    first = list(apply_both(plan, Held(samples)))
    second = list(apply_both(again, Held(samples)))
    for one, two in zip(first, second, strict=True):
        assert [part.tobytes() for part in one] == [part.tobytes() for part in two]


@FEW
@given(readings(), st.sampled_from(["ebu-r128", "atsc-a85", "-18", "-15"]))
def test_the_master_is_on_target_and_under_its_ceiling(
    reading: tuple[NDArray[np.float64], list[tuple[float, float]]], loudness: str
) -> None:
    samples, _ = reading
    plan = plan_of(samples, loudness)
    wave = np.concatenate(list(apply_wave(plan, Held(samples))))
    assert abs(plain_loudness_lufs(wave) - plan.target.loudness_lufs) < 0.1
    peak_dbtp = 20.0 * np.log10(true_peak(wave[:, np.newaxis], RATE_HZ)[0])
    assert peak_dbtp <= plan.target.ceiling_dbtp


@FEW
@given(readings(), st.floats(-20.0, 6.0))
def test_a_gain_before_finishing_changes_nothing_after_it(
    reading: tuple[NDArray[np.float64], list[tuple[float, float]]], gain_db: float
) -> None:
    samples, _ = reading
    first = plan_of(samples)
    second = plan_of(samples * 10.0 ** (gain_db / 20.0))
    assert [(cut.start, cut.stop) for cut in second.layout.cuts] == [
        (cut.start, cut.stop) for cut in first.layout.cuts
    ]
    assert abs(second.wave.gain_db + gain_db - first.wave.gain_db) < 0.05
