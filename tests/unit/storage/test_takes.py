"""Takes on the disk: their sums, what is refused, and what is found to be damaged."""

from __future__ import annotations

import hashlib
import zlib
from pathlib import Path

import numpy as np
import pytest

from quietleaf.errors import Conflict, Damaged, Invalid, NotFound
from quietleaf.storage.pcm24 import pcm24_of_samples, samples_of_pcm24
from quietleaf.storage.take_header import HEADER_BYTES
from quietleaf.storage.take_reader import TakeReader
from quietleaf.storage.take_sums import LINE_BYTES, RECORD_SAMPLES_MAX, sums_path
from quietleaf.storage.takes import begin_take, recover_take, resume_take
from tests.readings import noise

PARTS = [pcm24_of_samples(noise(count, seed=count)) for count in (100, 33, 250)]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    with begin_take(tmp_path / "0001.wav", 48_000) as writer:
        for part in PARTS:
            writer.append(part)
        writer.seal()
    return tmp_path / "0001.wav"


def flip(path: Path, at: int) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(data)


def test_the_sums_are_a_line_of_20_bytes_for_each_record(path: Path) -> None:
    lines = sums_path(path).read_bytes()
    assert lines == b"".join(b"%010d %08x\n" % (len(part) // 3, zlib.crc32(part)) for part in PARTS)
    assert len(lines) == LINE_BYTES * len(PARTS)


def test_a_sealed_take_says_its_length_and_digest(tmp_path: Path) -> None:
    writer = begin_take(tmp_path / "0001.wav", 48_000)
    for part in PARTS:
        writer.append(part)
    sealed = writer.seal()
    assert sealed.samples == 383
    assert sealed.sha256 == hashlib.sha256(b"".join(PARTS)).hexdigest()
    with pytest.raises(Conflict, match="no longer being written here"):
        writer.append(PARTS[0])


def test_a_long_part_becomes_several_records(tmp_path: Path) -> None:
    with begin_take(tmp_path / "0001.wav", 48_000) as writer:
        assert writer.append(bytes(3 * (RECORD_SAMPLES_MAX + 1))) == RECORD_SAMPLES_MAX + 1
        writer.sync()
    assert sums_path(tmp_path / "0001.wav").stat().st_size == 2 * LINE_BYTES


def test_nothing_to_sync_is_no_step(path: Path) -> None:
    with resume_take(path, 48_000) as writer:
        before = path.stat().st_mtime_ns
        assert writer.append(b"") == 383
        assert writer.sync() == 383
    assert path.stat().st_mtime_ns == before


def test_half_a_sample_is_refused(tmp_path: Path) -> None:
    with (
        begin_take(tmp_path / "0001.wav", 48_000) as writer,
        pytest.raises(Invalid, match="3 bytes each; 4 bytes came"),
    ):
        writer.append(bytes(4))


def test_a_take_with_samples_is_never_begun_again(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(Conflict, match="takes are never redone"):
        begin_take(path, 48_000)
    assert path.read_bytes() == before


def test_a_take_needs_a_rate(tmp_path: Path) -> None:
    with pytest.raises(Invalid, match="a sampling rate; 0 came"):
        begin_take(tmp_path / "0001.wav", 0)


def test_any_range_is_read(path: Path) -> None:
    everything = np.concatenate([samples_of_pcm24(part) for part in PARTS])
    with TakeReader(path) as reader:
        assert reader.info.frames == 383
        assert reader.info.encoding == "WAV, 24-bit PCM"
        for start, stop in [(0, 383), (0, 1), (99, 101), (100, 133), (382, 383), (50, 50)]:
            assert np.array_equal(reader.read(start, stop)[:, 0], everything[start:stop])
        assert np.array_equal(np.concatenate(list(reader.blocks(37)))[:, 0], everything)
        for start, stop in [(-1, 5), (5, 4), (0, 384)]:
            with pytest.raises(Invalid, match="samples 0 to 383"):
                reader.read(start, stop)


def test_a_flipped_bit_is_found_where_it_is_read(path: Path) -> None:
    flip(path, HEADER_BYTES + 3 * 110)
    with TakeReader(path) as reader:
        assert len(reader.read(0, 100)) == 100
        assert len(reader.read(133, 383)) == 250
        with pytest.raises(Damaged, match="is not what was recorded from"):
            reader.read(120, 125)


def test_damage_in_the_middle_is_refused_and_nothing_is_cut_off(path: Path) -> None:
    flip(path, HEADER_BYTES + 3 * 110)
    before = (path.read_bytes(), sums_path(path).read_bytes())
    with pytest.raises(Damaged, match="is not what was recorded"):
        recover_take(path)
    with pytest.raises(Damaged, match="is not what was recorded"):
        resume_take(path, 48_000)
    assert (path.read_bytes(), sums_path(path).read_bytes()) == before


def test_a_damaged_line_of_sums_before_good_ones_is_refused(path: Path) -> None:
    flip(sums_path(path), LINE_BYTES + 12)
    with pytest.raises(Damaged, match="is not what was recorded"):
        recover_take(path)
    sums_path(path).write_bytes(b"?" * LINE_BYTES + sums_path(path).read_bytes()[LINE_BYTES:])
    with pytest.raises(Damaged, match="good lines after the bad ones"):
        recover_take(path)


def test_zeros_where_sums_should_be_are_a_torn_end(path: Path) -> None:
    sums = sums_path(path)
    sums.write_bytes(sums.read_bytes() + bytes(3 * LINE_BYTES + 5))
    assert recover_take(path).samples == 383
    assert sums.stat().st_size == 3 * LINE_BYTES


def test_a_lost_header_needs_the_rate_from_the_ledger(path: Path) -> None:
    good = path.read_bytes()
    path.write_bytes(bytes(HEADER_BYTES) + good[HEADER_BYTES:])
    with pytest.raises(Damaged, match="header"):
        TakeReader(path)
    with pytest.raises(Damaged, match="header"):
        recover_take(path)
    assert recover_take(path, 48_000).samples == 383
    assert path.read_bytes() == good


def test_what_is_not_there_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match=r"There is no .*0001\.sums"):
        TakeReader(tmp_path / "0001.wav")
    with pytest.raises(NotFound, match=r"There is no .*0001\.wav"):
        recover_take(tmp_path / "0001.wav")


@pytest.mark.parametrize("claimed", [251, 1 << 31, 10**10 - 1])
def test_sums_that_claim_more_than_is_there_add_nothing(path: Path, claimed: int) -> None:
    sums = bytearray(sums_path(path).read_bytes())
    sums[-LINE_BYTES : -LINE_BYTES + 10] = b"%010d" % claimed
    sums_path(path).write_bytes(bytes(sums))
    assert recover_take(path).samples == 133
    assert path.stat().st_size < 1_000
    with TakeReader(path) as reader:
        assert reader.info.frames == 133


def test_a_header_with_a_rate_that_no_header_can_hold_is_none(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[60:64] = b"\xff" * 4
    path.write_bytes(bytes(data))
    with pytest.raises(Damaged, match="The header of"):
        recover_take(path)
