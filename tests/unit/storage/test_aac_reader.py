"""M4A recordings that are cut off or damaged."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

from quietleaf.errors import AudioUnfit
from quietleaf.storage.codecs import open_sound

RATE_HZ = 44_100
SECONDS = 6


@pytest.fixture(params=["-c:a aac", "-c:a alac"], ids=["aac", "alac"])
def m4a(request: pytest.FixtureRequest, tmp_path: Path, ffmpeg: Path, aac: None) -> Path:
    """Six seconds, with the description before the sound, so that a cut leaves it whole."""
    source, path = tmp_path / "source.wav", tmp_path / "memo.m4a"
    sound = 0.1 * np.random.default_rng(3).standard_normal(RATE_HZ * SECONDS)
    soundfile.write(source, sound, RATE_HZ, subtype="PCM_16")
    command = f"{request.param} -movflags +faststart"
    subprocess.run(
        [str(ffmpeg), "-v", "error", "-i", str(source), *command.split(), str(path)],
        check=True,
        capture_output=True,
        stdin=subprocess.DEVNULL,
    )
    return path


def test_ranges_are_the_same_in_any_order(m4a: Path) -> None:
    with open_sound(m4a) as sound:
        assert sound.info.frames == RATE_HZ * SECONDS
        whole = np.concatenate(list(sound.blocks(10_000)))
        for start in (200_000, 5, 100_000, 0):
            assert (sound.read(start, start + 3_000) == whole[start : start + 3_000]).all()
        assert sound.read(7, 7).shape == (0, 1)


def test_one_that_was_cut_off_is_taken_as_far_as_it_goes(m4a: Path) -> None:
    data = m4a.read_bytes()
    m4a.write_bytes(data[: len(data) * 6 // 10])
    with open_sound(m4a) as sound:
        assert 2.5 < sound.info.duration_s < 4.0
        assert sum(len(block) for block in sound.blocks()) == sound.info.frames
        assert "It ends early: its header promises 0:06, and 0:03 is there" in sound.remarks[0]


def test_one_without_its_description_is_refused(m4a: Path) -> None:
    data = m4a.read_bytes()
    m4a.write_bytes(data[:200])
    with pytest.raises(AudioUnfit, match="no sound can be read from it"):
        open_sound(m4a)


def test_one_that_is_damaged_inside_is_refused(
    m4a: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    data = bytearray(m4a.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 9_000] = np.random.default_rng(6).bytes(9_000)
    m4a.write_bytes(bytes(data))
    with pytest.raises(AudioUnfit, match="is damaged at 0:0"):
        read_all(m4a)
    assert capfd.readouterr() == ("", "")


def read_all(path: Path) -> None:
    with open_sound(path) as sound:
        list(sound.blocks())
