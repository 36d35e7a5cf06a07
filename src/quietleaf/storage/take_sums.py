"""The sums of a take: a line of 20 bytes for each record, and what it is held against."""

from __future__ import annotations

import os
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from quietleaf.errors import Damaged
from quietleaf.storage import disk
from quietleaf.storage.pcm24 import BYTES_A_SAMPLE
from quietleaf.storage.take_header import HEADER_BYTES

LINE_BYTES = 20
RECORD_SAMPLES_MAX = 65_536


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeRecord:
    """One record of a take: ``samples`` from ``start`` on, and the CRC-32 of their bytes."""

    start: int
    samples: int
    crc32: int


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
        return records_of_lines(disk.read_at(file, os.fstat(file).st_size, 0, beside), beside)
    finally:
        os.close(file)


def sums_line(samples: int, crc32: int) -> bytes:
    return b"%010d %08x\n" % (samples, crc32)


def records_of_lines(data: bytes, path: Path) -> list[TakeRecord]:
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
        whole = line == sums_line(samples, checksum)
        if not whole or not 0 < samples <= RECORD_SAMPLES_MAX:
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


def record_bytes(wav: int, record: TakeRecord, path: Path) -> bytes:
    offset = HEADER_BYTES + record.start * BYTES_A_SAMPLE
    return disk.read_at(wav, record.samples * BYTES_A_SAMPLE, offset, path)


def verified_bytes(wav: int, record: TakeRecord, path: Path, sample_rate_hz: int) -> bytes:
    payload = record_bytes(wav, record, path)
    if not is_record(payload, record):
        refuse_record(record, path, sample_rate_hz)
    return payload


def is_record(payload: bytes, record: TakeRecord) -> bool:
    """Tell whether these are the bytes of a record, and all of them."""
    whole = len(payload) == record.samples * BYTES_A_SAMPLE
    return whole and zlib.crc32(payload) == record.crc32


def refuse_record(record: TakeRecord, path: Path, sample_rate_hz: int) -> NoReturn:
    raise Damaged(
        "take/record",
        f"{path} is not what was recorded from {record.start / sample_rate_hz:.1f} s to "
        f"{(record.start + record.samples) / sample_rate_hz:.1f} s. "
        "Bring this reading's folder back from a backup, or cut that place out and read it again.",
    )


def count_samples(records: list[TakeRecord]) -> int:
    return records[-1].start + records[-1].samples if records else 0
