"""A known sound for a browser's microphone, and where in it something lies that was recorded."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 44_100
"""Chromium's fake microphone has this rate, whatever is asked of it."""
SILENCE_S = 0.5
"""At its end it repeats its last 10 ms for ever: they are silence."""
SCALE = 1 << 23


def microphone_flags(path: Path) -> tuple[str, ...]:
    """Give the browser's flags that make a file its microphone."""
    return (
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-audio-capture={path}%noloop",
        "--autoplay-policy=no-user-gesture-required",
    )


def noise(seconds: float, seed: int) -> NDArray[np.int32]:
    """Make noise of whole 24-bit steps, no stretch of it like another; then silence."""
    loud = np.random.default_rng(seed).integers(-(1 << 21), 1 << 21, round(seconds * RATE_HZ))
    return np.concatenate([loud, np.zeros(round(SILENCE_S * RATE_HZ))]).astype(np.int32)


def write_microphone(
    path: Path, left: NDArray[np.int32], right: NDArray[np.int32] | None = None
) -> None:
    """Write a float WAV with two channels, which the fake microphone gives bit for bit.

    24-bit PCM it would give as silence, 16-bit PCM with another scale for positive samples.
    """
    both = np.stack([left, np.zeros_like(left) if right is None else right], axis=1)
    payload = (both / SCALE).astype("<f4").tobytes()
    form = struct.pack("<HHIIHH", 3, 2, RATE_HZ, RATE_HZ * 8, 8, 32)
    fact = struct.pack("<I", len(left))
    body = b"WAVEfmt " + struct.pack("<I", len(form)) + form
    body += b"fact" + struct.pack("<I", len(fact)) + fact
    body += b"data" + struct.pack("<I", len(payload)) + payload
    path.write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)


def place_in(sound: NDArray[np.int32], part: NDArray[np.int32]) -> int:
    """Say at which sample of a sound its noise is found that begins with ``part``.

    Raises
    ------
    AssertionError
        If it is nowhere in it.
    """
    needle = part[:64]
    for at in np.flatnonzero(sound[: len(sound) - len(needle)] == needle[0]):
        if np.array_equal(sound[at : at + len(needle)], needle):
            return int(at)
    raise AssertionError("what was recorded does not begin as anything that was fed")
