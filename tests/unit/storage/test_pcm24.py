"""24-bit PCM: by hand, and every step there and back."""

from __future__ import annotations

import numpy as np

from quietleaf.storage.pcm24 import FULL_SCALE, pcm24_of_samples, samples_of_pcm24


def test_nothing_gives_nothing() -> None:
    assert pcm24_of_samples(np.zeros(0)) == b""
    assert samples_of_pcm24(b"").shape == (0,)


def test_what_24_bits_hold_comes_back_exactly() -> None:
    steps = np.concatenate([np.arange(-FULL_SCALE, FULL_SCALE, 4_099), [FULL_SCALE - 1, -1, 0, 1]])
    samples = steps / FULL_SCALE
    pcm = pcm24_of_samples(samples)
    assert np.array_equal(samples_of_pcm24(pcm), samples)
    # An independent reading of the bytes: Python's own integers.
    by_hand = [int.from_bytes(pcm[at : at + 3], "little", signed=True) for at in range(0, 300, 3)]
    assert by_hand == steps[:100].tolist()


def test_past_full_scale_is_held_at_it() -> None:
    held = samples_of_pcm24(pcm24_of_samples(np.array([1.5, -1.5])))
    assert held.tolist() == [1.0 - 2.0**-23, -1.0]
