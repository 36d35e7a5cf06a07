"""A take whose writing stops at any call, anywhere in a write: what was confirmed is there."""

from __future__ import annotations

import itertools
import os
from pathlib import Path

import numpy as np
import pytest

from quietleaf.errors import Conflict, Unavailable
from quietleaf.storage.pcm24 import BYTES_A_SAMPLE, pcm24_of_samples, samples_of_pcm24
from quietleaf.storage.take_header import HEADER_BYTES, take_header
from quietleaf.storage.take_reader import TakeReader
from quietleaf.storage.take_sums import read_sums, sums_path
from quietleaf.storage.takes import begin_take, recover_take, resume_take
from tests.faults.reading_takes import lengths
from tests.faults.stopping import StoppingDisk, runs_until_it_succeeds
from tests.readings import noise

RATE = 44_100
PARTS = [pcm24_of_samples(noise(count, seed=count)) for count in (301, 204, 99, 1)]
"""Odd and even lengths: an odd one has a padding byte after it, that the next part overwrites."""
ALL = b"".join(PARTS)
COUNTS = (0, 505, 604, 605)
"""What can have been confirmed: the first two parts go together."""
RECORD_ENDS = (0, 301, 505, 604, 605)
"""What sums can cover: of two records that go together, the first can be there alone."""


def record(stopping: StoppingDisk, folder: Path) -> None:
    """Record the parts; note in a file outside of the disk's calls what was confirmed."""
    with begin_take(folder / "0001.wav", RATE) as writer:
        note(folder, 0)
        writer.append(PARTS[0])
        writer.append(PARTS[1])
        note(folder, writer.sync())
        writer.append(PARTS[2])
        note(folder, writer.sync())
        writer.append(PARTS[3])
        note(folder, writer.seal().samples)


def note(folder: Path, confirmed: int) -> None:
    (folder / "confirmed").write_text(str(confirmed))


def confirmed(folder: Path) -> int | None:
    path = folder / "confirmed"
    return int(path.read_text()) if path.exists() else None


def could_be(before: int | None) -> tuple[int, ...]:
    """Give the lengths that are wholly as before or wholly as after."""
    if before is None:
        return (0,)
    return COUNTS[COUNTS.index(before) :][:2]


def whole_take(samples: int) -> bytes:
    """Write by hand what a take of this length is."""
    size = samples * BYTES_A_SAMPLE
    return take_header(RATE, samples) + ALL[:size] + b"\0" * (size % 2)


@pytest.fixture
def stopped(tmp_path: Path) -> list[tuple[StoppingDisk, Path]]:
    return runs_until_it_succeeds(record, tmp_path)


def test_other_programs_open_it_at_the_length_last_synced(
    stopped: list[tuple[StoppingDisk, Path]], ffprobe: Path
) -> None:
    seen: dict[bytes, dict[str, int]] = {}
    opened = 0
    for _, folder in stopped:
        before = confirmed(folder)
        path = folder / "0001.wav"
        # Before the take was begun there is nothing to open; an empty take has no samples, which
        # ffprobe and libsndfile say in their own ways.
        if before is None or before == 0:
            continue
        data = path.read_bytes()
        if data not in seen:
            seen[data] = lengths(path, ffprobe)
        assert set(seen[data].values()) <= set(could_be(before)), (folder.name, seen[data])
        assert len(set(seen[data].values())) == 1
        opened += 1
    assert opened > 30


def test_after_recovery_it_is_wholly_as_before_or_wholly_as_after(
    stopped: list[tuple[StoppingDisk, Path]], ffprobe: Path
) -> None:
    seen: dict[bytes, dict[str, int]] = {}
    for _, folder in stopped:
        path = folder / "0001.wav"
        if not path.exists():
            continue
        stored = recover_take(path, RATE)
        assert stored.samples in RECORD_ENDS, folder.name
        assert min(could_be(confirmed(folder))) <= stored.samples
        assert stored.samples <= max(could_be(confirmed(folder)))
        data = path.read_bytes()
        assert data == whole_take(stored.samples)
        again = recover_take(path)
        assert (again.samples, again.dropped_bytes) == (stored.samples, 0)
        if data not in seen and stored.samples:
            seen[data] = lengths(path, ffprobe)
            assert set(seen[data].values()) == {stored.samples}
        with TakeReader(path) as reader:
            assert np.array_equal(
                reader.read(0, stored.samples)[:, 0],
                samples_of_pcm24(ALL[: stored.samples * BYTES_A_SAMPLE]),
            )
    assert len(seen) == len(RECORD_ENDS) - 1


