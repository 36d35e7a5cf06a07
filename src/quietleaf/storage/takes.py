"""Takes on the disk: what is recorded is safe when it is confirmed, and checked when read.

``NNNN.wav`` holds the samples; ``NNNN.sums`` holds a line of 20 bytes for each record of them:
how many samples, and the CRC-32 of their bytes. What the sums cover is the take; bytes of the
WAV past that were on their way when something stopped.
"""

from __future__ import annotations

import hashlib
import os
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import NoReturn, Self

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import Conflict, Damaged, Invalid
from quietleaf.storage import disk
from quietleaf.storage.pcm24 import BYTES_A_SAMPLE, samples_of_pcm24
from quietleaf.storage.sound_source import SoundInfo
from quietleaf.storage.take_header import (
    HEADER_BYTES,
    padding,
    sample_rate_of_header,
    take_header,
)

LINE_BYTES = 20
RECORD_SAMPLES_MAX = 65_536
_ENCODING = "WAV, 24-bit PCM"


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeRecord:
    """One record of a take: ``samples`` from ``start`` on, and the CRC-32 of their bytes."""

    start: int
    samples: int
    crc32: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTake:
    """A take as the disk holds it, after whatever was left half-written has been cut off.

    Attributes
    ----------
    dropped_bytes : int
        What the WAV had past its last confirmed record.
    """

    path: Path
    sample_rate_hz: int
    samples: int
    dropped_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """What the ledger keeps of a take that is complete."""

    sample_rate_hz: int
    samples: int
    sha256: str


