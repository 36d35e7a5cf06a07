"""First and last words of takes: whole, and paper, keys and clicks outside.

What is asked of recorded voices: hardly a word loses more than 10 ms that stand out of the room,
and none anything once the room that stays with it is counted (0.2 s before, 0.3 s after). The true
edges of a recorded sentence are walked to on its own, without a noise and in its own room, by level
alone.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from numpy.typing import NDArray

from quietleaf.listening.take_edges import word_edges
from tests.voices import RATE_HZ, SPEECH_DBOV, Made

BEFORE_S, AFTER_S = 0.2, 0.3
LOST_S_MOST = 0.01


def made_take(
    seed: int, room_dbov: float, noise_dbov: float = -32.0
) -> tuple[Made, float, float, float, float]:
    """Make a take with paper at both ends; give it, and where paper and words begin and end."""
    made = Made(seed=seed, room_dbov=room_dbov)
    made.pause(0.3)
    _, paper_stop = made.noise(0.7, noise_dbov, 300.0, 7_000.0)
    made.pause(0.4)
    start, _ = made.noise(0.09, SPEECH_DBOV - 12.0, 3_000.0, 9_000.0)
    made.speech(1.5)
    made.pause(0.5)
    _, stop = made.speech(1.5)
    made.pause(0.5)
    paper_start, _ = made.noise(0.8, noise_dbov, 300.0, 7_000.0)
    made.pause(0.2)
    return made, paper_stop, start, stop, paper_start


@pytest.mark.parametrize("room_dbov", [-75.0, -65.0, -55.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_words_are_whole_and_paper_is_outside(seed: int, room_dbov: float) -> None:
    made, paper_stop, start, stop, paper_start = made_take(seed, room_dbov)
    edges = word_edges(made.samples(), RATE_HZ)
    assert edges is not None
    # Both ends of a made word swell and fade over some 10 ms, so that a louder room covers them.
    assert paper_stop - 0.02 < edges.first_word / RATE_HZ <= start + LOST_S_MOST
    assert stop - LOST_S_MOST <= edges.last_word_end / RATE_HZ < paper_start + 0.02
    assert edges.first_word / RATE_HZ > start - 0.06
    assert edges.last_word_end / RATE_HZ < stop + 0.06
    assert edges.clean_from / RATE_HZ == pytest.approx(paper_stop, abs=0.06)
    assert edges.clean_until / RATE_HZ == pytest.approx(paper_start, abs=0.06)


@pytest.mark.parametrize("gain_db", [-24.0, 12.0])
def test_a_gain_moves_nothing(gain_db: float) -> None:
    made, *_ = made_take(4, -65.0)
    samples = made.samples()
    assert word_edges(samples * 10.0 ** (gain_db / 20.0), RATE_HZ) == word_edges(samples, RATE_HZ)


def test_backwards_the_ends_change_places() -> None:
    """Law: a take played backwards has its words between the same samples, within a frame.

    A made voice is as periodic backwards; the reach of a word differs, and its parts here are far
    shorter than either.
    """
    made = Made(seed=5)
    made.pause(0.8)
    made.speech(2.0)
    made.pause(0.9)
    samples = made.samples()
    forwards, backwards = word_edges(samples, RATE_HZ), word_edges(samples[::-1].copy(), RATE_HZ)
    assert forwards is not None
    assert backwards is not None
    assert abs(samples.size - backwards.last_word_end - forwards.first_word) < 0.02 * RATE_HZ
    assert abs(samples.size - backwards.first_word - forwards.last_word_end) < 0.02 * RATE_HZ


def test_where_no_voice_is_there_are_no_edges() -> None:
    assert word_edges(np.zeros(0), RATE_HZ) is None
    assert word_edges(np.zeros(RATE_HZ), RATE_HZ) is None
    assert word_edges(np.full(RATE_HZ, 0.3), RATE_HZ) is None
    made = Made(seed=6)
    made.pause(1.0)
    made.noise(0.8, -30.0, 300.0, 7_000.0)
    made.pause(1.0)
    assert word_edges(made.samples(), RATE_HZ) is None
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    hum = sum(0.01 / k * np.sin(2 * np.pi * 100.0 * k * time_s) for k in range(1, 8))
    assert word_edges(np.asarray(hum), RATE_HZ) is None


def test_a_voice_from_end_to_end_stays_whole() -> None:
    made = Made(seed=7)
    made.speech(3.0)
    edges = word_edges(made.samples(), RATE_HZ)
    assert edges is not None
    assert (edges.first_word, edges.last_word_end) == (0, made.samples().size)


def test_paper_that_touches_the_word_takes_nothing_of_it() -> None:
    for seed in range(4):
        made = Made(seed=seed)
        made.pause(0.2)
        made.noise(0.9, -34.0, 300.0, 7_000.0)
        start, stop = made.speech(2.0)
        made.noise(0.9, -34.0, 300.0, 7_000.0)
        made.pause(0.2)
        edges = word_edges(made.samples(), RATE_HZ)
        assert edges is not None
        assert edges.first_word <= start * RATE_HZ
        assert edges.last_word_end >= stop * RATE_HZ


def test_closing_words_stay_though_their_vowels_are_others() -> None:
    # A voice deeper than the rest, as it was fed to a stand: its last 2 s are unlike the others.
    made = Made(seed=11, room_dbov=-68.0)
    for rustles, length_s in ((0, 3.0), (0, 3.0), (2, 2.5), (2, 2.5), (0, 2.5), (0, 2.0)):
        made.pause(2.0)
        for _ in range(rustles):
            made.noise(0.7, -34.0, 1_500.0, 7_000.0)
            made.pause(0.5)
        _, stop = made.speech(length_s)
    made.pause(0.5)
    made.noise(0.7, -34.0, 1_500.0, 7_000.0)
    made.pause(1.0)
    samples = made.samples()
    for seconds in (12, 11, 10, 9, 8):
        start = samples.size - seconds * RATE_HZ
        edges = word_edges(samples[start:], 44_100)
        assert edges is not None
        assert abs(start + edges.last_word_end - stop * RATE_HZ) < 0.1 * RATE_HZ


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoken:
    """A recorded sentence at -26 dBov, and where its words begin and end."""

    samples: NDArray[np.float64]
    rate_hz: int
    start: int
    stop: int


NOISES = ("page_turn", "paper_rustle", "cloth_rustle", "keyboard", "click")
VOICES = ("lj", "p225", "p226", "p273", "p286", "ls1688", "ls1998", "ls2414", "arctic", "barnes")
ROOMS_DBOV = (-75.0, -65.0, -58.0)
GAPS_S = (0.3, 0.5, 1.0)
TAKES = 90


def sound_of(path: Path) -> tuple[NDArray[np.float64], int]:
    """Read a recording as one channel."""
    samples, rate_hz = soundfile.read(path, always_2d=True)
    return samples[:, 0], rate_hz


def levels_dbov(
    samples: NDArray[np.float64], rate_hz: int
) -> tuple[NDArray[np.int64], NDArray[np.float64], int]:
    """Give starts, levels above 80 Hz and length of windows of 10 ms, every 2.5 ms."""
    spectrum = np.fft.rfft(samples)
    spectrum[np.fft.rfftfreq(samples.size, 1.0 / rate_hz) < 80.0] = 0.0
    sums = np.concatenate([[0.0], np.cumsum(np.fft.irfft(spectrum, samples.size) ** 2)])
    length = round(0.01 * rate_hz)
    starts = np.arange(0, samples.size - length, round(0.0025 * rate_hz))
    power = (sums[starts + length] - sums[starts]) / length
    return starts, 10.0 * np.log10(np.maximum(power, 1e-14)), length


def spoken(samples: NDArray[np.float64], rate_hz: int) -> Spoken:
    """Walk from the loud middle outwards to 15 ms of the sentence's own quiet."""
    starts, level, length = levels_dbov(samples, rate_hz)
    voice = 10.0 * np.log10(np.mean(10.0 ** (level[level > np.percentile(level, 95) - 16] / 10)))
    room = float(np.percentile(level, 3))
    quiet = level < max(room + 4.0, voice - 38.0)
    loud = np.flatnonzero(level > max(voice - 20.0, room + 8.0))
    first, last = int(loud[0]), int(loud[-1])
    while first > 6 and not quiet[first - 6 : first].all():
        first -= 1
    while last < level.size - 7 and not quiet[last + 1 : last + 7].all():
        last += 1
    return Spoken(
        samples=samples * 10.0 ** ((-26.0 - voice) / 20.0),
        rate_hz=rate_hz,
        start=int(starts[first]) + length // 4,
        stop=int(starts[last]) + length - length // 4,
    )


