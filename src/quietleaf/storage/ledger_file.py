"""The ledger on the disk: only ever added to, a synced line at a time, by one writer at a time."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from quietleaf.booth.admission import admit
from quietleaf.booth.edits import Edit
from quietleaf.booth.ledger import LedgerText, line_of_edit, number_of_line, read_ledger
from quietleaf.booth.replay import Standing, replay, step
from quietleaf.storage import disk

_END_BYTES = 1 << 16


def read_ledger_file(path: Path) -> LedgerText:
    """Read the entries of a ledger; a torn end is left out.

    Raises
    ------
    NotFound
        If there is none.
    Damaged
        If a line before the last is not as it was written.
    """
    file = disk.open_to_read(path)
    try:
        return _read(file, path)
    finally:
        os.close(file)


def last_number(path: Path) -> int:
    """Give the number of a ledger's last whole entry, from its end alone; 0 where there is none.

    What is shown of many readings asks by this whether the index knows all of each.

    Raises
    ------
    NotFound
        If there is none.
    """
    file = disk.open_to_read(path)
    try:
        size = os.fstat(file).st_size
        start = max(0, size - _END_BYTES)
        end = disk.read_at(file, size - start, start, path)
    finally:
        os.close(file)
    numbers = (number_of_line(line) for line in reversed(end.split(b"\n")[:-1]))
    return next((number for number in numbers if number is not None), 0)


def append_edit(path: Path, propose: Callable[[Standing], Edit]) -> Standing:
    """Add an entry; come back when it is on the disk.

    Parameters
    ----------
    path : Path
        The ledger; made if it is not there.
    propose : callable
        Given the reading as it stands, says what to add. If an entry with the same id is
        there already, nothing is added: asking twice is asking once.

    Returns
    -------
    Standing
        The reading with the entry.

    Raises
    ------
    Conflict
        If another writer is at it, or the entry was decided on a reading that has changed since.
    Invalid
        If the entry does not hold together.
    Unavailable
        If the disk does not take it; it is then wholly in the ledger or not at all.
    """
    file = disk.open_to_write(path)
    try:
        disk.lock(file, path)
        text = _read(file, path)
        standing = replay(text.edits)
        edit = propose(standing)
        if any(entered.edit_id == edit.edit_id for entered in text.edits):
            return standing
        admit(standing, edit)
        line = line_of_edit(edit)
        if os.fstat(file).st_size != text.whole_bytes:
            disk.cut_to(file, text.whole_bytes, path)
        disk.write_at(file, line, text.whole_bytes, path)
        disk.sync(file, path)
        return step(standing, edit)
    finally:
        os.close(file)


def _read(file: int, path: Path) -> LedgerText:
    data = disk.read_at(file, os.fstat(file).st_size, 0, path)
    return read_ledger(data, f"{path.parent.name}/{path.name}")
