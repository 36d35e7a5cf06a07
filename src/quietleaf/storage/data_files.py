"""The files of a data folder that a backup takes: in the order in which they must be read."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from quietleaf.storage import disk
from quietleaf.storage.database import FILE
from quietleaf.storage.reading_places import PRACTICE

PIECE_BYTES = 8 << 20
"""What is added to a file costs a later backup its last piece anew. Ours."""
LOG_FOLDER = "log"
_FIRST = (".jsonl", ".sums")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedFile:
    """A file as it was when it was opened; what is added to it since does not count."""

    path: Path
    size_bytes: int
    changed_ns: int
    _file: int

    def pieces(self) -> Iterator[bytes]:
        """Give its bytes, `PIECE_BYTES` at a time."""
        for start in range(0, self.size_bytes, PIECE_BYTES):
            count = min(PIECE_BYTES, self.size_bytes - start)
            yield disk.read_at(self._file, count, start, self.path)


def data_files(data: Path) -> list[Path]:
    """List what a backup takes of a data folder.

    The database's own files are left out, practice and the log too, and what is being made under
    a hidden name. What names sound (ledgers, then sums) comes before the sound: a copy may hold
    more of that than is named, never less.
    """
    found = []
    for folder, inside, names in os.walk(data):
        here = Path(folder)
        inside[:] = [
            name
            for name in inside
            if not name.startswith(".") and not (here == data and name in (PRACTICE, LOG_FOLDER))
        ]
        found += [
            here / name
            for name in names
            if not name.startswith(".") and not (here == data and name.startswith(FILE))
        ]
    return sorted(found, key=lambda path: (_turn(path), path))


def _turn(path: Path) -> int:
    return _FIRST.index(path.suffix) if path.suffix in _FIRST else len(_FIRST)


@contextmanager
def opened(path: Path) -> Iterator[OpenedFile]:
    """Open a file for a backup.

    Raises
    ------
    NotFound
        If it is gone meanwhile.
    """
    file = disk.open_to_read(path)
    try:
        facts = os.fstat(file)
        yield OpenedFile(
            path=path,
            size_bytes=facts.st_size,
            changed_ns=facts.st_ctime_ns,
            _file=file,
        )
    finally:
        os.close(file)
