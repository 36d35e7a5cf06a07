"""Make the index again from the reading folders alone, and prove it equal to them."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from pathlib import Path

from quietleaf.errors import QuietleafError
from quietleaf.storage.index_rows import ReadingRow, read_made, recorded_row
from quietleaf.storage.reading_folder import ReadingFolder, reading_paths, sweep_unfinished
from quietleaf.work.tools import Tools


@dataclass(frozen=True, slots=True, kw_only=True)
class RebuildReport:
    """What the folders say, and how that differed from what the index held.

    Attributes
    ----------
    readings : int
        Readings that are in the index now.
    differences : tuple of str
        A sentence for each thing that the index had otherwise.
    damaged : tuple of str
        A sentence for each folder in which something is damaged. A reading whose ledger or takes
        are is not in the index; one whose masters are is there without them.
    unfinished : int
        Folders that a stop left half-made, and that are gone now; no reading was in them.
    equal : bool
        The index was read back and says what the folders say.
    """

    readings: int
    differences: tuple[str, ...]
    damaged: tuple[str, ...]
    unfinished: int
    equal: bool


def rebuild_index(tools: Tools) -> RebuildReport:
    """Make the index again, in one transaction; the folders are only read.

    Raises
    ------
    Unavailable
        If the database does not answer; the index is then as it was.
    """
    unfinished = sweep_unfinished(tools.data)
    rows: dict[str, ReadingRow] = {}
    damaged: list[str] = []
    paths = reading_paths(tools.data)
    for done, path in enumerate(paths):
        tools.progress("reading the folders", done / len(paths))
        try:
            row = _recorded(path, tools.data)
        except QuietleafError as refusal:
            damaged.append(_sentence(path, tools.data, refusal))
            continue
        if row.reading_id in rows:
            damaged.append(
                f"{row.folder}: it says that it is reading {row.reading_id}, as "
                f"{rows[row.reading_id].folder} does. Keep one of them."
            )
            continue
        try:
            row = replace(row, masters=read_made(path))
        except QuietleafError as refusal:
            damaged.append(_sentence(path, tools.data, refusal))
        rows[row.reading_id] = row
    rows = {row.reading_id: row for row in tools.database.people.named_as_kept(rows.values())}
    held = {row.reading_id: row for row in tools.database.readings()}
    tools.database.replace_index(rows.values())
    now = {row.reading_id: row for row in tools.database.readings()}
    tools.progress("reading the folders", 1.0)
    return RebuildReport(
        readings=len(rows),
        differences=tuple(_differences(held, rows)),
        damaged=tuple(damaged),
        unfinished=unfinished,
        equal=now == rows,
    )


def _recorded(path: Path, data: Path) -> ReadingRow:
    folder = ReadingFolder(path)
    folder.check_place(data)
    return recorded_row(folder)


def _sentence(path: Path, data: Path, refusal: QuietleafError) -> str:
    return f"{path.relative_to(data).as_posix()}: {refusal.sentence}"


def _differences(held: dict[str, ReadingRow], rows: dict[str, ReadingRow]) -> list[str]:
    differences: list[str] = []
    for reading_id in sorted(held.keys() | rows.keys()):
        before, after = held.get(reading_id), rows.get(reading_id)
        if before is None and after is not None:
            differences.append(f"Reading {reading_id} was not in the index ({after.folder}).")
        elif after is None and before is not None:
            differences.append(
                f"Reading {reading_id} was in the index and has no readable folder "
                f"({before.folder})."
            )
        elif before is not None and after is not None:
            differences.extend(
                _difference(before, after, field.name)
                for field in fields(ReadingRow)
                if getattr(before, field.name) != getattr(after, field.name)
            )
    return differences


def _difference(before: ReadingRow, after: ReadingRow, name: str) -> str:
    if name == "masters":
        return f"Reading {after.reading_id}: the index had other masters than the folder."
    if name == "came_in_at":
        return f"Reading {after.reading_id}: the index had another moment at which it came in."
    return (
        f"Reading {after.reading_id}: the index had {name.removesuffix('_s').replace('_', ' ')} "
        f"as {getattr(before, name)!r}; the folder has {getattr(after, name)!r}."
    )
