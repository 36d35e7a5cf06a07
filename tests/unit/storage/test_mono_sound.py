"""A recording as one channel at 48 kHz: the same samples wherever reading begins."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from quietleaf.storage.codecs import open_sound
from quietleaf.storage.mono_sound import MonoSound


def left(block: np.ndarray) -> np.ndarray:
    return np.asarray(block[:, 0])


@pytest.mark.parametrize(
    ("rate_hz", "suffix"), [(48_000, "wav"), (44_100, "wav"), (16_000, "flac")]
)
def test_any_range_is_part_of_the_whole(tmp_path: Path, rate_hz: int, suffix: str) -> None:
    path = tmp_path / f"sound.{suffix}"
    draw = np.random.default_rng(1)
    samples = np.column_stack([0.1 * draw.normal(size=13 * rate_hz), np.zeros(13 * rate_hz)])
    soundfile.write(path, samples, rate_hz, subtype="PCM_24")
    with open_sound(path) as file:
        sound = MonoSound(file, left)
        assert sound.info.frames == 13 * 48_000
        assert (sound.info.sample_rate_hz, sound.info.channels) == (48_000, 1)
        whole = np.concatenate(list(sound.blocks(100_000)))
        assert whole.shape == (13 * 48_000, 1)
        for start, stop in ((0, 10), (479_990, 480_010), (600_000, 624_000), (7, 7)):
            assert np.array_equal(sound.read(start, stop), whole[start:stop])


def test_at_48_khz_the_samples_are_those_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    samples = np.random.default_rng(2).integers(-1000, 1000, 5_000) / float(1 << 23)
    soundfile.write(path, samples, 48_000, subtype="PCM_24")
    with open_sound(path) as file:
        assert np.array_equal(MonoSound(file, left).read(0, 5_000)[:, 0], samples)
