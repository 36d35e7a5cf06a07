"""Takes on the disk: what is recorded is safe when it is confirmed.

``NNNN.wav`` holds the samples; ``NNNN.sums`` holds a line of 20 bytes for each record of them:
how many samples, and the CRC-32 of their bytes. What the sums cover is the take; bytes of the
WAV past that were on their way when something stopped.
"""

from __future__ import annotations

import hashlib
import os
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from quietleaf.errors import Conflict, Damaged, Invalid
from quietleaf.storage import disk
from quietleaf.storage.pcm24 import BYTES_A_SAMPLE
from quietleaf.storage.take_header import (
    HEADER_BYTES,
    padding,
    sample_rate_of_header,
    take_header,
)
from quietleaf.storage.take_sums import (
    LINE_BYTES,
    RECORD_SAMPLES_MAX,
    TakeRecord,
    count_samples,
    is_record,
    record_bytes,
    records_of_lines,
    refuse_record,
    sums_line,
    sums_path,
)


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
                self._lines.append(sums_line(len(record) // BYTES_A_SAMPLE, zlib.crc32(record)))
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

    def __exit__(self, *_: object) -> None:
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
            self._samples = self.durable_samples = count_samples(records)
            self._sums_bytes = len(records) * LINE_BYTES
            for record in records:
                self._sha256.update(record_bytes(self._wav, record, self.path))

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

    def __exit__(self, kind: object, *_: object) -> None:
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
    samples = count_samples(records)
    whole = HEADER_BYTES + samples * BYTES_A_SAMPLE + padding(samples)
    return StoredTake(
        path=path,
        sample_rate_hz=known,
        samples=samples,
        dropped_bytes=max(0, size - whole),
    )


def _mend(wav: int, sums: int, path: Path, sample_rate_hz: int) -> list[TakeRecord]:
    """Walk the sums; let both files end where they agree; put the header right."""
    beside = sums_path(path)
    sums_size = os.fstat(sums).st_size
    records = records_of_lines(disk.read_at(sums, sums_size, 0, beside), beside)
    whole = [is_record(record_bytes(wav, record, path), record) for record in records]
    good = whole.index(False) if False in whole else len(whole)
    if any(whole[good:]):
        refuse_record(records[good], path, sample_rate_hz)
    del records[good:]
    samples = count_samples(records)
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
