"""The header of a take: bytes by hand, and RF64 past 4 GiB as other programs read it."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from quietleaf.storage.take_header import (
    HEADER_BYTES,
    padding,
    sample_rate_of_header,
    take_header,
)
from tests.faults.reading_takes import by_ffprobe_duration

PAST_4_GIB = (1 << 32) // 3 + 1
"""Samples whose bytes alone are more than a 32-bit size can say."""


def test_the_bytes_are_those_of_the_page() -> None:
    """Written out by hand: 3 samples at 44100 Hz are 9 bytes and one of padding."""
    by_hand = bytes.fromhex(
        "52494646 52000000 57415645"  # RIFF, 80 - 8 + 10 = 82, WAVE
        "4a554e4b 1c000000"
        + "00"
        * 28  # JUNK, 28
        + "666d7420 10000000 0100 0100 44ac0000 cc040200 0300 1800"  # fmt, 44100, 132300, 3, 24
        "64617461 09000000"  # data, 9
    )
    assert take_header(44_100, 3) == by_hand
    assert len(by_hand) == HEADER_BYTES
    assert (padding(3), padding(4)) == (1, 0)


@pytest.mark.parametrize("samples", [0, 1, 2_000_000, PAST_4_GIB])
def test_its_size_never_changes_and_its_rate_is_read_back(samples: int) -> None:
    header = take_header(96_000, samples)
    assert len(header) == HEADER_BYTES
    assert sample_rate_of_header(header) == 96_000


def test_what_is_not_such_a_header_has_no_rate() -> None:
    header = take_header(48_000, 5)
    assert sample_rate_of_header(header[:-1]) is None
    assert sample_rate_of_header(bytes(HEADER_BYTES)) is None
    # Stereo, where a take is mono.
    assert sample_rate_of_header(header[:58] + b"\2\0" + header[60:]) is None
    assert sample_rate_of_header(header[:60] + bytes(4) + header[64:]) is None


def test_other_programs_read_its_length_past_4_gib(tmp_path: Path, ffprobe: Path) -> None:
    path = tmp_path / "long.wav"
    samples = PAST_4_GIB + padding(PAST_4_GIB)
    with path.open("wb") as file:
        file.write(take_header(48_000, samples))
        # A hole in the file takes no room on the disk.
        file.truncate(HEADER_BYTES + 3 * samples)
    with path.open("rb") as file:
        assert file.read(4) == b"RF64"
    assert soundfile.info(path).frames == samples
    assert by_ffprobe_duration(path, ffprobe) == samples
