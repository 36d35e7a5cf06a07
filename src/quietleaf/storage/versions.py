"""Every version of a reading's masters, kept: who wanted it, when, and the files that it has.

``masters/version.json``, ``version-2.json`` and so on, each beside its own files and as immutable;
``made.json`` says which one is in use. Going back to an earlier one adds a version that names the
earlier one's files again.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from quietleaf.errors import Damaged
from quietleaf.storage import disk
from quietleaf.storage.index_rows import MISWRITTEN, MasterRow, rows_of_json, rows_to_json

RECORD = "version.json"
FORMAT = "quietleaf/version/1"
_NAME = re.compile(r"version(?:-([2-9]|[1-9][0-9]+))?\.json")


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeVersion:
    """One version.

    Attributes
    ----------
    number : int
        1, 2, 3 in the order in which they were made.
    at : datetime.datetime
        Aware UTC.
    by : str
        Who wanted it; empty where nobody is known.
    revision : int
        Of the reading that it was made of.
    again : int or None
        The earlier version whose files these are.
    """

    number: int
    at: datetime
    by: str
    revision: int
    again: int | None
    masters: tuple[MasterRow, ...]


def number_of_record(name: str) -> int:
    """Give the number of a version by the name of its record.

    Examples
    --------
    >>> number_of_record("version.json"), number_of_record("version-12.json")
    (1, 12)
    """
    found = _NAME.fullmatch(name)
    assert found is not None, "a record has its name from `free_version`"
    return int(found.group(1) or 1)


def version_to_text(version: MadeVersion) -> str:
    """Write the record of a version."""
    tree = {
        "schema": FORMAT,
        "at": version.at.isoformat().replace("+00:00", "Z"),
        "by": version.by,
        "revision": version.revision,
        "again": version.again,
        "masters": rows_to_json(version.masters),
    }
    return json.dumps(tree, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def read_versions(reading: Path) -> tuple[MadeVersion, ...]:
    """Give the versions of a reading's masters, the newest first.

    Raises
    ------
    Damaged
        If the record of one is not as it was written.
    """
    folder = reading / "masters"
    found = [path for path in folder.glob("version*.json") if _NAME.fullmatch(path.name)]
    versions = [_read(path) for path in found]
    return tuple(sorted(versions, key=lambda one: one.number, reverse=True))


def _read(path: Path) -> MadeVersion:
    with disk.refusing(path):
        text = path.read_bytes()
    try:
        tree: dict[str, Any] = json.loads(text)
        return MadeVersion(
            number=number_of_record(path.name),
            at=datetime.fromisoformat(tree["at"]),
            by=str(tree["by"]),
            revision=int(tree["revision"]),
            again=None if tree["again"] is None else int(tree["again"]),
            masters=rows_of_json(tree["masters"]),
        )
    except MISWRITTEN as fault:
        raise Damaged(
            "reading/version",
            f"{path} is not as it was written. Bring it back from a backup, or move it away: the "
            "version that it speaks of is then no longer listed.",
        ) from fault