def event(path: Path, rate_hz: int, peak_dbov: float) -> NDArray[np.float64]:
    """Read a noise, cut to what is heard of it, at a level."""
    samples, own_hz = sound_of(path)
    samples = samples if own_hz == rate_hz else soxr.resample(samples, own_hz, rate_hz)
    starts, level, length = levels_dbov(np.pad(samples, rate_hz // 50), rate_hz)
    heard = np.flatnonzero(level > level.max() - 30.0)
    begin = max(0, int(starts[heard[0]]) - rate_hz // 50)
    end = int(starts[heard[-1]]) + length - rate_hz // 50
    kept: NDArray[np.float64] = samples[begin:end] * 10.0 ** ((peak_dbov - level.max()) / 20.0)
    return kept


def room_noise(count: int, rate_hz: int, draw: np.random.Generator) -> NDArray[np.float64]:
    """Make noise of 20 Hz and up that falls by 3 dB an octave, RMS 1."""
    spectrum = np.fft.rfft(draw.normal(size=count))
    hz = np.fft.rfftfreq(count, 1.0 / rate_hz)
    spectrum *= (hz >= 20.0) / np.sqrt(np.maximum(hz, 50.0))
    noise = np.fft.irfft(spectrum, count)
    level: NDArray[np.float64] = noise / np.sqrt(np.mean(noise**2))
    return level


def test_recorded_words_are_whole_and_paper_is_outside(recordings: Path) -> None:
    draw = np.random.default_rng(20261125)
    catalogue = json.loads((recordings / "catalogue.json").read_text("utf-8"))
    clips = [
        recordings / item["file"]
        for item in (catalogue if isinstance(catalogue, list) else catalogue["files"])
        if item["kind"] == "speech" and item["file"].split("/")[1].startswith(VOICES)
    ]
    noises = sorted(path for kind in NOISES for path in recordings.glob(f"events/{kind}/*.flac"))
    assert len(clips) > 80
    assert len(noises) > 20
    kept, lost = 0, 0
    for _ in range(TAKES):
        voice = spoken(*sound_of(clips[draw.integers(len(clips))]))
        rate_hz = voice.rate_hz
        before, after = (
            event(noises[draw.integers(len(noises))], rate_hz, float(draw.uniform(-51.0, -23.0)))
            for _ in range(2)
        )
        gaps = [round(float(draw.choice(GAPS_S)) * rate_hz) for _ in range(2)]
        lead = round(float(draw.uniform(0.0, 1.0)) * rate_hz)
        room_dbov = float(draw.choice(ROOMS_DBOV))

        clip_at = max(0, lead + before.size + gaps[0] - voice.start)
        start, stop = clip_at + voice.start, clip_at + voice.stop
        noise_at = start - gaps[0] - before.size
        after_at = stop + gaps[1]
        count = max(after_at + after.size, clip_at + voice.samples.size) + lead
        take = room_noise(count, rate_hz, draw) * 10.0 ** (room_dbov / 20.0)
        take[clip_at : clip_at + voice.samples.size] += voice.samples
        take[noise_at : noise_at + before.size] += before
        take[after_at : after_at + after.size] += after

        edges = word_edges(take, rate_hz)
        assert edges is not None
        assert edges.first_word - BEFORE_S * rate_hz <= start
        assert edges.last_word_end + AFTER_S * rate_hz >= stop
        for begin, end in ((start, edges.first_word), (edges.last_word_end, stop)):
            if end - begin > LOST_S_MOST * rate_hz:
                gone = voice.samples[begin - clip_at : end - clip_at]
                lost += bool(10.0 * np.log10(np.mean(gone**2)) > room_dbov + 2.0)
        kept += edges.first_word < start - gaps[0] - 0.02 * rate_hz
        kept += edges.last_word_end > stop + gaps[1] + 0.02 * rate_hz
    # One recording begins with a click of its own, which the level takes for a word.
    assert lost <= 0.02 * 2 * TAKES
    # Some of the recorded pages and cloths have a hum of their own, which is like a voice.
    assert kept <= 0.15 * 2 * TAKES
