"""Several files that belong together: all of them appear in a folder, or none."""

from __future__ import annotations

import errno
import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from quietleaf.errors import Conflict
from quietleaf.storage import disk
from quietleaf.storage.new_file import NewFile, disk_told

_HIDDEN = ".finishing-"


@contextmanager
def staging(folder: Path) -> Iterator[Path]:
    """Give a hidden folder inside another, to fill; at the end it is gone, whatever happened.

    The outer folder is made if it is not there, and goes again if nothing came to be in it. What
    a killed process left behind is cleared away by the next.

    Raises
    ------
    NotFound, NotAllowed, Unavailable
        If the disk does not take it.
    """
    made = _make(folder)
    hidden = folder / f"{_HIDDEN}{secrets.token_hex(4)}"
    held = -1
    try:
        with disk_told(folder):
            for left in folder.glob(f"{_HIDDEN}*"):
                _sweep(left)
            hidden.mkdir()
            held = disk.open_to_read(hidden)
            disk.lock(held, hidden, wait_s=0.0)
        yield hidden
    finally:
        if held >= 0:
            os.close(held)
        shutil.rmtree(hidden, ignore_errors=True)
        _unmake(made)


def show_all(
    hidden: Path,
    folder: Path,
    names: tuple[str, ...],
    out: Path | None = None,
    copied: tuple[str, ...] = (),
) -> None:
    """Let files appear under their names, or none of them.

    Parameters
    ----------
    hidden : Path
        Where they are, in the folder that they will appear in.
    out : Path, optional
        Another folder, which gets copies of some: whoever changes one there changes no other.

    Raises
    ------
    Conflict
        If a name is taken.
    """
    shown: list[Path] = []
    made: list[Path] = []
    try:
        if out is not None:
            made = _make(out)
            for name in copied:
                _copy(hidden / name, out / name)
                shown.append(out / name)
        for name in names:
            path = folder / name
            with disk_told(path):
                _move(hidden / name, path)
            shown.append(path)
        disk.sync_folder(folder)
    except BaseException:
        for path in shown:
            path.unlink(missing_ok=True)
        _unmake(made)
        raise


def free_version(
    folders: tuple[Path, ...], names: tuple[str, ...], most: int = 10_000
) -> tuple[str, ...]:
    """Give the names, or the names with ``-2``, ``-3`` and so on, that are free in all folders.

    Examples
    --------
    >>> free_version((Path("/nowhere"),), ("plan.json", "letters.wav"))
    ('plan.json', 'letters.wav')
    """
    for version in range(1, most):
        tried = names if version == 1 else tuple(_versioned(name, version) for name in names)
        if not any((folder / name).exists() for folder in folders for name in tried):
            return tried
    raise Conflict(
        "masters/versions", f"There are {most} versions of {names[0]} already. Move some away."
    )


def _versioned(name: str, version: int) -> str:
    stem, dot, end = name.rpartition(".")
    return f"{stem}-{version}{dot}{end}"


def _make(folder: Path) -> list[Path]:
    """Make a folder with those above it; give the ones that were not there."""
    missing = []
    path = folder
    while not path.exists():
        missing.append(path)
        path = path.parent
    with disk_told(folder):
        folder.mkdir(parents=True, exist_ok=True)
    return missing[::-1]


def _unmake(made: list[Path]) -> None:
    for path in reversed(made):
        # Somebody may have put something in it meanwhile.
        with suppress(OSError):
            path.rmdir()


def _move(source: Path, path: Path) -> None:
    if path.exists():
        raise FileExistsError
    try:
        # Unlike a rename, a link never takes the place of a file that came meanwhile.
        path.hardlink_to(source)
    except FileExistsError:
        raise
    except OSError as error:
        if error.errno not in (errno.EPERM, errno.ENOTSUP, errno.EMLINK):
            raise
        source.rename(path)
        return
    source.unlink()


def _copy(source: Path, path: Path) -> None:
    with NewFile(path) as copy, source.open("rb") as original:
        with disk_told(path):
            shutil.copyfileobj(original, copy.stream)
        copy.commit()


def _sweep(left: Path) -> None:
    with suppress(OSError):
        held = os.open(left, os.O_RDONLY | os.O_DIRECTORY)
        try:
            disk.lock(held, left, wait_s=0.0)
        except Conflict:
            # Somebody is filling it at this moment.
            return
        finally:
            os.close(held)
        shutil.rmtree(left, ignore_errors=True)
