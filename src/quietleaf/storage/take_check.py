"""Whether a take is on the disk as it was recorded: read back and held against the ledger."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from quietleaf.errors import Damaged
from quietleaf.storage import disk
from quietleaf.storage.pcm24 import BYTES_A_SAMPLE
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.take_header import HEADER_BYTES

_CHUNK_BYTES = 1 << 20


def check_take(folder: ReadingFolder, take: int) -> None:
    """Read a complete take back from the disk, and hold it against the ledger.

    Raises
    ------
    Damaged
        If its length, its rate or its checksum is another.
    NotFound
        If its file is missing.
    """
    folder.open_take(take).close()
    known = next(one for one in folder.takes() if one.take == take)
    assert known.samples is not None, "only a take that came to its end is held against its sum"
    path = folder.take_path(take)
    if _sha256_on_disk(path, known.samples * BYTES_A_SAMPLE) != known.sha256:
        raise Damaged(
            "take/sha256",
            f"Take {take} is not on the station's disk as it was recorded: its checksum is "
            "another. Bring this reading's folder back from a backup.",
        )


def _sha256_on_disk(path: Path, size: int) -> str:
    digest = hashlib.sha256()
    file = disk.open_to_read(path)
    try:
        # What was written lies in the machine's memory too; without this nothing but that would
        # be read, and the disk never asked.
        os.posix_fadvise(file, 0, 0, os.POSIX_FADV_DONTNEED)
        reached = 0
        while reached < size:
            wanted = min(_CHUNK_BYTES, size - reached)
            part = disk.read_at(file, wanted, HEADER_BYTES + reached, path)
            if not part:
                break
            digest.update(part)
            reached += len(part)
    finally:
        os.close(file)
    return digest.hexdigest()
