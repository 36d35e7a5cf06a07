"""Whatever is done to the bytes of a recording: samples, or a refusal of ours; never much memory.

Seeded, so that a failure is found again: the number of a mutation is in its message.
"""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile

from quietleaf.errors import QuietleafError
from quietleaf.storage.codecs import CHANNELS_MAX, RATE_HZ_MAX, RATE_HZ_MIN, open_sound
from tests.wave_files import FLOAT, UNKNOWN, chunk, ds64, fmt, packed, steps, wave

MEMORY_BYTES = 3_000_000
"""The files are of 5 kB; what a walk reads at a time is 1 MB."""
TELLING = (0, 1, 2, 3, 7, 8, 0x7F, 0x80, 0xFF, 0x100, 0xFFFE, 0xFFFF, 1 << 31, UNKNOWN - 1, UNKNOWN)

_DATA = packed(steps(1_200, 24), 3)
WAVES = [
    wave(fmt(bits=24), chunk(b"data", _DATA)),
    wave(
        chunk(b"JUNK", bytes(28)),
        chunk(b"bext", bytes(602)),
        fmt(bits=16, channels=2, extensible=True),
        chunk(b"data", _DATA),
        chunk(b"LIST", b"INFOINAM\x04\0\0\0abc\0"),
    ),
    wave(fmt(tag=FLOAT, bits=32), chunk(b"fact", bytes(4)), chunk(b"data", bytes(3_600))),
    wave(
        ds64(data=3_600),
        fmt(bits=24, channels=3),
        chunk(b"data", _DATA, size=UNKNOWN),
        outer=b"RF64",
        size=UNKNOWN,
    ),
]


def mutated(data: bytes, rng: np.random.Generator, head_bytes: int) -> bytes:
    """Do one to four things to a file, mostly to its head."""
    made = bytearray(data)
    for _ in range(int(rng.integers(1, 5))):
        reach = len(made) if rng.random() < 0.1 else min(head_bytes, len(made))
        at = int(rng.integers(0, max(reach, 1)))
        match int(rng.integers(0, 6)):
            case 0:
                made[at : at + 1] = rng.bytes(1)
            case 1:
                width = int(rng.choice([2, 4, 8]))
                value = int(rng.choice(TELLING)) & (1 << 8 * width) - 1
                made[at : at + width] = value.to_bytes(width, "little")
            case 2:
                del made[at:]
            case 3:
                del made[at : at + int(rng.integers(1, 16))]
            case 4:
                made[at:at] = rng.bytes(int(rng.integers(1, 16)))
            case _:
                made[at:at] = made[: int(rng.integers(1, 64))]
    return bytes(made)


def endure(path: Path, data: bytes, seed: int, head_bytes: int) -> bool:
    """Open and read one mutation; tell whether it was read."""
    path.write_bytes(mutated(data, np.random.default_rng(seed), head_bytes))
    try:
        with open_sound(path) as sound:
            assert RATE_HZ_MIN <= sound.info.sample_rate_hz <= RATE_HZ_MAX
            assert 1 <= sound.info.channels <= CHANNELS_MAX
            count = 0
            for block in sound.blocks():
                assert np.isfinite(block).all()
                count += len(block)
            assert count == sound.info.frames > 0
    except QuietleafError as refusal:
        sentence = refusal.sentence
    else:
        return True
    assert sentence.endswith("."), seed
    assert "\n" not in sentence, seed
    return False


@pytest.mark.parametrize("data", WAVES, ids=["plain", "chunks", "float", "long"])
def test_wav_headers(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "a.wav"
    tracemalloc.start()
    try:
        read = sum(endure(path, data, seed, 120) for seed in range(500))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < MEMORY_BYTES
    # Were all refused, or none, the mutations would say nothing.
    assert 50 < read < 450


def coded(path: Path, kind: str, subtype: str, rate_hz: int) -> bytes:
    rng = np.random.default_rng(4)
    with soundfile.SoundFile(path, "w", rate_hz, 1, subtype, format=kind) as file:
        for _ in range(3):
            file.write(0.1 * rng.standard_normal(4_096))
    return path.read_bytes()


KINDS = [
    ("AIFF", "PCM_16", 44_100),
    ("FLAC", "PCM_16", 44_100),
    ("MP3", "MPEG_LAYER_III", 44_100),
    ("OGG", "VORBIS", 44_100),
    ("OGG", "OPUS", 48_000),
    ("WAV", "MS_ADPCM", 44_100),
]


@pytest.mark.parametrize(("kind", "subtype", "rate_hz"), KINDS)
def test_coded_recordings(tmp_path: Path, kind: str, subtype: str, rate_hz: int) -> None:
    path = tmp_path / "a.sound"
    data = coded(path, kind, subtype, rate_hz)
    read = sum(endure(path, data, seed, 200) for seed in range(40))
    assert read < 40


@pytest.mark.long
@pytest.mark.parametrize("data", WAVES, ids=["plain", "chunks", "float", "long"])
def test_wav_headers_at_length(tmp_path: Path, data: bytes) -> None:
    for seed in range(1_000, 101_000):
        endure(tmp_path / "a.wav", data, seed, 120)


@pytest.mark.long
@pytest.mark.parametrize(("kind", "subtype", "rate_hz"), KINDS)
def test_coded_recordings_at_length(tmp_path: Path, kind: str, subtype: str, rate_hz: int) -> None:
    path = tmp_path / "a.sound"
    data = coded(path, kind, subtype, rate_hz)
    for seed in range(1_000, 6_000):
        endure(path, data, seed, 200)
