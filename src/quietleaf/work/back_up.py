"""Back a station up while it is at work: what is new is added to a folder of backups."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

from quietleaf.errors import Invalid, NotFound
from quietleaf.storage.backup_store import BackupStore, ListedFile
from quietleaf.storage.data_files import OpenedFile, data_files, opened
from quietleaf.storage.database import FILE, Database, database_url
from quietleaf.work.tools import Tools

_STEP = "Backing up"
_HIDDEN = ".backing-up-"


@dataclass(frozen=True, slots=True, kw_only=True)
class BackedUp:
    """A backup that is there.

    Attributes
    ----------
    name : str
        The moment it was begun, UTC.
    size_bytes : int
        Of all its files.
    new_bytes : int
        Of what no earlier backup in this folder had.
    """

    name: str
    files: int
    size_bytes: int
    new_bytes: int


def back_up(folder: Path, passphrase: str | None, tools: Tools) -> BackedUp:
    """Copy a station's plan and readings; stopped at any step, earlier backups are as they were.

    Raises
    ------
    Invalid
        If the folder lies in the station's own, holds other things, or wants another passphrase.
    Conflict
        If another backup is being written there.
    Unavailable
        If a disk refuses.
    """
    if folder.resolve().is_relative_to(tools.data.resolve()):
        raise Invalid(
            "backup/inside",
            f"{folder} lies in the station's own folder and would be lost with it. "
            "Name a folder on another disk.",
        )
    at = tools.clock()
    with BackupStore(folder, passphrase, is_new=True) as store:
        copier = _Copier(store)
        # The index first: what it names is in folders that are copied after it.
        for left in tools.data.glob(f"{_HIDDEN}*"):
            # A backup that was killed: the lock on the store says that none is at work.
            shutil.rmtree(left, ignore_errors=True)
        with tempfile.TemporaryDirectory(prefix=_HIDDEN, dir=tools.data) as hidden:
            copy = Path(hidden) / FILE
            with Database(database_url(copy.parent)) as plan:
                tools.database.copy_into(plan)
            copier.copy(copy, FILE)
        paths = data_files(tools.data)
        for done, path in enumerate(paths):
            tools.progress(_STEP, done / len(paths))
            copier.copy(path, path.relative_to(tools.data).as_posix())
        name = store.keep(at, copier.files)
    return BackedUp(
        name=name,
        files=len(copier.files),
        size_bytes=sum(file.size_bytes for file in copier.files),
        new_bytes=copier.new_bytes,
    )


class _Copier:
    """Copies files into a store; those that have not changed since the last backup are not read."""

    def __init__(self, store: BackupStore) -> None:
        self._store = store
        taken = store.taken()
        last = store.files(taken[-1]) if taken else ()
        self._last = {file.path: file for file in last}
        self.files: list[ListedFile] = []
        self.new_bytes = 0

    def copy(self, path: Path, name: str) -> None:
        try:
            with opened(path) as file:
                self.files.append(self._copied(file, name))
        except NotFound:
            # A reading may have been put away, or a master made anew, since it was listed.
            return

    def _copied(self, file: OpenedFile, name: str) -> ListedFile:
        listed = ListedFile(
            path=name, size_bytes=file.size_bytes, changed_ns=file.changed_ns, pieces=()
        )
        before = self._last.get(name)
        if (
            before is not None
            and before == replace(listed, pieces=before.pieces)
            and self._store.has(before.pieces)
        ):
            return before
        names = []
        for piece in file.pieces():
            piece_name, is_new = self._store.put(piece)
            names.append(piece_name)
            self.new_bytes += len(piece) if is_new else 0
        return replace(listed, pieces=tuple(names))
