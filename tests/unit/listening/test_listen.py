"""Hearing as a whole: silence, refusals, laws, and what a caller may rely on."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.errors import AudioUnfit, Invalid
from quietleaf.listening import listen
from quietleaf.listening.listen import hear
from tests.signals import same_in, speech_like, stepped_tone


@pytest.mark.parametrize("samples", [0, 1, 100, 479, 48_000])
@pytest.mark.parametrize("channels", [1, 2, 6])
def test_silence_gives_none_everywhere(channels: int, samples: int) -> None:
    hearing = hear([np.zeros((samples, channels))], 48_000, channels)
    assert hearing.duration_s == samples / 48_000
    loudness, peak, level = hearing.loudness, hearing.peak, hearing.level
    assert loudness.integrated_lufs is loudness.range_lu is None
    assert loudness.momentary_max_lufs is loudness.short_term_max_lufs is None
    assert peak.sample_dbfs is peak.true_dbtp is None
    assert level.active_speech_dbov is level.noise_floor_dbov is None
    assert level.dc == 0.0
    assert hearing.speech_s.shape == hearing.pauses_s.shape == (0, 2)
    assert hearing.findings == ()
    assert hearing.verdict == "read again"
    assert not hearing.track.speech.any()
    assert (hearing.track.level_dbov == -np.inf).all()
    assert (hearing.curve.momentary_lufs == -np.inf).all()


def test_no_blocks_at_all() -> None:
    hearing = hear([], 44_100, 2)
    assert hearing.duration_s == 0.0
    assert hearing.curve.time_s.size == hearing.curve.short_term_lufs.size == 0


@pytest.mark.parametrize("samples", [1, 5, 400])
def test_a_moment_has_a_peak_and_no_loudness(samples: int) -> None:
    hearing = hear([np.full((samples, 1), -0.5)], 48_000, 1)
    assert hearing.peak.sample_dbfs == pytest.approx(-6.02, abs=0.01)
    assert hearing.level.dc == pytest.approx(-0.5)
    assert hearing.loudness.integrated_lufs is None


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e200, -2e10])
@pytest.mark.parametrize("place", [0, 30_000, 47_999])
def test_what_is_no_number_is_refused(place: int, bad: float) -> None:
    sound = speech_like(1, 1.0)[:, np.newaxis]
    sound[place] = bad
    with pytest.raises(AudioUnfit, match="Export the recording again"):
        hear([sound, np.zeros((48_000, 1))], 48_000, 1)


def test_the_largest_sample_is_measured() -> None:
    sound = speech_like(1, 2.0)[:, np.newaxis]
    hearing = hear([sound * (1e10 / np.abs(sound).max())], 48_000, 1)
    assert hearing.peak.sample_dbfs == pytest.approx(200.0)


def test_low_rates_and_wrong_shapes_are_refused() -> None:
    with pytest.raises(AudioUnfit, match="at least 8000 samples a second"):
        hear([], 7_000, 1)
    with pytest.raises(Invalid, match="at least one channel; this one has 0"):
        hear([], 48_000, 0)
    for shape in ((10,), (10, 1), (10, 3)):
        with pytest.raises(Invalid, match=r"the shape \(samples, 2\) here; this one has"):
            hear([np.zeros(shape)], 48_000, 2)


@pytest.mark.parametrize("gain_db", [-20.0, -6.0, 6.0])
def test_a_gain_moves_every_level_by_as_much(gain_db: float) -> None:
    sound = speech_like(3, 8.0)[:, np.newaxis]
    before = hear([sound], 48_000, 1)
    after = hear([sound * 10.0 ** (gain_db / 20.0)], 48_000, 1)
    pairs = [
        (before.loudness.integrated_lufs, after.loudness.integrated_lufs),
        (before.loudness.momentary_max_lufs, after.loudness.momentary_max_lufs),
        (before.loudness.short_term_max_lufs, after.loudness.short_term_max_lufs),
        (before.peak.sample_dbfs, after.peak.sample_dbfs),
        (before.peak.true_dbtp, after.peak.true_dbtp),
        (before.level.active_speech_dbov, after.level.active_speech_dbov),
        (before.level.noise_floor_dbov, after.level.noise_floor_dbov),
    ]
    for was, is_now in pairs:
        assert was is not None
        # The noise floor may take the stretches of speech a frame longer or shorter.
        assert is_now == pytest.approx(was + gain_db, abs=0.1)
    assert after.loudness.range_lu == pytest.approx(before.loudness.range_lu, abs=0.01)


def test_dual_mono_is_3_lu_louder_and_otherwise_the_same() -> None:
    sound = speech_like(3, 8.0)
    one, two = hear([same_in(1, sound)], 48_000, 1), hear([same_in(2, sound)], 48_000, 2)
    assert one.loudness.integrated_lufs is not None
    assert two.loudness.integrated_lufs == pytest.approx(
        one.loudness.integrated_lufs + 10.0 * np.log10(2.0), abs=1e-9
    )
    assert (one.peak, one.level) == (two.peak, two.level)
    np.testing.assert_array_equal(one.speech_s, two.speech_s)


def test_levels_are_those_of_the_louder_channel() -> None:
    sound = speech_like(3, 8.0)
    one = hear([same_in(1, sound)], 48_000, 1)
    two = hear([np.column_stack([0.1 * sound, sound - 0.001])], 48_000, 2)
    assert two.level.active_speech_dbov == pytest.approx(one.level.active_speech_dbov, abs=0.01)
    assert two.level.dc == pytest.approx(-0.001, abs=1e-4)


def test_curve_and_track_lie_on_the_sound() -> None:
    tone = stepped_tone((-np.inf, 2.0), (-23.0, 4.0), (-np.inf, 2.05), frequency_hz=1_000.0)
    hearing = hear([same_in(2, tone)], 48_000, 2)
    curve, track = hearing.curve, hearing.track
    assert curve.time_s.size == 80
    assert curve.time_s[0] == pytest.approx(0.1)
    assert curve.momentary_lufs[23] == pytest.approx(-23.0, abs=0.1)  # 2.0 to 2.4 s
    assert curve.short_term_lufs[49] == pytest.approx(-23.0, abs=0.1)  # 2.0 to 5.0 s
    assert curve.momentary_lufs[19] == curve.short_term_lufs[28] == -np.inf
    assert track.level_dbov.size == 805
    assert track.level_dbov[300] == pytest.approx(-26.0, abs=0.3)
    assert track.level_dbov[199] == -np.inf
    assert track.hop_s * track.level_dbov.size == pytest.approx(hearing.duration_s, abs=0.01)


def test_the_block_is_left_as_it_was() -> None:
    sound = speech_like(1, 1.0)[:, np.newaxis]
    kept = sound.copy()
    state = listen.start(48_000, 1)
    listen.step(state, sound)
    listen.result(state)
    np.testing.assert_array_equal(sound, kept)
