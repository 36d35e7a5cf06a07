"""Dead air is shortened to a natural pause, in the quietest place, away from speech."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.finishing.assembly import dry_blocks, master_place, master_samples
from quietleaf.finishing.pauses import GUARD_S, NATURAL_S_MAX, NATURAL_S_MIN
from tests.unit.finishing.planned import layout_of
from tests.voices import RATE_HZ, Held, Made, reading


def with_dead_air(
    length_s: float, noise_at_s: float | None = None, breath: bool = False
) -> tuple[Made, float, float]:
    made = Made(seed=3)
    made.pause(0.8)
    for _ in range(3):
        made.speech(1.6)
        made.pause(0.6)
    _, before_s = made.speech(2.0)
    if noise_at_s is not None:
        made.pause(noise_at_s)
        made.noise(0.5, -36.0, 1_500.0, 10_000.0)
        made.pause(length_s - noise_at_s - 0.5)
    elif breath:
        made.pause(length_s - 0.6)
        made.noise(0.35, -50.0)
        made.pause(0.25)
    else:
        made.pause(length_s)
    after_s, _ = made.speech(2.0)
    for _ in range(3):
        made.pause(0.6)
        made.speech(1.6)
    made.pause(1.5)
    return made, before_s, after_s


@pytest.mark.parametrize("length_s", [5.5, 8.0, 30.0])
def test_dead_air_becomes_a_natural_pause(length_s: float) -> None:
    made, before_s, after_s = with_dead_air(length_s)
    layout = layout_of(made.samples())
    (cut,) = [cut for cut in layout.cuts if cut.kind == "dead-air"]
    before, after = (master_place(layout, round(s * RATE_HZ)) for s in (before_s, after_s))
    assert NATURAL_S_MIN - 0.1 <= (after - before) / RATE_HZ <= NATURAL_S_MAX + 0.1
    assert cut.start >= (before_s + GUARD_S) * RATE_HZ
    assert cut.stop <= (after_s - GUARD_S) * RATE_HZ
    assert cut.measured["pause_s"] == pytest.approx(length_s, abs=0.1)


@pytest.mark.parametrize("length_s", [0.5, 1.5, 2.8, 4.5])
def test_pauses_that_are_no_dead_air_are_left_alone(length_s: float) -> None:
    made, _, _ = with_dead_air(length_s)
    assert not [cut for cut in layout_of(made.samples()).cuts if cut.kind == "dead-air"]


def test_a_noise_in_dead_air_goes_with_it() -> None:
    made, before_s, _ = with_dead_air(7.0, noise_at_s=3.0)
    (cut,) = [cut for cut in layout_of(made.samples()).cuts if cut.kind == "dead-air"]
    assert cut.start <= (before_s + 3.05) * RATE_HZ
    assert cut.stop >= (before_s + 3.45) * RATE_HZ
    assert "1 noise" in cut.reason


def test_a_breath_stays_with_the_word_after_it() -> None:
    made, _, after_s = with_dead_air(6.0, breath=True)
    (cut,) = [cut for cut in layout_of(made.samples()).cuts if cut.kind == "dead-air"]
    assert cut.stop <= (after_s - 0.6 - GUARD_S + 0.05) * RATE_HZ


def test_a_pause_before_an_article_may_be_longer() -> None:
    made, before_s, after_s = with_dead_air(8.0)
    layout = layout_of(made.samples(), articles=(round((after_s - 0.4) * RATE_HZ),))
    before, after = (master_place(layout, round(s * RATE_HZ)) for s in (before_s, after_s))
    assert (after - before) / RATE_HZ == pytest.approx(3.0, abs=0.1)
    assert "article" in next(cut.reason for cut in layout.cuts if cut.kind == "dead-air")


def test_the_length_is_right_to_the_sample_and_the_join_is_level() -> None:
    made, _, _ = with_dead_air(8.0)
    samples = made.samples()
    layout = layout_of(samples)
    dry = np.concatenate(list(dry_blocks(layout, Held(samples))))
    laid = sum(tone.samples for tone in layout.room_tone)
    gone = sum(cut.stop - cut.start for cut in layout.cuts)
    assert dry.size == master_samples(layout) == samples.size - gone + laid
    (cut,) = [cut for cut in layout.cuts if cut.kind == "dead-air"]
    place = master_place(layout, cut.start)
    at_join = np.mean(dry[place - 240 : place + 240] ** 2)
    around = np.mean(np.r_[dry[place - 9_600 : place - 480], dry[place + 480 : place + 9_600]] ** 2)
    # 10 ms of noise are known to about 2 dB.
    assert abs(10 * np.log10(at_join / around)) < 3.0


def test_a_reader_of_long_pauses_keeps_them() -> None:
    made = Made(seed=9)
    made.pause(0.8)
    for _ in range(14):
        made.speech(1.2)
        made.pause(1.8)
    made.pause(4.0)
    made.speech(1.2)
    made.pause(1.2)
    (cut,) = [cut for cut in layout_of(made.samples()).cuts if cut.kind == "dead-air"]
    assert cut.measured["becomes_s"] == pytest.approx(1.8, abs=0.1)
    assert "this reader's own" in cut.reason


def test_an_ordinary_reading_has_no_dead_air() -> None:
    assert not [cut for cut in layout_of(reading().samples()).cuts if cut.kind == "dead-air"]
