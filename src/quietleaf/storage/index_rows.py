"""What the index says of a reading: derived from its folder, and from nothing else."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from quietleaf.booth.reading import HandIn, ReadingState
from quietleaf.booth.replay import came_in_at, hand_in
from quietleaf.errors import Damaged, NotFound
from quietleaf.storage import disk
from quietleaf.storage.reading_folder import ReadingFolder

MADE = "made.json"
MADE_FORMAT = "quietleaf/made/1"
MISWRITTEN = (ValueError, KeyError, TypeError, OverflowError, RecursionError)
"""What comes of reading JSON that is not as it was written."""
_CHUNK_BYTES = 1 << 20
_MASTER_PATH = re.compile(r"masters/[^/]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterRow:
    """A file that was made from a reading.

    Attributes
    ----------
    kind : str
        ``plan``, ``wave``, ``mp3``, ``report``, ``report-facts``; a reading has one of each at
        most.
    path : str
        Inside the reading's folder, with slashes.
    facts : mapping
        What was measured or chosen, as plain JSON values.
    """

    kind: str
    path: str
    bytes: int
    sha256: str
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """A reading in the index.

    Attributes
    ----------
    folder : str
        Inside the station's data folder, with slashes.
    duration_s : float
        Length of its timeline.
    hand_in : HandIn or None
        What the reader left with it; None before it was handed in.
    came_in_at : datetime or None
        When it was handed in, the last time, aware UTC; None before.
    """

    reading_id: str
    programme_key: str
    programme_title: str
    publication: str
    issue_date: date
    readers: tuple[str, ...]
    air_date: date | None
    folder: str
    state: ReadingState
    revision: int
    takes: int
    duration_s: float
    masters: tuple[MasterRow, ...]
    assignment_key: str | None = None
    hand_in: HandIn | None = None
    came_in_at: datetime | None = None


def folder_of_row(data: Path, row: ReadingRow) -> ReadingFolder:
    """Open the folder that the index names, without looking for it among thousands.

    Raises
    ------
    NotFound
        If it is not there.
    """
    return ReadingFolder(data / row.folder)


def reading_row(folder: ReadingFolder) -> ReadingRow:
    """Derive a reading's row from its folder.

    Raises
    ------
    Damaged, NotFound
        If its takes are not what the ledger says, or a file is missing.
    """
    return replace(recorded_row(folder), masters=read_made(folder.path))


def recorded_row(folder: ReadingFolder) -> ReadingRow:
    """Derive a reading's row from its ledger and takes, without what was made from it.

    Raises
    ------
    Damaged, NotFound
        If its takes are not what the ledger says, or a file of theirs is missing.
    """
    facts = folder.facts
    rates: dict[int, int] = {}
    for take in folder.takes():
        # Opening a take holds its length and rate against the ledger.
        with folder.open_take(take.take) as reader:
            rates[take.take] = reader.info.sample_rate_hz
    # Whole samples of each rate first: seconds are divided out once for each.
    samples: dict[int, int] = {}
    for span in folder.timeline().spans:
        rate = rates[span.take]
        samples[rate] = samples.get(rate, 0) + span.stop - span.start
    return ReadingRow(
        reading_id=facts.reading_id,
        programme_key=facts.programme_key,
        programme_title=facts.programme_title,
        publication=facts.publication,
        issue_date=facts.issue_date,
        readers=facts.readers,
        air_date=facts.air_date,
        folder=folder.path.relative_to(folder.path.parents[2]).as_posix(),
        state=folder.state,
        revision=folder.revision,
        takes=len(rates),
        duration_s=sum(count / rate for rate, count in sorted(samples.items())),
        masters=(),
        assignment_key=facts.assignment_key,
        hand_in=hand_in(folder.standing),
        came_in_at=came_in_at(folder.standing),
    )


def master_row(kind: str, path: Path, facts: Mapping[str, Any]) -> MasterRow:
    """Describe a file as it lies among the masters: its size and checksum are taken from the disk.

    Parameters
    ----------
    path : Path
        Where it is now; its name is the one that it has, or will have, among them.
    """
    digest = hashlib.sha256()
    with disk.refusing(path), path.open("rb") as file:
        while chunk := file.read(_CHUNK_BYTES):
            digest.update(chunk)
        size = file.tell()
    return MasterRow(
        kind=kind,
        path=f"masters/{path.name}",
        bytes=size,
        sha256=digest.hexdigest(),
        facts=facts,
    )


def rows_to_json(masters: Iterable[MasterRow]) -> list[dict[str, Any]]:
    """Write what is said of files that were made."""
    return [
        {
            "kind": master.kind,
            "path": master.path,
            "bytes": master.bytes,
            "sha256": master.sha256,
            "facts": dict(master.facts),
        }
        for master in sorted(masters, key=lambda master: master.kind)
    ]


def rows_of_json(rows: Any) -> tuple[MasterRow, ...]:
    """Read what is said of files that were made.

    Raises
    ------
    KeyError, TypeError, ValueError
        If it is not as it was written, or a path leads elsewhere.
    """
    masters = tuple(
        MasterRow(
            kind=str(row["kind"]),
            path=str(row["path"]),
            bytes=int(row["bytes"]),
            sha256=str(row["sha256"]),
            facts=dict(row["facts"]),
        )
        for row in rows
    )
    # A list that came from elsewhere must not lead out of the folder.
    if not all(_MASTER_PATH.fullmatch(master.path) for master in masters):
        raise ValueError("a path leads out of the masters' folder")
    return masters


def write_made(
    folder: ReadingFolder, masters: tuple[MasterRow, ...], version: int | None = None
) -> None:
    """Say in the folder what was made from it and is in use, in place of what was said before.

    Parameters
    ----------
    version : int or None
        Which version of them; None where there is no record of one.
    """
    told = {"schema": MADE_FORMAT, "version": version, "masters": rows_to_json(masters)}
    text = json.dumps(told, ensure_ascii=False, indent=2, allow_nan=False)
    disk.replace_whole(folder.path / "masters" / MADE, text.encode() + b"\n")


def read_made(path: Path) -> tuple[MasterRow, ...]:
    """Read what was made from a reading; nothing if nothing was.

    Raises
    ------
    Damaged
        If ``masters/made.json`` cannot be read, or a file it names is missing or has another
        size.
    """
    masters = told_made(path)
    for master in masters:
        file = path / master.path
        if not file.is_file() or file.stat().st_size != master.bytes:
            raise Damaged(
                "reading/master",
                f"{file} is not as it was made. Finish the reading again.",
            )
    return masters


def told_made(path: Path) -> tuple[MasterRow, ...]:
    """Read what a reading's folder says was made from it, without a look at the files.

    Raises
    ------
    Damaged
        If ``masters/made.json`` cannot be read.
    """
    told = _made_tree(path)
    if told is None:
        return ()
    try:
        return rows_of_json(told["masters"])
    except MISWRITTEN as fault:
        raise _unreadable(path / "masters" / MADE) from fault


def version_in_use(path: Path) -> int | None:
    """Give which version of a reading's masters is in use; None where none is known.

    Raises
    ------
    Damaged
        If ``masters/made.json`` cannot be read.
    """
    told = _made_tree(path)
    version = None if told is None else told.get("version")
    return version if isinstance(version, int) else None


def _made_tree(path: Path) -> dict[str, Any] | None:
    made = path / "masters" / MADE
    try:
        with disk.refusing(made):
            tree = json.loads(made.read_bytes())
    except NotFound:
        return None
    except MISWRITTEN as fault:
        raise _unreadable(made) from fault
    if not isinstance(tree, dict):
        raise _unreadable(made)
    return tree


def _unreadable(made: Path) -> Damaged:
    return Damaged(
        "reading/made",
        f"{made} is not as it was written. Delete it and finish the reading again: "
        "what it speaks of can be made anew.",
    )
