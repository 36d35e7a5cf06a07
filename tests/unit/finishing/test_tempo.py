"""The pace changes by whole samples; between the places where it does, nothing else does."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from quietleaf.finishing.tempo import STRETCH_SAMPLES_MIN, Stretch, stretched
from tests.voices import RATE_HZ, reading

SPOKEN = reading(seed=3, sentences=3).samples()


def whole(samples: NDArray[np.float64], *stretches: Stretch, block: int = 48_000) -> np.ndarray:
    def blocks() -> Iterator[NDArray[np.float64]]:
        for start in range(0, samples.size, block):
            yield samples[start : start + block]

    return np.concatenate(list(stretched(blocks(), stretches)))


@settings(max_examples=20, deadline=None)
@given(
    start=st.integers(0, 100_000),
    length=st.integers(STRETCH_SAMPLES_MIN, 150_000),
    share=st.floats(-0.03, 0.03),
)
def test_the_new_length_is_met_to_the_sample(start: int, length: int, share: float) -> None:
    samples = round(length * (1.0 + share))
    made = whole(SPOKEN, Stretch(start=start, stop=start + length, samples=samples))
    assert made.size == SPOKEN.size + samples - length
    # Whatever lies outside is as it came, to the last bit.
    assert np.array_equal(made[:start], SPOKEN[:start])
    assert np.array_equal(made[start + samples :], SPOKEN[start + length :])


@pytest.mark.parametrize("block", [997, 48_000, 1_000_000])
def test_blocks_may_begin_anywhere(block: int) -> None:
    stretches = (
        Stretch(start=10_000, stop=120_000, samples=108_000),
        Stretch(start=150_000, stop=260_000, samples=112_500),
    )
    assert np.array_equal(whole(SPOKEN, *stretches, block=block), whole(SPOKEN, *stretches))


@pytest.mark.parametrize("share", [-0.03, -0.01, 0.02, 0.03])
@pytest.mark.parametrize("pitch_hz", [87.0, 203.0])
def test_a_steady_voice_keeps_its_pitch_and_its_level(share: float, pitch_hz: float) -> None:
    time_s = np.arange(8 * RATE_HZ) / RATE_HZ
    buzz = sum(np.sin(2 * np.pi * pitch_hz * k * time_s + k * k) / k for k in range(1, 20))
    buzz = 0.1 * np.asarray(buzz)
    made = whole(buzz, Stretch(start=0, stop=buzz.size, samples=round(buzz.size * (1.0 + share))))
    # The tenth harmonic, seen through a window of 5 s, tells a tenth of a per mille.
    assert _strongest_hz(made, 10 * pitch_hz) == pytest.approx(10 * pitch_hz, rel=1e-3)
    assert np.std(made) == pytest.approx(np.std(buzz), rel=0.01)


def test_what_is_read_stays_as_alike_to_itself_as_it_was() -> None:
    """No click: the greatest step from sample to sample is one that the voice makes itself."""
    made = whole(SPOKEN, Stretch(start=20_000, stop=220_000, samples=206_000))
    assert np.abs(np.diff(made, 2)).max() <= 1.1 * np.abs(np.diff(SPOKEN, 2)).max()


def _strongest_hz(samples: NDArray[np.float64], near_hz: float) -> float:
    part = samples[RATE_HZ : 6 * RATE_HZ] * np.hanning(5 * RATE_HZ)
    power = np.abs(np.fft.rfft(part, 8 * part.size)) ** 2
    hz = np.fft.rfftfreq(8 * part.size, 1.0 / RATE_HZ)
    band = np.abs(hz - near_hz) < 20.0
    return float(hz[band][np.argmax(power[band])])
