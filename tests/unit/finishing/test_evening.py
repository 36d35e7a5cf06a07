"""The even voice: readers brought together, a good reader left alone, nothing pumped."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.finishing.assembly import dry_blocks, master_place
from quietleaf.finishing.plan import Layout
from tests.unit.finishing.planned import layout_of, survey_of
from tests.voices import RATE_HZ, SPEECH_DBOV, Held, Made


def sentences_at(levels_dbov: list[float], seed: int = 5) -> Made:
    made = Made(seed=seed)
    made.pause(0.8)
    for level in levels_dbov:
        made.speech(2.2, level)
        made.pause(0.7)
    made.pause(0.8)
    return made


def loudness_after(made: Made, layout: Layout) -> list[float]:
    samples = made.samples()
    dry = np.concatenate(list(dry_blocks(layout, Held(samples))))
    after = []
    for one in layout.sentences:
        start, stop = master_place(layout, one.start), master_place(layout, one.stop)
        k_power = survey_of(dry[start:stop]).k_power.astype(np.float64)
        after.append(float(-0.691 + 10 * np.log10(np.mean(k_power))))
    return after


def test_two_readers_8_lu_apart_come_together() -> None:
    made = sentences_at([-20.0] * 8 + [-28.0] * 8)
    layout = layout_of(made.samples())
    gains = [one.gain_db for one in layout.sentences]
    assert len(gains) == 16
    assert np.mean(gains[8:]) - np.mean(gains[:8]) == pytest.approx(8.0, abs=1.0)
    after = loudness_after(made, layout)
    assert abs(np.median(after[:8]) - np.median(after[8:])) < 0.6


def test_takes_that_the_timeline_knows_are_matched_too() -> None:
    made = sentences_at([-22.0] * 5 + [-25.0] * 5)
    samples = made.samples()
    known = layout_of(samples).sentences[5].start - 10_000
    layout = layout_of(samples, span_starts=(known,))
    gains = [one.gain_db for one in layout.sentences]
    assert np.mean(gains[5:]) - np.mean(gains[:5]) == pytest.approx(3.0, abs=1.0)
    assert "its span is moved" in layout.sentences[0].reason


def test_a_reader_who_moved_at_a_join_is_matched_from_the_join_on() -> None:
    # The first sentence after it is a soft one: by level alone the step would lie behind it.
    made = sentences_at([-26.0] * 8 + [-25.0] + [-20.0] * 8)
    samples = made.samples()
    unaware = layout_of(samples).sentences
    join = (unaware[7].stop + unaware[8].start) // 2
    aware = layout_of(samples, joins=(join,)).sentences
    assert "its span is moved by +" in unaware[8].reason
    assert "its span is moved by -" in aware[8].reason
    assert aware[8].gain_db < unaware[8].gain_db - 0.5


def test_a_good_reader_keeps_the_expression_of_a_reading() -> None:
    made = sentences_at([SPEECH_DBOV + d for d in (0.4, -0.6, 0.2, 0.7, -0.3, 0.1, -0.5, 0.3)])
    gains = np.array([one.gain_db for one in layout_of(made.samples()).sentences])
    assert np.abs(gains).mean() < 0.3


def test_one_quiet_sentence_is_brought_near() -> None:
    levels = [SPEECH_DBOV] * 9
    levels[4] -= 4.0
    made = sentences_at(levels)
    layout = layout_of(made.samples())
    assert 1.5 <= layout.sentences[4].gain_db <= 4.0
    others = [one.gain_db for index, one in enumerate(layout.sentences) if index != 4]
    assert np.abs(others).max() < 1.2


def test_gain_is_constant_inside_each_sentence_and_moves_in_the_pauses() -> None:
    made = sentences_at([-20.0] * 4 + [-27.0] * 4 + [-23.0] * 3)
    samples = made.samples()
    layout = layout_of(samples)
    assert len({one.gain_db for one in layout.sentences}) > 1
    flat = Layout(
        **{name: getattr(layout, name) for name in Layout.__slots__ if name != "sentences"},
        sentences=(),
    )
    even = np.concatenate(list(dry_blocks(layout, Held(samples))))
    plain = np.concatenate(list(dry_blocks(flat, Held(samples))))
    heard = np.abs(plain) > 1e-6
    for one in layout.sentences:
        start, stop = master_place(layout, one.start), master_place(layout, one.stop)
        inside = heard[start:stop]
        ratio = even[start:stop][inside] / plain[start:stop][inside]
        # To the last digit: nothing pumps between two words.
        np.testing.assert_allclose(20 * np.log10(ratio), one.gain_db, atol=1e-9)


def test_a_murmur_far_under_the_reading_is_not_pulled_up() -> None:
    levels = [SPEECH_DBOV] * 8
    levels[3] -= 16.0
    made = sentences_at(levels)
    layout = layout_of(made.samples())
    assert layout.sentences[3].gain_db == 0.0
    assert "not taken for reading" in layout.sentences[3].reason


def test_the_gain_takes_a_quarter_of_a_second_at_most() -> None:
    made = sentences_at([-20.0] * 6 + [-28.0] * 6)
    assert layout_of(made.samples()).move_samples == RATE_HZ // 4