def test_a_take_goes_on_after_a_stop_and_ends_as_if_there_had_been_none(
    stopped: list[tuple[StoppingDisk, Path]], tmp_path: Path
) -> None:
    with begin_take(tmp_path / "0001.wav", RATE) as writer:
        writer.append(ALL)
        unbroken = writer.seal()
    for _, folder in stopped:
        path = folder / "0001.wav"
        if not path.exists():
            continue
        with resume_take(path, RATE) as writer:
            writer.append(ALL[writer.durable_samples * BYTES_A_SAMPLE :])
            assert writer.seal() == unbroken
        assert path.read_bytes() == (tmp_path / "0001.wav").read_bytes()


def test_a_power_cut_may_take_any_of_what_was_not_synced(tmp_path: Path) -> None:
    """The header may have reached the disk and samples not, or the other way round."""
    runs = runs_until_it_succeeds(record, tmp_path, shares=(0.0, 1.0))
    tried = 0
    for stopping, folder in runs:
        path = folder / "0001.wav"
        before = confirmed(folder)
        if before is None:
            continue
        wav, sums = path.read_bytes(), sums_path(path).read_bytes()
        wav_synced = len(stopping.synced[path])
        sums_synced = len(stopping.synced[sums_path(path)])
        for wav_size in {*range(wav_synced, len(wav) + 1, 61), len(wav)}:
            # The sums are written only after the WAV is on the disk.
            kept_sums = {sums_synced} | (
                set(range(sums_synced, len(sums) + 1)) if wav_size == len(wav) else set()
            )
            headers = {wav[:HEADER_BYTES], take_header(RATE, before)}
            for sums_size, header in itertools.product(kept_sums, headers):
                path.write_bytes(header + wav[HEADER_BYTES:wav_size])
                sums_path(path).write_bytes(sums[:sums_size])
                stored = recover_take(path, RATE)
                assert before <= stored.samples, (folder.name, wav_size, sums_size)
                assert path.read_bytes() == whole_take(stored.samples)
                tried += 1
    assert tried > 200


def test_what_was_confirmed_is_on_the_disk_and_opens_there_without_recovery(
    stopped: list[tuple[StoppingDisk, Path]],
) -> None:
    for stopping, folder in stopped:
        before = confirmed(folder)
        if before is None:
            continue
        synced = stopping.synced[folder / "0001.wav"]
        sizes = [samples for samples in could_be(before) if synced == whole_take(samples)]
        assert sizes, folder.name
        covered = stopping.synced[sums_path(folder / "0001.wav")]
        assert sum(int(covered[at : at + 10]) for at in range(0, len(covered), 20)) == before


def test_a_recovery_that_stops_is_taken_up_by_the_next(tmp_path: Path) -> None:
    with begin_take(tmp_path / "0001.wav", RATE) as writer:
        for part in PARTS:
            writer.append(part)
        writer.sync()
    sums = sums_path(tmp_path / "0001.wav").read_bytes()

    def recover(stopping: StoppingDisk, folder: Path) -> None:
        path = folder / "0001.wav"
        path.write_bytes(take_header(RATE, 301) + PARTS[0] + PARTS[1] + PARTS[2][:150])
        sums_path(path).write_bytes(sums[:47])
        recover_take(path)

    (tmp_path / "runs").mkdir()
    for _, folder in runs_until_it_succeeds(recover, tmp_path / "runs"):
        assert recover_take(folder / "0001.wav").samples == 505
        assert (folder / "0001.wav").read_bytes() == whole_take(505)
        assert sums_path(folder / "0001.wav").read_bytes() == sums[:40]


def test_a_full_disk_refuses_and_keeps_what_was_confirmed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "0001.wav"
    real = os.pwrite
    with begin_take(path, RATE) as writer:
        writer.append(PARTS[0])
        assert writer.sync() == 301

        def full(file: int, data: bytes, offset: int) -> int:
            if offset + len(data) > HEADER_BYTES + 303 * BYTES_A_SAMPLE:
                room = HEADER_BYTES + 303 * BYTES_A_SAMPLE - offset
                if room <= 0:
                    raise OSError(28, "No space left on device")
                return real(file, data[:room], offset)
            return real(file, data, offset)

        monkeypatch.setattr(os, "pwrite", full)
        with pytest.raises(Unavailable, match="is full"):
            writer.append(PARTS[1])
        with pytest.raises(Conflict, match="no longer being written here"):
            writer.sync()
    monkeypatch.undo()
    assert recover_take(path).samples == 301
    assert len(read_sums(path)) == 1
