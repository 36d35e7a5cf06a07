"""A folder of backups: pieces of files named by what is in them, and a listing for each backup.

::

  backup.json                 the schema, and the wrapped key if the pieces are sealed
  pieces/3f/3fa9...           8 MiB of a file, or its rest
  listings/2026-11-26T04-00-00Z.json   the SHA-256 of what follows; the files of one backup

A piece that is there is not written again, so that a later backup costs what is new. A listing is
written last: a backup is there whole or not at all.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Self

from quietleaf.booth.shapes import check_shape
from quietleaf.errors import Damaged, Invalid, NotFound
from quietleaf.storage import disk
from quietleaf.storage.sealing import Open, Sealing, known_key, new_key

SCHEMA = "quietleaf/backup/1"
_MODE, _FOLDER_MODE = 0o600, 0o700
"""The owner alone: private keys and people's names are in it."""
_ABOUT, _PIECES, _LISTINGS = "backup.json", "pieces", "listings"
_NAMED = re.compile(r"[0-9a-f]{64}")
_TAKEN = re.compile(r"\d{4}-\d\d-\d\dT\d\d-\d\d-\d\dZ")


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedFile:
    """A file of one backup.

    Attributes
    ----------
    path : str
        Relative to the data folder, with ``/``.
    changed_ns : int
        When the system last saw it change: with its size it tells whether it must be read again.
    pieces : tuple of str
        Their names, in order.
    """

    path: str
    size_bytes: int
    changed_ns: int
    pieces: tuple[str, ...]


class BackupStore:
    """A folder of backups, kept by one writer at a time; use it as a context.

    Parameters
    ----------
    folder : Path
        Made with its schema where there is nothing.
    passphrase : str or None
        Seals the pieces of a folder that is new; asked for where they are sealed.
    is_new : bool
        Whether there may be nothing yet.

    Raises
    ------
    NotFound
        If nothing is there and nothing may be made.
    Invalid
        If the passphrase is missing or wrong, none was wanted, or the folder holds other things.
    Conflict
        If somebody else is writing into it.
    """

    def __init__(self, folder: Path, passphrase: str | None, *, is_new: bool) -> None:
        self._folder = folder
        about = folder / _ABOUT
        if not about.exists():
            if not is_new:
                raise NotFound(
                    "backup/none", f"There is no backup in {folder}. Name the folder that has it."
                )
            _begin(folder, passphrase)
        self._lock = disk.open_to_write(about, _MODE)
        try:
            disk.lock(self._lock, about)
            self._sealing = _sealing_of(about, passphrase)
        except BaseException:
            os.close(self._lock)
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self._lock)

    def put(self, piece: bytes) -> tuple[str, bool]:
        """Keep a piece; give its name, and whether it was new."""
        name = self._sealing.name(piece)
        path = self._piece(name)
        if path.exists():
            return name, False
        _make_folder(path.parent)
        disk.replace_whole(path, self._sealing.seal(piece, name), _MODE)
        return name, True

    def has(self, names: tuple[str, ...]) -> bool:
        """Say whether all of these pieces are there."""
        return all(self._piece(name).exists() for name in names)

    def get(self, name: str) -> bytes:
        """Give a piece, compared with its name.

        Raises
        ------
        Damaged
            If it is missing, or not what was put there.
        """
        if not _NAMED.fullmatch(name):
            raise Damaged("backup/listing", "A listing of this backup names no piece.")
        try:
            sealed = self._piece(name).read_bytes()
        except FileNotFoundError as fault:
            raise Damaged(
                "backup/missing", f"Piece {name[:12]} of this backup is missing."
            ) from fault
        piece = self._sealing.unseal(sealed, name)
        if self._sealing.name(piece) != name:
            raise Damaged(
                "backup/piece",
                f"Piece {name[:12]} of this backup is not what was put there. Take another "
                "backup, or another copy of this folder.",
            )
        return piece

    def taken(self) -> tuple[str, ...]:
        """Give the names of all backups, the oldest first: the moments they were begun, in UTC."""
        folder = self._folder / _LISTINGS
        return tuple(sorted(path.stem for path in folder.glob("*.json")))

    def keep(self, at: datetime, files: list[ListedFile]) -> str:
        """Write the listing of a backup whose pieces are all there; give its name."""
        name = at.strftime("%Y-%m-%dT%H-%M-%SZ")
        told = {"schema": SCHEMA, "files": [asdict(file) for file in files]}
        text = json.dumps(told, ensure_ascii=False, allow_nan=False).encode()
        summed = hashlib.sha256(text).hexdigest().encode() + b"\n" + text
        path = self._folder / _LISTINGS / f"{name}.json"
        _make_folder(path.parent)
        disk.replace_whole(path, self._sealing.seal(summed, name), _MODE)
        return name

    def files(self, name: str) -> tuple[ListedFile, ...]:
        """Give the files of a backup.

        Raises
        ------
        NotFound
            If there is no backup of that name.
        Damaged
            If its listing cannot be read, or names a place outside the data folder.
        """
        if not _TAKEN.fullmatch(name) or name not in self.taken():
            there = ", ".join(self.taken()) or "none"
            raise NotFound(
                "backup/no-such", f"There is no backup {name}. In this folder there are: {there}."
            )
        data = (self._folder / _LISTINGS / f"{name}.json").read_bytes()
        return tuple(_listed(self._sealing.unseal(data, name), name))

    def _piece(self, name: str) -> Path:
        return self._folder / _PIECES / name[:2] / name


