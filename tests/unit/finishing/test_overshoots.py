"""Overshoots over a ceiling are found wherever the blocks are cut, and dips cure them."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from quietleaf.finishing.drive import dip_gain
from quietleaf.finishing.overshoots import EXTRA_DB, find_overshoots, with_dips
from quietleaf.finishing.plan import Dip, Drive, Mp3
from tests.voices import RATE_HZ

DRIVE = Drive(
    gain_db=0.0, aim_dbtp=-2.5, look_ahead_ms=3.0, release_ms=50.0, reason="", measured={}
)
MP3 = Mp3(kbps=64, quality=7, encoder_gain_db=0.446, drive=DRIVE, dips=(), rounds=1)


def tone_with_peaks(*places: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    samples = 0.5 * np.sin(2 * np.pi * 200.0 * np.arange(2 * RATE_HZ) / RATE_HZ)
    for place in places:
        samples[place - 200 : place + 200] *= 1.0 + np.hanning(400)
    return samples


SAMPLES = tone_with_peaks(20_000, 60_000)


@settings(max_examples=30)
@given(st.lists(st.integers(0, SAMPLES.size), max_size=5))
def test_spots_are_the_same_however_the_sound_is_cut(cuts: list[int]) -> None:
    whole = find_overshoots([SAMPLES], SAMPLES.size, -2.0)
    parted = find_overshoots(np.split(SAMPLES, sorted(cuts)), SAMPLES.size, -2.0)
    assert parted == whole


def test_each_spot_has_its_place_and_how_much_it_is_over() -> None:
    first, second = find_overshoots([SAMPLES], SAMPLES.size, -2.0)
    assert first.start < 20_000 < first.stop
    assert second.start < 60_000 < second.stop
    assert 0.5 < first.over_db < 2.1


def test_nothing_is_over_a_high_ceiling() -> None:
    assert find_overshoots([SAMPLES], SAMPLES.size, 3.0) == ()
    assert find_overshoots([], 0, -1.0) == ()


def test_dips_bring_the_spots_under_the_ceiling_and_leave_the_rest() -> None:
    overshoots = find_overshoots([SAMPLES], SAMPLES.size, -2.0)
    dips = with_dips(MP3, overshoots).dips
    gain = dip_gain(dips, 0, SAMPLES.size)
    assert gain is not None
    assert find_overshoots([SAMPLES * gain], SAMPLES.size, -2.0) == ()
    assert (gain[30_000:50_000] == 1.0).all()
    assert np.abs(np.diff(20 * np.log10(gain))).max() < 0.05


def test_a_spot_in_a_dip_makes_it_deeper() -> None:
    once = with_dips(MP3, find_overshoots([SAMPLES], SAMPLES.size, -2.0))
    again = with_dips(once, find_overshoots([SAMPLES], SAMPLES.size, -2.0))
    assert len(again.dips) == len(once.dips)
    for before, after in zip(once.dips, again.dips, strict=True):
        assert after.gain_db < before.gain_db - EXTRA_DB


@given(st.integers(1, 9_000))
def test_dips_are_the_same_however_the_range_is_cut(size: int) -> None:
    dips = (Dip(start=5_000, stop=6_000, gain_db=-2.0), Dip(start=6_300, stop=6_400, gain_db=-1.0))
    whole = dip_gain(dips, 0, 12_000)
    assert whole is not None
    parts = []
    for at in range(0, 12_000, size):
        count = min(size, 12_000 - at)
        part = dip_gain(dips, at, count)
        parts.append(np.ones(count) if part is None else part)
    np.testing.assert_allclose(np.concatenate(parts), whole, rtol=1e-14)
