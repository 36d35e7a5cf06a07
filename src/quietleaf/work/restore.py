"""Restore a station from a backup, into a place where there is none."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from quietleaf.errors import Conflict, Damaged
from quietleaf.storage import disk
from quietleaf.storage.backup_store import BackupStore, ListedFile
from quietleaf.storage.database import FILE, Database, database_url
from quietleaf.work.tools import Progress, no_progress

_STEP = "Restoring"
_MODES = {"tls": 0o600}
"""Private keys are for their owner alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """A station that is there again."""

    name: str
    files: int
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RestoreBackup:
    """What is wanted.

    Attributes
    ----------
    folder : Path
        The folder of backups.
    name : str or None
        Which of them; None for the last.
    data : Path
        Where the station is to be; nothing is there, or an empty folder.
    database : str
        Of a PostgreSQL database that has no station yet; empty for SQLite in the data folder.
    """

    folder: Path
    passphrase: str | None
    name: str | None
    data: Path
    database: str


def restore(request: RestoreBackup, progress: Progress = no_progress) -> Restored:
    """Write every file again beside its place, then show all at once.

    Raises
    ------
    Conflict
        If something is there already: nothing is ever written over.
    NotFound
        If there is no such backup.
    Damaged
        If a piece is missing or not what was put there; nothing is shown then.
    """
    data = request.data.absolute()
    _refuse_taken(data)
    with BackupStore(request.folder, request.passphrase, is_new=False) as store:
        name = request.name or next(reversed(store.taken()), "")
        files = store.files(name)
        whole = sum(file.size_bytes for file in files)
        hidden = data.with_name(f".{data.name}.restoring")
        with disk.refusing(hidden):
            # What an earlier try left was never shown to anybody.
            shutil.rmtree(hidden, ignore_errors=True)
            hidden.mkdir(mode=0o700, parents=True)
        try:
            done = 0
            for file in files:
                progress(_STEP, done / max(whole, 1))
                _write(hidden / file.path, file, store)
                done += file.size_bytes
            if request.database:
                _into_database(hidden, request.database)
            _show(hidden, data)
        except BaseException:
            shutil.rmtree(hidden, ignore_errors=True)
            raise
    return Restored(name=name, files=len(files), size_bytes=whole)


def _refuse_taken(data: Path) -> None:
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise Conflict(
            "restore/taken",
            f"Something is in {data} already, and nothing is written over it. Name an empty "
            "folder, or move what is there away.",
        )


def _write(path: Path, file: ListedFile, store: BackupStore) -> None:
    with disk.refusing(path):
        path.parent.mkdir(parents=True, exist_ok=True)
    opened = disk.open_to_write(path, _MODES.get(file.path.split("/")[0], 0o644))
    try:
        written = 0
        for name in file.pieces:
            piece = store.get(name)
            disk.write_at(opened, piece, written, path)
            written += len(piece)
        if written != file.size_bytes:
            raise Damaged(
                "backup/length",
                f"{file.path} has {written} bytes in this backup and had {file.size_bytes}.",
            )
        disk.sync(opened, path)
    finally:
        os.close(opened)


def _into_database(hidden: Path, url: str) -> None:
    with Database(database_url(hidden)) as plan, Database(url) as wanted:
        plan.copy_into(wanted)
    for path in hidden.glob(f"{FILE}*"):
        path.unlink()


def _show(hidden: Path, data: Path) -> None:
    for folder, _, _ in os.walk(hidden):
        disk.sync_folder(Path(folder))
    with disk.refusing(data):
        if data.exists():
            data.rmdir()
    disk.move(hidden, data)
    disk.sync_folder(data.parent)
