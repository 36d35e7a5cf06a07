"""The index, told anew where something stopped between a reading's folder and it."""

from __future__ import annotations

from quietleaf.errors import QuietleafError
from quietleaf.storage.index_rows import ReadingRow, reading_row, told_made
from quietleaf.storage.ledger_file import last_number
from quietleaf.storage.reading_folder import LEDGER, ReadingFolder
from quietleaf.work.tools import Tools


def index_as_it_is(folder: ReadingFolder, tools: Tools) -> ReadingRow:
    """Give a reading's row, and tell the index if it had another; recording tells it by itself."""
    row = tools.database.reading(folder.facts.reading_id)
    if folder.state == "in the booth":
        return row
    if row.revision != folder.revision or row.masters != told_made(folder.path):
        tools.database.index_reading(reading_row(folder))
        # As it is kept: the folder may still name somebody who was erased.
        row = tools.database.reading(row.reading_id)
    return row


def row_as_it_is(row: ReadingRow, tools: Tools) -> ReadingRow:
    """Give a row as its folder has it; among many, by the end of each ledger alone."""
    if row.state == "in the booth":
        return row
    path = tools.data / row.folder
    try:
        if last_number(path / LEDGER) == row.revision:
            return row
        return index_as_it_is(ReadingFolder(path), tools)
    except QuietleafError:
        # One that cannot be read now must not hide all the others.
        return row
