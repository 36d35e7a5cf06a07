"""Head and tail: where the first syllable and the last word lie, and what else is heard there."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.errors import AudioUnfit
from quietleaf.finishing.assembly import dry_blocks, kept_ranges, master_place, master_samples
from quietleaf.finishing.layout import Ends
from tests.unit.finishing.planned import layout_of, plan_of
from tests.voices import RATE_HZ, Held, Made


def level_dbov(samples: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    return float(10 * np.log10(np.mean(samples**2) + 1e-20))


def test_the_head_is_trimmed_to_the_first_syllable() -> None:
    made = Made()
    made.pause(2.0)
    start_s, _ = made.speech(2.0)
    made.pause(0.8)
    made.speech(2.0)
    made.pause(2.0)
    samples = made.samples()
    layout = layout_of(samples)
    place_s = master_place(layout, round(start_s * RATE_HZ)) / RATE_HZ
    # 15 ms of settled room tone are left to a soft onset, and edges are found in steps of 5 ms.
    assert 0.5 <= place_s <= 0.55
    assert not layout.room_tone
    assert [cut.kind for cut in layout.cuts] == ["head", "tail"]


@pytest.mark.parametrize("breath_dbov", [-58.0, -50.0, -42.0])
@pytest.mark.parametrize("gap_s", [0.06, 0.25, 0.6])
def test_a_breath_before_the_first_word_goes(breath_dbov: float, gap_s: float) -> None:
    made = Made()
    made.pause(1.0)
    breath_s = made.noise(0.35, breath_dbov)
    made.pause(gap_s)
    start_s, _ = made.speech(2.5)
    made.pause(0.7)
    made.speech(2.0)
    made.pause(1.5)
    layout = layout_of(made.samples())
    kept_from_s = kept_ranges(layout)[0][0] / RATE_HZ
    # The middle of the breath and its end are cut; a swelling ending fades into the room.
    assert kept_from_s > breath_s[1] - 0.06
    assert kept_from_s < start_s
    assert 0.5 <= master_place(layout, round(start_s * RATE_HZ)) / RATE_HZ <= 0.57


def test_the_plan_says_that_the_breath_went_and_how_loud_it_was() -> None:
    made = Made()
    made.pause(1.0)
    made.noise(0.35, -46.0)
    made.pause(0.2)
    made.speech(2.5)
    made.pause(1.5)
    breath = next(cut for cut in layout_of(made.samples()).cuts if cut.kind == "breath")
    assert "breath" in breath.reason
    assert breath.measured["length_s"] == pytest.approx(0.33, abs=0.06)
    assert breath.measured["peak_dbov"] == pytest.approx(-44.0, abs=4.0)


def test_a_page_and_a_chair_before_the_first_word_go() -> None:
    made = Made()
    made.pause(0.4)
    made.noise(0.6, -34.0, 1_500.0, 10_000.0)
    made.pause(0.9)
    made.noise(0.15, -30.0, 200.0, 1_500.0)
    made.pause(0.7)
    start_s, _ = made.speech(3.0)
    made.pause(2.0)
    layout = layout_of(made.samples())
    assert 0.5 <= master_place(layout, round(start_s * RATE_HZ)) / RATE_HZ <= 0.55
    assert "2 noises" in layout.cuts[0].reason


def test_a_first_consonant_is_not_taken_for_a_breath() -> None:
    made = Made()
    made.pause(1.0)
    hiss_s = made.noise(0.12, -38.0, 4_000.0, 9_000.0)
    made.pause(0.07)
    made.speech(2.5)
    made.pause(1.5)
    layout = layout_of(made.samples())
    assert kept_ranges(layout)[0][0] <= hiss_s[0] * RATE_HZ


def test_the_tail_ends_after_the_last_word() -> None:
    made = Made()
    made.pause(0.8)
    made.speech(2.0)
    made.pause(0.8)
    _, end_s = made.speech(2.0)
    made.pause(1.5)
    made.noise(0.7, -32.0, 1_500.0, 10_000.0)
    made.pause(3.0)
    layout = layout_of(made.samples())
    last = layout.cuts[-1]
    assert last.kind == "tail"
    assert "1 noise in it" in last.reason
    assert master_samples(layout) - master_place(layout, round(end_s * RATE_HZ)) == pytest.approx(
        1.02 * RATE_HZ, abs=0.06 * RATE_HZ
    )


@pytest.mark.parametrize(("head_s", "tail_s"), [(0.5, 1.0), (1.0, 3.0), (0.0, 0.0), (0.25, 5.0)])
def test_ends_are_as_long_as_set_though_the_recording_is_tight(
    head_s: float, tail_s: float
) -> None:
    made = Made()
    made.pause(0.05)
    start_s, _ = made.speech(2.0)
    made.pause(0.9)
    _, end_s = made.speech(2.0)
    made.pause(0.05)
    samples = made.samples()
    layout = layout_of(samples, Ends(head_s=head_s, tail_s=tail_s))
    onset_s = master_place(layout, round(start_s * RATE_HZ)) / RATE_HZ
    assert head_s <= onset_s <= head_s + 0.06
    rest_s = (master_samples(layout) - master_place(layout, round(end_s * RATE_HZ) - 1)) / RATE_HZ
    assert tail_s - 0.02 <= rest_s <= tail_s + 0.08


def test_laid_room_tone_has_the_level_of_the_room() -> None:
    made = Made(room_dbov=-58.0)
    made.pause(0.05)
    made.speech(2.0)
    made.pause(1.2)
    made.speech(2.0)
    made.pause(0.05)
    samples = made.samples()
    layout = layout_of(samples)
    dry = np.concatenate(list(dry_blocks(layout, Held(samples))))
    assert sum(tone.samples for tone in layout.room_tone if tone.place == "head") > 0.4 * RATE_HZ
    assert level_dbov(dry[2_000:22_000]) == pytest.approx(-58.0, abs=2.0)
    assert level_dbov(dry[-40_000:-2_000]) == pytest.approx(-58.0, abs=2.0)


def test_a_recording_without_any_pause_still_gets_its_ends() -> None:
    made = Made()
    made.speech(3.0)
    layout = layout_of(made.samples())
    laid = {tone.place: tone.samples for tone in layout.room_tone}
    assert laid["head"] == pytest.approx(0.5 * RATE_HZ, abs=0.05 * RATE_HZ)
    assert laid["tail"] == pytest.approx(1.0 * RATE_HZ, abs=0.2 * RATE_HZ)


def noise(dbov: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return 10 ** (dbov / 20) * np.random.default_rng(8).normal(size=4 * RATE_HZ)


def bursts() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    made = Made()
    for _ in range(4):
        made.pause(0.7)
        made.noise(0.5, -25.0, 500.0, 9_000.0)
    made.pause(0.7)
    return made.samples()


@pytest.mark.parametrize(
    ("samples", "sentence"),
    [
        (np.zeros(3 * RATE_HZ), "silent from end to end"),
        (np.full(3 * RATE_HZ, 0.1), "silent from end to end"),
        (np.zeros(10), "silent from end to end"),
        (noise(-30.0), "no voice stands out"),
        (noise(-70.0), "no voice stands out"),
        (bursts(), "no voice stands out"),
        (0.1 * np.sin(np.arange(2 * RATE_HZ) / 8.0), "no voice stands out"),
    ],
    ids=["zeros", "dc", "10 samples", "hiss", "faint hiss", "bursts of noise", "tone"],
)
def test_what_holds_no_speech_is_refused(
    samples: np.ndarray[tuple[int], np.dtype[np.float64]], sentence: str
) -> None:
    with pytest.raises(AudioUnfit, match=sentence):
        plan_of(samples)
