"""One channel of several: a voice by formula, put at microphones as people put them."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from quietleaf.errors import AudioUnfit
from quietleaf.listening.channels import ChannelChoice, choose_channel
from tests.voices import Made, reading

Sound = NDArray[np.float64]
# Every third sample: what folds down is as good a voice, and 16 kHz is quicker than 48.
RATE_HZ = 16_000
READING = reading(seed=3, sentences=10).samples()[::3]
OTHER = reading(seed=8, sentences=14).samples()[::3][: len(READING)]
N = len(READING)
NOTHING = np.zeros(N)
LEFT, RIGHT = (1.0, 0.0), (0.0, 1.0)


def hiss(level_db: float, seed: int = 1) -> Sound:
    return 10 ** (level_db / 20) * np.random.default_rng(seed).standard_normal(N)


def hum(level_db: float) -> Sound:
    time_s = np.arange(N) / RATE_HZ
    sound = sum(np.sin(2 * np.pi * 50 * k * time_s + k) / k for k in (1, 2, 3, 5, 7))
    return np.asarray(10 ** (level_db / 20) * sound)


def later(sound: Sound, samples: int) -> Sound:
    return np.concatenate([np.zeros(samples), sound])[:N]


def room(sound: Sound, level_db: float, seed: int) -> Sound:
    """Hear a sound from afar: noise that dies away in 0.3 s stands for a room's response."""
    draw = np.random.default_rng(seed).standard_normal(round(0.3 * RATE_HZ))
    response = draw * np.exp(-np.arange(len(draw)) / (0.06 * RATE_HZ))
    return np.asarray(
        fftconvolve(sound, response / np.sqrt(np.sum(response**2)))[:N] * 10 ** (level_db / 20)
    )


def choose(*channels: Sound) -> ChannelChoice:
    return choose_channel([np.column_stack(channels)], RATE_HZ)


def test_one_channel_is_taken_as_it_is() -> None:
    choice = choose(READING)
    assert (choice.kind, choice.weights) == ("only channel", (1.0,))
    assert choice.peak == np.abs(READING).max()
    assert choice.mono(READING[:, np.newaxis]) is not None
    assert (choice.mono(READING[:, np.newaxis]) == READING).all()


BESIDE = {
    "nothing": NOTHING,
    "the same value always": NOTHING + 0.01,
    "a step now and then": np.round(hiss(-100) * 2**15) / 2**15,
    "hiss": hiss(-60),
    "loud hiss": hiss(-35),
    "hum": hum(-50),
    "loud hum": hum(-25),
    "crosstalk 20 dB down": 0.1 * READING + hiss(-85),
    "crosstalk 20 dB down, turned round": -0.1 * READING + hiss(-85),
    "crosstalk 40 dB down": 0.01 * READING + hiss(-90),
    "an open microphone far away": room(READING, -22.0, 1) + hiss(-66),
}


@pytest.mark.parametrize("other", BESIDE.values(), ids=BESIDE)
def test_a_microphone_on_one_side_is_taken_at_full_level_and_never_mixed(other: Sound) -> None:
    for channels, weights in (((READING, other), LEFT), ((other, READING), RIGHT)):
        choice = choose(*channels)
        assert choice.weights == weights
        assert (choice.mono(np.column_stack(channels)) == READING).all()
        assert choice.peak == np.abs(READING).max()
        side = "left" if weights == LEFT else "right"
        assert f"the {side} channel" in choice.sentence.lower()


@pytest.mark.parametrize("gain", [1.0, 0.5, 0.9])
def test_the_same_on_both_is_one_side_and_no_sum(gain: float) -> None:
    choice = choose(READING, gain * READING + hiss(-98))
    assert choice.kind == "same on both"
    assert choice.weights == LEFT or gain == 1.0
    exact = choose(READING, READING)
    assert (exact.kind, exact.weights) == ("same on both", LEFT)


@pytest.mark.parametrize("gain", [1.0, 0.7, 0.5])
@pytest.mark.parametrize("noise_db", [-90.0, -60.0])
def test_channels_that_cancel_are_refused(gain: float, noise_db: float) -> None:
    with pytest.raises(AudioUnfit, match=r"cancel each other.*Swap the two wires of one side"):
        choose(READING + hiss(noise_db, 1), -gain * READING + hiss(noise_db, 2))


def test_a_pair_is_averaged_and_keeps_its_level() -> None:
    left = READING + room(READING, -20.0, 1) + hiss(-60, 1)
    right = 0.9 * READING + room(READING, -20.0, 2) + hiss(-60, 2)
    choice = choose(left, right)
    assert (choice.kind, choice.weights) == ("pair", (0.5, 0.5))
    mono = choice.mono(np.column_stack([left, right]))
    loss_db = 10 * np.log10(np.mean(mono**2) / np.mean(left**2))
    assert -1.0 < loss_db < 0.0
    assert choice.peak == pytest.approx(np.abs(mono).max(), abs=1e-12)


def test_one_voice_at_two_places_is_taken_from_the_clearer() -> None:
    near = READING + room(READING, -18.0, 1) + hiss(-66, 1)
    away = later(0.5 * READING, 96) + room(READING, -12.0, 2) + hiss(-50, 2)
    assert choose(near, away).kind == "two places"
    assert choose(near, away).weights == LEFT
    assert choose(away, near).weights == RIGHT