def _begin(folder: Path, passphrase: str | None) -> None:
    with disk.refusing(folder):
        folder.mkdir(_FOLDER_MODE, parents=True, exist_ok=True)
        if any(not path.name.startswith(f".{_ABOUT}") for path in folder.iterdir()):
            raise Invalid(
                "backup/not-empty",
                f"{folder} holds other things than backups. Name an empty folder, or a new one.",
            )
    sealed = None if passphrase is None else new_key(passphrase)[1]
    about = {"schema": SCHEMA, "sealed": sealed}
    disk.replace_whole(folder / _ABOUT, json.dumps(about, indent=2).encode() + b"\n", _MODE)


def _sealing_of(about: Path, passphrase: str | None) -> Sealing:
    try:
        told: dict[str, Any] = json.loads(about.read_bytes())
        schema, sealed = told["schema"], told["sealed"]
    except (ValueError, KeyError, TypeError, RecursionError) as fault:
        raise Damaged("backup/about", f"{about} cannot be read.") from fault
    if schema != SCHEMA:
        raise Invalid(
            "backup/schema",
            f"The backups in {about.parent} are {schema}; this Quietleaf knows {SCHEMA}.",
        )
    if sealed is None:
        if passphrase is not None:
            raise Invalid(
                "backup/open",
                f"The backups in {about.parent} are not encrypted. Leave the passphrase away, "
                "or begin an encrypted one in another folder.",
            )
        return Open()
    if passphrase is None:
        raise Invalid(
            "backup/sealed",
            f"The backups in {about.parent} are encrypted. Name the file with their passphrase: "
            "--passphrase-file.",
        )
    return known_key(sealed, passphrase)


def _make_folder(folder: Path) -> None:
    if not folder.exists():
        with disk.refusing(folder):
            folder.mkdir(_FOLDER_MODE, parents=True)
        disk.sync_folder(folder.parent)


def _listed(summed: bytes, name: str) -> Iterator[ListedFile]:
    try:
        digest, text = summed.split(b"\n", 1)
        if hashlib.sha256(text).hexdigest().encode() != digest:
            raise ValueError(name)
        for file in json.loads(text)["files"]:
            listed = ListedFile(**{**file, "pieces": tuple(file["pieces"])})
            check_shape(listed)
            parts = listed.path.split("/")
            if "" in parts or "." in parts or ".." in parts or "\0" in listed.path:
                raise ValueError(listed.path)
            yield listed
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        raise Damaged(
            "backup/listing", f"The listing of backup {name} cannot be read. Take another."
        ) from fault