class TakeWriter:
    """Writes one take, in order; the only one that may.

    Use it as a context, or ``close`` it. After any refusal it takes nothing more: open the take
    again with `resume_take`, which begins where the disk confirms.
    """

    def __init__(self, path: Path, sample_rate_hz: int) -> None:
        if sample_rate_hz < 1:
            raise Invalid("take/rate", f"A take has a sampling rate; {sample_rate_hz} came.")
        self.path = path
        self.sample_rate_hz = sample_rate_hz
        self.durable_samples = 0
        """What `sync` has confirmed."""
        self._samples = 0
        self._sums_bytes = 0
        self._lines: list[bytes] = []
        self._sha256 = hashlib.sha256()
        self._broken = False
        self._wav = disk.open_to_write(path)
        self._sums = -1
        try:
            disk.lock(self._wav, path)
            self._sums = disk.open_to_write(sums_path(path))
        except BaseException:
            self.close()
            raise

    def append(self, pcm: bytes) -> int:
        """Write samples after those before; give the count so far, confirmed or not.

        Parameters
        ----------
        pcm : bytes
            24-bit little-endian mono; each call makes one record, or several of at most
            ``RECORD_SAMPLES_MAX`` samples.

        Raises
        ------
        Invalid
            If it does not hold whole samples.
        Unavailable
            If the disk does not take them.
        """
        if len(pcm) % BYTES_A_SAMPLE:
            raise Invalid(
                "take/bytes", f"Samples of a take have 3 bytes each; {len(pcm)} bytes came."
            )
        with self._breaking():
            for at in range(0, len(pcm), RECORD_SAMPLES_MAX * BYTES_A_SAMPLE):
                record = pcm[at : at + RECORD_SAMPLES_MAX * BYTES_A_SAMPLE]
                offset = HEADER_BYTES + self._samples * BYTES_A_SAMPLE
                disk.write_at(self._wav, record, offset, self.path)
                self._sha256.update(record)
                self._samples += len(record) // BYTES_A_SAMPLE
                self._lines.append(_line(len(record) // BYTES_A_SAMPLE, zlib.crc32(record)))
        return self._samples

    def sync(self) -> int:
        """Put all that was written on the disk for good; give the count that is confirmed.

        The order is the promise: samples, header, sync, sums, sync. At whatever point it stops,
        the sums cover only samples that are on the disk.
        """
        with self._breaking():
            if not self._lines:
                return self.durable_samples
            self._write_header()
            disk.sync(self._wav, self.path)
            lines = b"".join(self._lines)
            disk.write_at(self._sums, lines, self._sums_bytes, sums_path(self.path))
            disk.sync(self._sums, sums_path(self.path))
            self._sums_bytes += len(lines)
            self._lines.clear()
            self.durable_samples = self._samples
        return self.durable_samples

    def seal(self) -> Sealed:
        """Sync what is left, and say what the ledger keeps; the writer is closed."""
        self.sync()
        self.close()
        return Sealed(
            sample_rate_hz=self.sample_rate_hz,
            samples=self.durable_samples,
            sha256=self._sha256.hexdigest(),
        )

    def close(self) -> None:
        """Let go of the files; what was not synced is not promised."""
        self._broken = True
        for file in (self._wav, self._sums):
            if file >= 0:
                os.close(file)
        self._wav = self._sums = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _begin(self) -> None:
        """Make a take of no samples."""
        if os.fstat(self._sums).st_size:
            raise Conflict(
                "take/there", f"Take {self.path.stem} is there already; takes are never redone."
            )
        with self._breaking():
            disk.cut_to(self._wav, 0, self.path)
            self._write_header()
            disk.sync(self._wav, self.path)
            disk.sync(self._sums, sums_path(self.path))
            disk.sync_folder(self.path.parent)

    def _resume(self) -> None:
        """Take up after the records that the disk holds."""
        with self._breaking():
            records = _mend(self._wav, self._sums, self.path, self.sample_rate_hz)
            self._samples = self.durable_samples = _count(records)
            self._sums_bytes = len(records) * LINE_BYTES
            for record in records:
                self._sha256.update(_payload(self._wav, record, self.path))

    def _write_header(self) -> None:
        if padding(self._samples):
            offset = HEADER_BYTES + self._samples * BYTES_A_SAMPLE
            disk.write_at(self._wav, b"\0", offset, self.path)
        header = take_header(self.sample_rate_hz, self._samples)
        disk.write_at(self._wav, header, 0, self.path)

    def _breaking(self) -> _Breaking:
        if self._broken:
            raise Conflict(
                "take/closed",
                f"Take {self.path.stem} is no longer being written here. Open it again.",
            )
        return _Breaking(self)


class _Breaking:
    """A step that, if it does not come to its end, is this writer's last."""

    def __init__(self, writer: TakeWriter) -> None:
        self._writer = writer

    def __enter__(self) -> None:
        self._writer._broken = True

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._writer._broken = kind is not None


def begin_take(path: Path, sample_rate_hz: int) -> TakeWriter:
    """Begin a take, also one that was begun before and has no sample yet.

    Raises
    ------
    Conflict
        If it has samples, or somebody is writing it.
    """
    writer = TakeWriter(path, sample_rate_hz)
    try:
        writer._begin()
    except BaseException:
        writer.close()
        raise
    return writer


def resume_take(path: Path, sample_rate_hz: int) -> TakeWriter:
    """Go on with a take after a break, where the disk confirms.

    Raises
    ------
    Conflict
        If somebody is writing it.
    Damaged
        If a record before the last ones is not what was written.
    """
    writer = TakeWriter(path, sample_rate_hz)
    try:
        writer._resume()
    except BaseException:
        writer.close()
        raise
    return writer


def recover_take(path: Path, sample_rate_hz: int | None = None) -> StoredTake:
    """Cut off what was being written when something stopped, so that the take ends on its sums.

    Parameters
    ----------
    path : Path
        Its WAV.
    sample_rate_hz : int, optional
        As the ledger has it; else the header is asked.

    Raises
    ------
    Conflict
        If somebody is writing it.
    Damaged
        If a record with whole ones after it is not what was written, or no rate can be found.
        Nothing is changed then.
    """
    wav = disk.open_to_read(path)
    try:
        known = sample_rate_hz or sample_rate_of_header(disk.read_at(wav, HEADER_BYTES, 0, path))
        size = os.fstat(wav).st_size
    finally:
        os.close(wav)
    if known is None:
        raise Damaged(
            "take/header", f"The header of {path} is not as it was written. Use a backup of it."
        )
    with TakeWriter(path, known) as writer:
        records = _mend(writer._wav, writer._sums, path, known)
    samples = _count(records)
    whole = HEADER_BYTES + samples * BYTES_A_SAMPLE + padding(samples)
    return StoredTake(
        path=path,
        sample_rate_hz=known,
        samples=samples,
        dropped_bytes=max(0, size - whole),
    )


class TakeReader:
    """A take as a source of sound; each record is held against its sum as it is read.

    A take that is being written can be read at the same time, as far as it was confirmed when
    the reader was opened.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._records = read_sums(path)
        self._starts = np.array([record.start for record in self._records], np.int64)
        self._wav = disk.open_to_read(path)
        header = disk.read_at(self._wav, HEADER_BYTES, 0, path)
        sample_rate_hz = sample_rate_of_header(header)
        if sample_rate_hz is None:
            self.close()
            raise Damaged(
                "take/header", f"The header of {path} is not as it was written. Use a backup of it."
            )
        self._info = SoundInfo(
            sample_rate_hz=sample_rate_hz,
            channels=1,
            frames=_count(self._records),
            encoding=_ENCODING,
        )

    @property
    def info(self) -> SoundInfo:
        """Its rate, its one channel, and the samples that its sums cover."""
        return self._info

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        """Give the whole take from its start, in blocks of shape (n, 1), full scale 1.0."""
        for start in range(0, self._info.frames, block_frames):
            yield self.read(start, min(start + block_frames, self._info.frames))

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a half-open range, shape (stop - start, 1), full scale 1.0.

        Raises
        ------
        Damaged
            If a record in it is not what was written.
        """
        if not 0 <= start <= stop <= self._info.frames:
            raise Invalid(
                "take/range",
                f"Take {self._path.stem} has samples 0 to {self._info.frames}; "
                f"{start} to {stop} were asked for.",
            )
        if start == stop:
            return np.zeros((0, 1))
        first = int(np.searchsorted(self._starts, start, side="right")) - 1
        last = int(np.searchsorted(self._starts, stop, side="left"))
        pcm = b"".join(
            _verified(self._wav, record, self._path, self._info.sample_rate_hz)
            for record in self._records[first:last]
        )
        skip = start - self._records[first].start
        return samples_of_pcm24(pcm)[skip : skip + stop - start, np.newaxis]

    def close(self) -> None:
        """Let go of the file."""
        if self._wav >= 0:
            os.close(self._wav)
        self._wav = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def sums_path(path: Path) -> Path:
    """Name the sums beside a take's WAV."""
    return path.with_suffix(".sums")


def read_sums(path: Path) -> list[TakeRecord]:
    """Read the records of a take as far as its sums are whole.

    Raises
    ------
    Damaged
        If a line that cannot be read has others after it that can.
    """
    beside = sums_path(path)
    file = disk.open_to_read(beside)
    try:
        return _records(disk.read_at(file, os.fstat(file).st_size, 0, beside), beside)
    finally:
        os.close(file)


def _line(samples: int, crc32: int) -> bytes:
    return b"%010d %08x\n" % (samples, crc32)


def _records(data: bytes, path: Path) -> list[TakeRecord]:
    records: list[TakeRecord] = []
    start = 0
    torn = False
    for at in range(0, len(data), LINE_BYTES):
        line = data[at : at + LINE_BYTES]
        count, crc32 = line[:10], line[11:19]
        try:
            samples, checksum = int(count), int(crc32, 16)
        except ValueError:
            torn = True
            continue
        if line != _line(samples, checksum) or not samples:
            torn = True
            continue
        if torn:
            raise Damaged(
                "take/sums",
                f"{path} is not as it was written, and has good lines after the bad ones. "
                "Bring this reading's folder back from a backup.",
            )
        records.append(TakeRecord(start=start, samples=samples, crc32=checksum))
        start += samples
    return records


def _mend(wav: int, sums: int, path: Path, sample_rate_hz: int) -> list[TakeRecord]:
    """Walk the sums; let both files end where they agree; put the header right."""
    beside = sums_path(path)
    sums_size = os.fstat(sums).st_size
    records = _records(disk.read_at(sums, sums_size, 0, beside), beside)
    whole = [zlib.crc32(_payload(wav, record, path)) == record.crc32 for record in records]
    good = whole.index(False) if False in whole else len(whole)
    if any(whole[good:]):
        _refuse_record(records[good], path, sample_rate_hz)
    del records[good:]
    samples = _count(records)
    header = take_header(sample_rate_hz, samples)
    end = HEADER_BYTES + samples * BYTES_A_SAMPLE
    size = end + padding(samples)
    pad = b"\0" * padding(samples)
    # Only what differs is written, so that a whole take is opened without touching it.
    if sums_size != len(records) * LINE_BYTES:
        disk.cut_to(sums, len(records) * LINE_BYTES, beside)
        disk.sync(sums, beside)
    if (
        os.fstat(wav).st_size != size
        or disk.read_at(wav, HEADER_BYTES, 0, path) != header
        or disk.read_at(wav, 1, end, path) != pad
    ):
        disk.cut_to(wav, end, path)
        disk.write_at(wav, pad, end, path)
        disk.write_at(wav, header, 0, path)
        disk.sync(wav, path)
    return records


def _payload(wav: int, record: TakeRecord, path: Path) -> bytes:
    offset = HEADER_BYTES + record.start * BYTES_A_SAMPLE
    return disk.read_at(wav, record.samples * BYTES_A_SAMPLE, offset, path)


def _verified(wav: int, record: TakeRecord, path: Path, sample_rate_hz: int) -> bytes:
    payload = _payload(wav, record, path)
    if zlib.crc32(payload) != record.crc32:
        _refuse_record(record, path, sample_rate_hz)
    return payload


def _refuse_record(record: TakeRecord, path: Path, sample_rate_hz: int) -> NoReturn:
    raise Damaged(
        "take/record",
        f"{path} is not what was recorded from {record.start / sample_rate_hz:.1f} s to "
        f"{(record.start + record.samples) / sample_rate_hz:.1f} s. "
        "Bring this reading's folder back from a backup, or cut that place out and read it again.",
    )


def _count(records: list[TakeRecord]) -> int:
    return records[-1].start + records[-1].samples if records else 0
