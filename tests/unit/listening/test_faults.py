"""Faults put into a made voice are found where they were put, and nowhere else."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.listen import hear
from tests.signals import same_in
from tests.voices import RATE_HZ, Made

KINDS = ("clip", "dropout", "dead-air")


def reading(*, seed: int = 1, pause_s: float = 0.8) -> tuple[NDArray[np.float64], Made]:
    """Make 20 s of sentences of 3 s with pauses between."""
    made = Made(seed=seed)
    made.pause(0.6)
    for _ in range(5):
        made.speech(3.0)
        made.pause(pause_s)
    return made.samples(), made


def heard(sound: NDArray[np.float64], rate: int = RATE_HZ) -> Hearing:
    """Hear one channel."""
    return hear([sound[:, np.newaxis]], rate, 1)


def of_kind(hearing: Hearing, kind: str) -> list[Finding]:
    """Give the findings of one kind."""
    return [finding for finding in hearing.findings if finding.kind == kind]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_nothing_is_found_in_a_good_reading(seed: int) -> None:
    hearing = heard(reading(seed=seed)[0])
    assert hearing.findings == ()
    assert hearing.verdict == "ready"


@pytest.mark.parametrize("full_scale", [1.0, 0.5])
@pytest.mark.parametrize("place_s", [1.0, 5.5, 12.9])
def test_clipping_where_it_was_put(place_s: float, full_scale: float) -> None:
    """The first half second of it three times too loud; full scale may have been turned down."""
    sound, _ = reading()
    start, stop = round(place_s * RATE_HZ), round((place_s + 0.5) * RATE_HZ)
    top = np.abs(sound[start:stop]).max() / 3.0
    sound[start:stop] = np.clip(sound[start:stop], -top, top) * (0.999 / top)
    sound /= max(1.0, np.abs(sound).max())
    found = of_kind(heard(full_scale * sound), "clip")
    assert found
    assert all(place_s - 0.05 <= finding.start_s for finding in found)
    assert all(finding.end_s <= place_s + 0.55 for finding in found)
    assert {finding.severity for finding in found} == {"hear"}


def test_a_tone_turned_up_is_clipped_throughout() -> None:
    n = np.arange(5 * RATE_HZ)
    tone = np.clip(1.5 * np.sin(2 * np.pi * 220 / RATE_HZ * n), -1.0, 32767 / 32768)
    (found,) = of_kind(heard(tone), "clip")
    assert found.start_s < 0.01
    assert found.end_s > 4.99
    assert found.value == pytest.approx(2 * np.arccos(1 / 1.5) / (2 * np.pi) * RATE_HZ / 220, abs=2)


@pytest.mark.parametrize("times", [20.0, 200.0])
def test_a_reading_turned_up_far_too_much_is_to_be_read_again(times: float) -> None:
    """One flat top after another: hardly a sample is left that is none."""
    hearing = heard(np.clip(times * reading()[0], -1.0, 32767 / 32768))
    clipped_s = sum(finding.end_s - finding.start_s for finding in of_kind(hearing, "clip"))
    assert clipped_s > 3.0
    assert hearing.verdict == "read again"
    assert any("cut off at its peaks during" in reason for reason in hearing.reasons)


@pytest.mark.parametrize("frequency_hz", [50, 100, 440, 1_000, 3_000])
def test_a_whole_sine_is_not_clipped(frequency_hz: int) -> None:
    n = np.arange(RATE_HZ)
    tone = 0.9999 * np.sin(2 * np.pi * frequency_hz / RATE_HZ * n)
    assert not of_kind(heard(np.round(tone * 32767) / 32768), "clip")


def test_clipping_in_both_channels_is_told_once() -> None:
    sound, _ = reading()
    start, stop = round(1.0 * RATE_HZ), round(1.5 * RATE_HZ)
    top = np.abs(sound[start:stop]).max() / 4.0
    both = same_in(2, np.clip(sound, -top, top)[start:stop])
    one = of_kind(heard(both[:, 0]), "clip")
    two = of_kind(hear([both], RATE_HZ, 2), "clip")
    assert [(found.start_s, found.end_s) for found in two] == [
        (found.start_s, found.end_s) for found in one
    ]


@pytest.mark.parametrize("rate", [11_025, 16_000, 44_100, 48_000])
@pytest.mark.parametrize("length_s", [0.004, 0.02, 0.3])
def test_lost_sound_where_it_was_put(length_s: float, rate: int) -> None:
    draw = np.random.default_rng(8)
    sound = 0.05 * draw.normal(size=6 * rate)
    sound[3 * rate :] *= 2.0
    start, stop = round(2.0 * rate), round((2.0 + length_s) * rate)
    sound[start:stop] = 0.0
    (found,) = of_kind(heard(sound, rate), "dropout")
    assert found.start_s == pytest.approx(start / rate)
    assert found.end_s == pytest.approx(stop / rate)
    assert found.value == pytest.approx(1000.0 * (stop - start) / rate)
    assert found.severity == "hear"


def test_zeros_too_short_or_at_the_ends_are_no_lost_sound() -> None:
    sound, _ = reading()
    sound[: RATE_HZ // 4] = 0.0
    sound[-RATE_HZ // 4 :] = 0.0
    place = round(1.5 * RATE_HZ)
    sound[place : place + round(0.002 * RATE_HZ)] = 0.0
    assert not of_kind(heard(sound), "dropout")


def test_sound_lost_in_one_channel_alone_begins_where_it_breaks_off() -> None:
    sound = same_in(2, reading()[0])
    sound[2 * RATE_HZ : round(2.1 * RATE_HZ), 0] = 0.0
    zeros = [found for found in of_kind(hear([sound], RATE_HZ, 2), "dropout") if found.unit == "ms"]
    assert not zeros


def test_lost_sound_again_and_again_is_to_be_read_again() -> None:
    sound, _ = reading()
    for place_s in (1.0, 2.0, 5.0, 6.0, 9.0):
        start = round(place_s * RATE_HZ)
        sound[start : start + round(0.02 * RATE_HZ)] = 0.0
    hearing = heard(sound)
    places = [finding.start_s for finding in of_kind(hearing, "dropout")]
    assert places == pytest.approx([1.0, 2.0, 5.0, 6.0, 9.0], abs=0.001)
    assert hearing.verdict == "read again"


@pytest.mark.parametrize(("pause_s", "severity"), [(6.0, "fix"), (4.0, "note"), (2.5, None)])
def test_dead_air_where_it_was_put(pause_s: float, severity: str | None) -> None:
    made = Made()
    made.pause(8.0)  # a long head is none: it is trimmed
    made.speech(5.0)
    made.pause(0.7)
    _, start_s = made.speech(4.0)
    made.pause(pause_s)
    made.speech(5.0)
    made.pause(8.0)
    found = of_kind(heard(made.samples()), "dead-air")
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.start_s == pytest.approx(start_s, abs=0.1)
        assert finding.end_s == pytest.approx(start_s + pause_s, abs=0.1)
        assert finding.value == pytest.approx(pause_s, abs=0.2)


def test_what_dead_air_is_can_be_set() -> None:
    made = Made()
    made.pause(0.5)
    made.speech(3.0)
    made.pause(2.5)
    made.speech(3.0)
    made.pause(0.5)
    hearing = hear([made.samples()[:, np.newaxis]], RATE_HZ, 1, HearingLimits(dead_air_s=2.0))
    assert [finding.severity for finding in of_kind(hearing, "dead-air")] == ["fix"]


@pytest.mark.parametrize("room", ["speech", "continuous"])
def test_no_fault_is_found_in_recorded_readers(recordings: Path, room: str) -> None:
    """Recorded by others and published as good: whatever is found there is ours to explain."""
    found = []
    for file in sorted((recordings / room).rglob("*.flac")):
        sound, rate = soundfile.read(file, always_2d=True)
        hearing = hear([sound], rate, sound.shape[1])
        found += [
            (file.name, finding.kind, round(finding.start_s, 2), finding.value)
            for finding in hearing.findings
            if finding.kind in KINDS and finding.severity != "note"
        ]
    assert found == []
