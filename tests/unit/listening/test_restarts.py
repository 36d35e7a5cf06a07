"""Readers who begin a sentence, stop, and say it from the start."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import resample_poly

from bench.restart_pairs import chunks_with_speech
from quietleaf.listening.restart_choice import Proposal, chosen
from quietleaf.listening.restart_model import restart_likelihoods
from quietleaf.listening.restart_search import PairMemory, end_pairs, step_pairs
from quietleaf.listening.restarts import RestartMemory, restart_findings, step_restarts
from tests.voices import RATE_HZ, Made

Samples = NDArray[np.float64]


def sentence(seed: int, length_s: float) -> Samples:
    made = Made(seed=seed, room_dbov=-200.0)
    made.speech(length_s)
    return made.samples()


def begun(whole: Samples, rate: int, length_s: float) -> Samples:
    """Begin a sentence 4 % slower and break it off."""
    slower = np.asarray(resample_poly(whole, 104, 100))[: round(length_s * rate)]
    end = round(0.04 * rate)
    slower[-end:] *= np.linspace(1.0, 0.0, end)
    return slower


def reading(parts: list[Samples], rate: int = RATE_HZ) -> tuple[Samples, list[float]]:
    """Join sentences with pauses of 0.6 s in a quiet room; give where each begins."""
    starts_s, laid = [], [np.zeros(round(0.8 * rate))]
    for part in parts:
        starts_s.append(sum(one.size for one in laid) / rate)
        laid += [part, np.zeros(round(0.6 * rate))]
    sound = np.concatenate(laid)
    return sound + 10 ** (-66 / 20) * np.random.default_rng(9).normal(size=sound.size), starts_s


def heard(samples: Samples, rate: int = RATE_HZ) -> RestartMemory:
    memory = RestartMemory()
    for chunk, speech in chunks_with_speech(samples, rate):
        step_restarts(memory, chunk, speech)
    return memory


def test_of_all_pairs_that_of_the_false_start_is_likeliest() -> None:
    again = sentence(21, 3.4)
    others = [sentence(seed, 2.6) for seed in range(30, 38)]
    samples, starts_s = reading([*others[:5], begun(again, RATE_HZ, 1.5), again, *others[5:]])
    memory = PairMemory()
    pairs = []
    for chunk, speech in chunks_with_speech(samples, RATE_HZ):
        pairs += step_pairs(memory, chunk, speech)
    pairs += end_pairs(memory)
    likelihoods = restart_likelihoods(np.array([pair.numbers for pair in pairs]))
    proposal = Proposal(pair=pairs[int(np.argmax(likelihoods))], likelihood=1.0)
    (cut,) = chosen([proposal], 0.5)
    assert starts_s[5] - 0.6 < cut.start_s < starts_s[5] - 0.05
    assert starts_s[6] - 0.6 < cut.end_s < starts_s[6] - 0.05


def test_a_real_false_start_is_cut_from_pause_to_pause(recordings: Path) -> None:
    clips = sorted((recordings / "speech" / "lj").glob("*.flac"))[:9]
    parts, rate = [], 0
    for clip in clips:
        samples, rate = soundfile.read(clip)
        parts.append(samples)
    parts.insert(5, begun(parts[5], rate, 1.9))
    samples, starts_s = reading(parts, rate)
    memory = heard(samples, rate)
    (found,) = restart_findings(memory)
    assert found.kind == "restart"
    assert found.value is not None
    assert found.value >= 0.9
    assert starts_s[5] - 0.6 < found.start_s < starts_s[5] + 0.02
    assert starts_s[6] - 0.6 < found.end_s < starts_s[6] + 0.02
    # What was told leaves the memory as it was.
    assert restart_findings(memory) == (found,)


def test_a_reading_without_a_false_start_has_none() -> None:
    samples, _ = reading([sentence(seed, 2.6) for seed in range(40, 48)])
    assert restart_findings(heard(samples)) == ()


def test_silence_has_none() -> None:
    assert restart_findings(RestartMemory()) == ()
    assert restart_findings(heard(np.zeros(30 * RATE_HZ))) == ()
