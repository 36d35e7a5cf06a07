"""The few things that reading folders ask of a disk, so that each can be made to fail in tests.

Every write here is in order, whole or refused; what must outlive a power cut is synced by name.
"""

from __future__ import annotations

import errno
import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from quietleaf.errors import Conflict, NotFound, Unavailable

LOCK_WAIT_S = 0.5
_LOCK_STEP_S = 0.01


def open_to_write(path: Path, mode: int = 0o644) -> int:
    """Open a file for reading and writing, made if it is not there; give its descriptor."""
    with refusing(path):
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, mode)


def open_to_read(path: Path) -> int:
    """Open a file for reading; give its descriptor."""
    with refusing(path):
        return os.open(path, os.O_RDONLY | os.O_CLOEXEC)


def write_at(file: int, data: bytes, offset: int, path: Path) -> None:
    """Write all of this at a place in the file."""
    with refusing(path):
        rest = memoryview(data)
        while rest:
            written = os.pwrite(file, rest, offset)
            rest, offset = rest[written:], offset + written


def read_at(file: int, size: int, offset: int, path: Path) -> bytes:
    """Read up to this many bytes at a place; fewer only where the file ends."""
    with refusing(path):
        parts: list[bytes] = []
        while size > 0 and (part := os.pread(file, size, offset)):
            parts.append(part)
            size, offset = size - len(part), offset + len(part)
        return b"".join(parts)


def cut_to(file: int, size: int, path: Path) -> None:
    """Let a file end here."""
    with refusing(path):
        os.ftruncate(file, size)


def sync(file: int, path: Path) -> None:
    """Come back when the file's bytes and length are on the disk."""
    with refusing(path):
        os.fdatasync(file)


def sync_folder(path: Path) -> None:
    """Come back when the names in a folder are on the disk."""
    with refusing(path):
        folder = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def move(old: Path, new: Path) -> None:
    """Give a file or folder another name in one step."""
    with refusing(old):
        old.rename(new)


def replace_whole(path: Path, data: bytes, mode: int = 0o644) -> None:
    """Put a small file in place of the one there: wholly the old or wholly the new."""
    beside = path.with_name(f".{path.name}.new")
    file = open_to_write(beside, mode)
    try:
        cut_to(file, 0, beside)
        write_at(file, data, 0, beside)
        sync(file, beside)
    finally:
        os.close(file)
    move(beside, path)
    sync_folder(path.parent)


def lock(file: int, path: Path, wait_s: float = LOCK_WAIT_S) -> None:
    """Keep every other writer out until the descriptor is closed, also by a crash.

    Raises
    ------
    Conflict
        If somebody else keeps it for longer than the wait.
    """
    deadline_s = time.monotonic() + wait_s
    while True:
        try:
            with refusing(path):
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except Unavailable as busy:
            if not isinstance(busy.__cause__, BlockingIOError):
                raise
            if time.monotonic() >= deadline_s:
                raise Conflict(
                    "disk/in-use",
                    f"Somebody else is writing {path.name} of {path.parent.name} just now. "
                    "Wait until that is done, then do this again.",
                ) from None
        time.sleep(_LOCK_STEP_S)


@contextmanager
def refusing(path: Path) -> Iterator[None]:
    """Turn what the system says into a sentence."""
    try:
        yield
    except FileNotFoundError as fault:
        raise NotFound("disk/not-found", f"There is no {path}.") from fault
    except OSError as fault:
        if fault.errno in (errno.ENOSPC, errno.EDQUOT):
            raise Unavailable(
                "disk/full",
                f"The disk that holds {path} is full. What was confirmed before is safe; "
                "make room, then go on.",
            ) from fault
        raise Unavailable(
            "disk/fault",
            f"The disk did not do what was asked with {path} ({fault.strerror}). "
            "What was confirmed before is safe.",
        ) from fault
