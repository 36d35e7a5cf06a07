"""A new file: it appears under its name whole and synced, or not at all."""

from __future__ import annotations

import errno
import fcntl
import hashlib
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from quietleaf.errors import Conflict, NotAllowed, NotFound, Unavailable
from quietleaf.storage import disk


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A file that is on disk under its own name."""

    path: Path
    size_bytes: int
    sha256: str


class NewFile:
    """A file being written beside its place, under a hidden name.

    ``stream`` reads and writes; ``hidden`` is where the bytes lie meanwhile.
    Leaving a ``with`` block without ``commit`` abandons the file.
    What a killed process left is cleared away by the next that writes the same name.

    Parameters
    ----------
    path : Path
        Where the file will be; its folder is there, and the name is free.

    Raises
    ------
    Conflict
        If something has that name already: nothing is ever written over.
    NotFound, NotAllowed, Unavailable
        If the folder is missing, closed to us, or full.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        _refuse_taken(path)
        with disk_told(path):
            _clear_left_over(path)
            self.hidden = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
            self.stream = self.hidden.open("x+b")
            # Held until the stream is closed: tells a living writer from a left-over.
            fcntl.flock(self.stream, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def commit(self) -> Written:
        """Sync the bytes, take their checksum as the disk gives them back, and show the file."""
        with disk_told(self.path):
            self.stream.flush()
            os.fsync(self.stream.fileno())
            size_bytes = self.stream.seek(0, os.SEEK_END)
            self.stream.seek(0)
            digest = hashlib.file_digest(self.stream, "sha256").hexdigest()
            _show(self.hidden, self.path)
            self.stream.close()
            disk.sync_folder(self.path.parent)
        return Written(path=self.path, size_bytes=size_bytes, sha256=digest)

    def abandon(self) -> None:
        """Leave nothing behind; after ``commit`` this does nothing."""
        if not self.stream.closed:
            self.hidden.unlink(missing_ok=True)
            # Closing writes what is still buffered; of a full disk that fails, and does not matter.
            with suppress(OSError):
                self.stream.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.abandon()


def write_text_file(path: Path, text: str) -> Written:
    """Write a page or a plan as UTF-8; what is no text (a stray byte of a name) becomes "?".

    Raises
    ------
    Conflict, NotFound, NotAllowed, Unavailable
        As :class:`NewFile`.
    """
    with NewFile(path) as file:
        with disk_told(path):
            file.stream.write(text.encode("utf-8", "replace"))
        return file.commit()


@contextmanager
def disk_told(path: Path) -> Iterator[None]:
    """Turn what the disk says into sentences."""
    try:
        yield
    except FileExistsError as error:
        raise Conflict(
            "files/taken", f"{path} is there already, and nothing is written over. Move it away."
        ) from error
    except FileNotFoundError as error:
        raise NotFound(
            "files/no-folder",
            f"{path.name} belongs into the folder {path.parent}, which is not there. "
            "Make the folder, or name another.",
        ) from error
    except PermissionError as error:
        raise NotAllowed(
            "files/closed",
            f"{path.parent} may not be written to by this account. "
            "Open the folder to it, or name another.",
        ) from error
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise Unavailable(
                "files/full",
                f"The disk that holds {path.parent} is full. Nothing was kept of {path.name}; "
                "make room and ask again.",
            ) from error
        raise Unavailable(
            "files/disk",
            f"The disk that holds {path.parent} did not take {path.name}: {error.strerror}. "
            "Look after the disk and ask again.",
        ) from error


def _refuse_taken(path: Path) -> None:
    if path.exists():
        raise Conflict(
            "files/taken", f"{path} is there already, and nothing is written over. Move it away."
        )


def _clear_left_over(path: Path) -> None:
    for hidden in path.parent.glob(f".{_literal(path.name)}.*.part"):
        # Another writer may clear or show it in the same moment.
        with suppress(FileNotFoundError, BlockingIOError), hidden.open("rb") as left:
            fcntl.flock(left, fcntl.LOCK_EX | fcntl.LOCK_NB)
            hidden.unlink()


def _literal(name: str) -> str:
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)


def _show(hidden: Path, path: Path) -> None:
    try:
        # Unlike a rename, a link never takes the place of a file that came meanwhile.
        path.hardlink_to(hidden)
    except FileExistsError:
        raise
    except OSError as error:
        if error.errno not in (errno.EPERM, errno.ENOTSUP, errno.EMLINK):
            raise
        _refuse_taken(path)
        hidden.rename(path)
        return
    hidden.unlink()
