"""Recordings past 4 GiB, as holes on the disk: places are reached, and nothing is kept."""

from __future__ import annotations

import os
import struct
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from quietleaf.storage.codecs import open_sound
from tests.wave_files import UNKNOWN, chunk, ds64, fmt, wave

FRAMES = 1_500_000_000
"""Of 3 bytes: 4.2 GiB, 8 h 41 min at 48 kHz."""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "long.wav"
    head = wave(
        ds64(data=3 * FRAMES, samples=FRAMES),
        fmt(bits=24),
        chunk(b"data", b"", size=UNKNOWN),
        outer=b"RF64",
        size=UNKNOWN,
    )
    path.write_bytes(head)
    os.truncate(path, len(head) + 3 * FRAMES)
    with path.open("r+b") as file:
        file.seek(len(head) + 3 * (FRAMES - 2))
        file.write(struct.pack("<i", -(1 << 22))[:3] + struct.pack("<i", 1 << 21)[:3])
    return path


def test_its_last_samples_are_where_they_should_be(path: Path) -> None:
    with open_sound(path) as sound:
        assert sound.info.frames == FRAMES
        assert sound.remarks == ()
        assert sound.read(FRAMES - 3, FRAMES)[:, 0].tolist() == [0.0, -0.5, 0.25]


@pytest.mark.long
def test_memory_stays_flat(path: Path) -> None:
    with open_sound(path) as sound:
        tracemalloc.start()
        count = sum(len(block) + int(np.count_nonzero(block)) for block in sound.blocks())
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    assert count == FRAMES + 2
    assert peak < 4_000_000
