"""Cuts, joins and gains: exact to the sample, the same each time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from quietleaf.finishing.assembly import (
    BLOCK_SAMPLES,
    dry_blocks,
    kept_ranges,
    master_place,
    master_samples,
    moves_of,
    voice_gain,
)
from quietleaf.finishing.plan import Cut, HighPass, Layout, RoomTone, Sentence
from tests.voices import RATE_HZ, Held

LENGTH = 200_000
HIGH_PASS = HighPass(corner_hz=50.0, order=4, reason="", measured={})


def cut(start: int, stop: int) -> Cut:
    return Cut(kind="dead-air", start=start, stop=stop, reason="", measured={})


def sentence(start: int, stop: int, gain_db: float) -> Sentence:
    return Sentence(start=start, stop=stop, loudness_lufs=-23.0, gain_db=gain_db, reason="")


def layout(
    *cuts: Cut, sentences: tuple[Sentence, ...] = (), room_tone: tuple[RoomTone, ...] = ()
) -> Layout:
    return Layout(
        sound_samples=LENGTH,
        join_samples=480,
        move_samples=12_000,
        end_fade_samples=0,
        head_samples=0,
        tail_samples=0,
        high_pass=HIGH_PASS,
        cuts=cuts,
        room_tone=room_tone,
        sentences=sentences,
    )


def noise(seed: int = 1) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return 0.01 * np.random.default_rng(seed).normal(size=LENGTH)


def test_cuts_that_touch_or_overlap_leave_what_is_outside_all_of_them() -> None:
    plan = layout(cut(0, 1_000), cut(1_000, 3_000), cut(50_000, 60_000), cut(55_000, 70_000))
    assert kept_ranges(plan) == ((3_000, 50_000), (70_000, LENGTH))
    assert master_samples(plan) == 47_000 + 130_000


def test_places_move_by_what_is_cut_before_them() -> None:
    plan = layout(cut(0, 3_000), cut(50_000, 70_000))
    assert master_place(plan, 0) == 0
    assert master_place(plan, 3_000) == 0
    assert master_place(plan, 40_000) == 37_000
    assert master_place(plan, 60_000) == master_place(plan, 70_000) == 47_000
    assert master_place(plan, LENGTH) == master_samples(plan)


def test_outside_a_join_the_samples_are_those_of_the_sound() -> None:
    samples = noise()
    plain = np.concatenate(list(dry_blocks(layout(), Held(samples))))
    joined = np.concatenate(list(dry_blocks(layout(cut(50_000, 70_000)), Held(samples))))
    assert np.array_equal(joined[: 50_000 - 240], plain[: 50_000 - 240])
    # The filter begins anew 0.25 s before the piece: nothing of that is left.
    np.testing.assert_allclose(joined[50_000 + 240 :], plain[70_000 + 240 :], atol=1e-12)


def test_a_join_of_unlike_noise_keeps_its_power() -> None:
    power = []
    for seed in range(60):
        samples = noise(seed)
        joined = np.concatenate(list(dry_blocks(layout(cut(50_000, 120_000)), Held(samples))))
        power.append(np.mean(joined[50_000 - 240 : 50_000 + 240] ** 2))
    assert 10 * np.log10(np.mean(power) / 1e-4) == pytest.approx(0.0, abs=0.15)


def test_dc_makes_no_thump_at_a_join_nor_at_the_ends() -> None:
    samples = noise() + 0.2
    samples[100_000:] += 0.3
    joined = np.concatenate(list(dry_blocks(layout(cut(60_000, 140_000)), Held(samples))))
    assert np.abs(joined).max() < 0.06


@given(st.lists(st.tuples(st.integers(1_000, 190_000), st.integers(1, 20_000)), max_size=4))
def test_the_length_is_what_the_cuts_leave(pairs: list[tuple[int, int]]) -> None:
    cuts = [cut(start, min(start + count, LENGTH - 500)) for start, count in pairs]
    plan = layout(*cuts)
    if any(stop - start < plan.join_samples for start, stop in kept_ranges(plan)):
        return
    rendered = sum(block.size for block in dry_blocks(plan, Held(noise())))
    assert rendered == master_samples(plan)


def test_blocks_are_of_one_second_and_the_same_each_time() -> None:
    plan = layout(cut(70_000, 75_000), sentences=(sentence(2_000, 60_000, 1.0),))
    first = list(dry_blocks(plan, Held(noise())))
    second = list(dry_blocks(plan, Held(noise())))
    assert [block.size for block in first[:-1]] == [BLOCK_SAMPLES] * (len(first) - 1)
    assert all(np.array_equal(a, b) for a, b in zip(first, second, strict=True))


def test_room_tone_is_laid_at_both_ends() -> None:
    head = RoomTone(
        place="head", samples=9_600, seed=1, quiet=((30_000, 60_000),), reason="", measured={}
    )
    tail = replace(head, place="tail", seed=2)
    plan = layout(cut(0, 20_000), room_tone=(head, tail))
    rendered = np.concatenate(list(dry_blocks(plan, Held(noise()))))
    assert rendered.size == LENGTH - 20_000 + 2 * 9_600
    assert master_place(plan, 20_000) == 9_600
    for part in (rendered[:9_000], rendered[-9_000:]):
        assert 10 * np.log10(np.mean(part**2) / 1e-4) == pytest.approx(0.0, abs=1.0)


def test_gain_moves_by_a_raised_cosine_in_the_middle_of_the_pause() -> None:
    plan = layout(sentences=(sentence(10_000, 50_000, 2.0), sentence(90_000, 150_000, -1.0)))
    (move,) = moves_of(plan)
    assert (move.start, move.stop) == (64_000, 76_000)
    gain = voice_gain(plan, (move,), 0, LENGTH)
    assert isinstance(gain, np.ndarray)
    gain_db = 20 * np.log10(gain)
    np.testing.assert_allclose(gain_db[:64_000], 2.0)
    np.testing.assert_allclose(gain_db[76_000:], -1.0)
    # Halfway it is at the middle; the raised cosine is symmetrical about it.
    assert gain_db[69_999:70_001].mean() == pytest.approx(0.5, abs=1e-3)
    np.testing.assert_allclose(gain_db[64_000:70_000] - 0.5, 0.5 - gain_db[75_999:69_999:-1])


@settings(max_examples=25)
@given(st.integers(1, 60_000))
def test_gain_is_the_same_however_the_range_is_cut(size: int) -> None:
    plan = layout(
        sentences=(
            sentence(10_000, 50_000, 2.0),
            sentence(55_000, 80_000, -1.0),
            sentence(100_000, 150_000, 0.5),
        )
    )
    moves = moves_of(plan)
    whole = np.broadcast_to(voice_gain(plan, moves, 0, LENGTH), LENGTH)
    parts = [
        np.broadcast_to(voice_gain(plan, moves, at, min(size, LENGTH - at)), min(size, LENGTH - at))
        for at in range(0, LENGTH, size)
    ]
    np.testing.assert_allclose(np.concatenate(parts), whole, rtol=1e-14)


def test_a_pause_shorter_than_a_move_is_used_whole() -> None:
    plan = layout(sentences=(sentence(10_000, 50_000, 2.0), sentence(53_000, 150_000, -1.0)))
    (move,) = moves_of(plan)
    assert (move.start, move.stop) == (50_000, 53_000)


def test_a_cut_in_the_pause_leaves_the_move_outside_speech() -> None:
    plan = layout(
        cut(55_000, 95_000),
        sentences=(sentence(10_000, 50_000, 2.0), sentence(100_000, 150_000, -1.0)),
    )
    (move,) = moves_of(plan)
    assert move.start >= master_place(plan, 50_000)
    assert move.stop <= master_place(plan, 100_000)


def test_the_ends_rise_from_silence_and_fall_to_it() -> None:
    plan = replace(layout(), end_fade_samples=480)
    rendered = np.concatenate(list(dry_blocks(plan, Held(noise()))))
    plain = np.concatenate(list(dry_blocks(layout(), Held(noise()))))
    assert np.abs(rendered[0]) < 1e-5 * RATE_HZ
    assert np.array_equal(rendered[480:-480], plain[480:-480])
    assert np.abs(rendered[:5]).max() < 0.001 * np.abs(plain[:5]).max()
    assert np.abs(rendered[-5:]).max() < 0.001 * np.abs(plain[-5:]).max()
