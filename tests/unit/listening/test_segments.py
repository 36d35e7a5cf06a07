"""Units of sound: floor and top, dips, changes of voicing, long stretches, slivers."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.segment_features import FEATURES, unit_features
from quietleaf.listening.segments import (
    LEVEL_STEPS,
    SoundWindow,
    Units,
    count_levels,
    units_of,
    window_of,
)
from quietleaf.listening.sound_frames import sound_frames


def test_a_floor_is_that_of_the_seconds_around() -> None:
    draw = np.random.default_rng(1)
    loud = np.repeat(10.0 ** (np.array([-70.0, -40.0]) / 20.0), 20 * 8_000)
    chunks = sound_frames(loud * draw.normal(size=loud.size), 8_000)
    counts = np.zeros(LEVEL_STEPS, dtype=np.int64)
    for chunk in chunks:
        count_levels(chunk, counts)
    window = window_of(chunks, 1, counts)
    assert window.asked == (2000, 4000)
    assert window.floor_dbov[1000] == pytest.approx(-71.5, abs=1.0)
    assert window.floor_dbov[3000] == pytest.approx(-41.5, abs=1.0)
    assert window.top_dbov == pytest.approx(-39.5, abs=1.0)


def test_where_nobody_speaks_the_top_is_remembered() -> None:
    chunks = sound_frames(1e-3 * np.random.default_rng(2).normal(size=10 * 8_000), 8_000)
    counts = np.zeros(LEVEL_STEPS, dtype=np.int64)
    counts[2 * (120 - 20)] = 6_000
    assert window_of(chunks, 0, counts).top_dbov == -32.0


def test_a_dip_of_six_decibels_cuts_and_one_of_five_does_not() -> None:
    level = _level((300, 340, -20.0), (340, 343, -27.0), (343, 380, -20.0))
    assert _spans(_window(level)) == [(300, 340), (340, 380)]
    level = _level((300, 340, -20.0), (340, 343, -25.0), (343, 380, -20.0))
    assert _spans(_window(level)) == [(300, 380)]


def test_a_gap_of_less_than_60_ms_is_closed() -> None:
    near = units_of(_window(_level((300, 340, -20.0), (345, 380, -20.0))))
    far = units_of(_window(_level((300, 340, -20.0), (346, 380, -20.0))))
    assert near.segment_start.tolist() == [300, 300]
    assert far.segment_start.tolist() == [300, 346]


def test_a_change_of_voicing_cuts() -> None:
    window = _window(_level((300, 360, -20.0)))
    window.periodic[:325] = 0.1
    assert _spans(window) == [(300, 325), (325, 360)]


def test_half_a_second_stays_whole() -> None:
    window = _window(_level((300, 330, -20.0), (330, 333, -40.0), (333, 350, -20.0)))
    window.periodic[:325] = 0.1
    assert _spans(window) == [(300, 350)]


def test_dips_of_what_is_not_voiced_do_not_cut() -> None:
    window = _window(_level((300, 340, -20.0), (340, 343, -40.0), (343, 380, -20.0)))
    window.periodic[:] = 0.1
    assert _spans(window) == [(300, 380)]


def test_what_lasts_is_cut_at_its_softest() -> None:
    level = _level((300, 440, -20.0))
    level[365] = -23.0
    assert _spans(_window(level)) == [(300, 365), (365, 440)]


def test_a_sliver_stays_with_its_neighbour() -> None:
    level = _level((300, 302, -20.0), (302, 304, -30.0), (304, 360, -20.0))
    assert _spans(_window(level)) == [(300, 360)]


def test_what_is_weak_against_the_voice_is_left() -> None:
    level = _level((300, 340, -60.0), (500, 540, -20.0))
    assert _spans(_window(level)) == [(500, 540)]


@pytest.mark.parametrize("top_dbov", [-20.0, -50.0])
def test_features_are_finite_and_follow_a_gain(top_dbov: float) -> None:
    draw = np.random.default_rng(4)
    window = _window(_level((300, 340, -20.0), (500, 504, -25.0)))
    gain = np.float32(top_dbov + 20.0)
    window = replace(
        window,
        raw_dbov=window.raw_dbov + gain,
        level_dbov=window.level_dbov + gain,
        floor_dbov=window.floor_dbov + gain,
        low_dbov=window.low_dbov + gain,
        top_dbov=top_dbov,
        mels_dbov=(window.mels_dbov + draw.normal(size=(1000, 24)) + gain).astype(np.float32),
        bands_dbov=(window.bands_dbov + draw.normal(size=(1000, 12)) + gain).astype(np.float32),
    )
    features = unit_features(window, units_of(window))
    assert features.shape == (2, FEATURES)
    assert np.isfinite(features).all()
    assert features[:, 1] == pytest.approx([0.0, -5.0], abs=1e-4)
    assert features[:, 3] == pytest.approx([50.0, 45.0], abs=1e-4)


def test_no_units_have_no_features() -> None:
    window = _window(_level())
    none = np.empty(0, dtype=np.int64)
    units = Units(start=none, stop=none, segment_start=none, segment_stop=none)
    assert unit_features(window, units).shape == (0, FEATURES)


def _level(*spans: tuple[int, int, float]) -> NDArray[np.float32]:
    level = np.full(1000, -70.0, dtype=np.float32)
    for start, stop, dbov in spans:
        level[start:stop] = dbov
    return level


def _window(level: NDArray[np.float32]) -> SoundWindow:
    return SoundWindow(
        first=0,
        asked=(0, level.size),
        raw_dbov=level,
        level_dbov=level,
        floor_dbov=np.full(level.size, -70.0, dtype=np.float32),
        top_dbov=-20.0,
        low_dbov=level - np.float32(3.0),
        quarters_db=np.repeat(level[:, np.newaxis], 4, axis=1),
        mels_dbov=np.repeat(level[:, np.newaxis], 24, axis=1),
        bands_dbov=np.repeat(level[:, np.newaxis], 12, axis=1),
        periodic=np.full(level.size, 0.9, dtype=np.float32),
        pitch_hz=np.full(level.size, 120.0, dtype=np.float32),
    )


def _spans(window: SoundWindow) -> list[tuple[int, int]]:
    units = units_of(window)
    return list(zip(units.start.tolist(), units.stop.tolist(), strict=True))