def turns(bleed_db: float, second_from: float) -> tuple[Sound, Sound]:
    """Let two readers take turns of 4 s, or the second only from a place on."""
    place = np.arange(N) / N
    second = (
        place >= second_from if second_from else (np.arange(N) // (4 * RATE_HZ)) % 2 == 1
    ).astype(float)
    one, two = READING * (1.0 - second), OTHER * second
    return (
        one + room(two, bleed_db, 1) + hiss(-66, 1),
        two + room(one, bleed_db, 2) + hiss(-66, 2),
    )


@pytest.mark.parametrize("bleed_db", [-60.0, -20.0, -14.0])
@pytest.mark.parametrize("second_from", [0.0, 0.8])
@pytest.mark.parametrize("second_gain", [1.0, 0.5, 0.15])
def test_two_readers_are_added_and_stay_as_loud(
    bleed_db: float, second_from: float, second_gain: float
) -> None:
    left, right = turns(bleed_db, second_from)
    choice = choose(left, second_gain * right)
    assert (choice.kind, choice.weights) == ("two readers", (1.0, 1.0))
    mono = choice.mono(np.column_stack([left, second_gain * right]))
    assert choice.peak == pytest.approx(np.abs(mono).max(), abs=1e-12)


def test_different_sound_at_the_same_time_is_for_a_person_to_choose() -> None:
    with pytest.raises(AudioUnfit, match=r"different sound at the same time.*Export the reader"):
        choose(READING, OTHER)


def test_something_loud_now_and_then_on_the_idle_side_is_told() -> None:
    long = np.tile(READING, 6)
    idle = np.tile(hiss(-66), 6)
    # 2.4 s in all, of 150 s: where the reader pauses, at the end of each round.
    for end in range(N, 6 * N + 1, N):
        idle[end - 2 * RATE_HZ // 5 : end] *= 300.0
    choice = choose(long, idle)
    assert choice.weights == LEFT
    assert "hiss or hum, and for 0:02 in all something louder, which was left out" in (
        choice.sentence
    )


def test_channels_without_any_sound_are_refused() -> None:
    for channels in ((NOTHING,), (NOTHING, NOTHING + 0.1), (NOTHING, NOTHING, NOTHING)):
        with pytest.raises(AudioUnfit, match=r"every sample of this one is the same"):
            choose(*channels)


def test_tones_have_an_answer_too() -> None:
    time_s = np.arange(N) / RATE_HZ
    tone = 0.1 * np.sin(2 * np.pi * 440 * time_s)
    assert choose(tone, NOTHING).weights == LEFT
    assert choose(tone, tone).kind == "same on both"
    assert choose(0.5 * tone, tone).weights == RIGHT
    assert choose(tone, 0.05 * tone + hiss(-90)).weights == LEFT
    with pytest.raises(AudioUnfit, match="cancel"):
        choose(tone, -tone)
    with pytest.raises(AudioUnfit, match="different"):
        choose(tone, 0.1 * np.sin(2 * np.pi * 700 * time_s))


def test_the_clearest_of_many() -> None:
    far = [room(READING, level, seed) + hiss(-60, seed) for seed, level in ((1, -8.0), (2, -12.0))]
    choice = choose(far[0], far[1], READING, hiss(-50, 3))
    assert (choice.kind, choice.weights) == ("one of many", (0.0, 0.0, 1.0, 0.0))
    assert "Of its 4 channels channel 3 is the clearest" in choice.sentence
    surround = choose(NOTHING, NOTHING, READING, NOTHING, hiss(-80, 1), hiss(-80, 2))
    assert surround.weights == (0.0, 0.0, 1.0, 0.0, 0.0, 0.0)
    alone = choose(NOTHING, READING, NOTHING)
    assert (alone.kind, alone.weights) == ("one side", (0.0, 1.0, 0.0))


def test_readers_at_many_microphones_are_for_a_person_to_choose() -> None:
    left, right = turns(-20.0, 0.0)
    with pytest.raises(AudioUnfit, match="different sound"):
        choose(left, right, hiss(-60, 4))


@pytest.mark.parametrize("samples", [1, 2, 100, 4_800, 5_000])
def test_a_recording_shorter_than_a_frame(samples: int) -> None:
    draw = np.random.default_rng(2).standard_normal((samples, 1)) * 0.1
    both = np.hstack([draw, 0.5 * draw])
    if samples == 1:
        with pytest.raises(AudioUnfit, match="the same"):
            choose_channel([both], RATE_HZ)
    else:
        assert choose_channel([both], RATE_HZ).weights == LEFT


def test_samples_that_cannot_be_meant() -> None:
    with pytest.raises(AudioUnfit, match="ten thousand million"):
        choose(READING * 1e12, READING)


def test_a_rate_of_4000_hz() -> None:
    draw = Made(seed=4)
    draw.pause(0.5)
    draw.speech(3.0)
    draw.pause(0.5)
    low = draw.samples()[::12]
    assert choose_channel([np.column_stack([low, 0 * low])], 4_000).weights == LEFT
