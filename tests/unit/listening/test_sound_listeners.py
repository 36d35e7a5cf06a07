"""Whoever listens to chunks finds the same however the recording is cut."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening import listen
from tests.signals import speech_like

RATE_HZ = 8_000
LENGTH_S = 65


def recording() -> NDArray[np.float64]:
    """Make a minute with hum across a chunk's edge, a louder half, and blocks that play twice."""
    sound = 0.3 * speech_like(3, LENGTH_S, RATE_HZ)
    sound += 1e-4 * np.random.default_rng(6).normal(size=sound.size)
    time_s = np.arange(sound.size) / RATE_HZ
    hum = sum(np.sin(2 * np.pi * 50.1 * k * time_s) / k for k in (1, 2, 3))
    sound += 0.003 * hum * ((time_s > 15.0) & (time_s < 26.0))
    for start in (9 * RATE_HZ, 20 * RATE_HZ - 200, 40 * RATE_HZ + 17):
        sound[start + 300 : start + 600] = sound[start : start + 300]
    thump = np.exp(-(((time_s - 33.0) / 0.012) ** 2))
    return sound + 0.4 * thump


def test_chunks_are_heard_alike_however_a_recording_is_cut() -> None:
    sound = recording()
    whole = listen.hear([sound[:, np.newaxis]], RATE_HZ, 1)
    draw = np.random.default_rng(8)
    places = [0, *np.sort(draw.integers(0, sound.size, 40)), sound.size]
    blocks = [sound[start:stop, np.newaxis] for start, stop in pairwise(places)]
    assert listen.hear(blocks, RATE_HZ, 1).findings == whole.findings
    assert {"hum", "dropout"} <= {found.kind for found in whole.findings}


def test_a_look_on_the_way_changes_nothing() -> None:
    sound = recording()
    state = listen.start(RATE_HZ, 1)
    listen.step(state, sound[: 47 * RATE_HZ, np.newaxis])
    before = listen.result(state).findings
    assert listen.result(state).findings == before
    listen.step(state, sound[47 * RATE_HZ :, np.newaxis])
    whole = listen.hear([sound[:, np.newaxis]], RATE_HZ, 1)
    assert listen.result(state).findings == whole.findings
