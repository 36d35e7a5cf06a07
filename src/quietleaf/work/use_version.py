"""Go back to an earlier version of a reading's masters; the later ones stay as they are."""

from __future__ import annotations

from dataclasses import replace

from quietleaf.errors import Conflict, Damaged, NotFound
from quietleaf.storage.finishing_marks import read_mark
from quietleaf.storage.index_rows import reading_row, version_in_use, write_made
from quietleaf.storage.new_file import write_text_file
from quietleaf.storage.reading_folder import find_reading
from quietleaf.storage.staging import free_version
from quietleaf.storage.versions import (
    RECORD,
    MadeVersion,
    number_of_record,
    read_versions,
    version_to_text,
)
from quietleaf.work.finish_request import refuse_unfinishable
from quietleaf.work.tools import Tools


def use_version(
    reading_id: str, number: int, in_use: int | None, who: str, tools: Tools
) -> MadeVersion:
    """Take an earlier version into use again; asked twice, it is once.

    Parameters
    ----------
    in_use : int or None
        Which one was in use when somebody decided this.

    Raises
    ------
    NotFound
        If there is no such reading, or no such version of it.
    Conflict
        If another version is in use by now, one is being made, or the reading is cleared.
    Damaged
        If a file of it is missing.
    """
    folder = find_reading(tools.data, reading_id)
    refuse_unfinishable(folder.state)
    mark = read_mark(folder.path)
    if mark is not None and mark.ending is None:
        # The number that its version will have is taken from the beginning.
        raise Conflict(
            "finishing/under-way",
            "This reading is being finished, and a version comes of that. Wait until it is done, "
            "or stop it; then use an earlier one.",
        )
    versions = read_versions(folder.path)
    wanted = next((one for one in versions if one.number == number), None)
    if wanted is None:
        raise NotFound("reading/no-version", f"There is no version {number} of this reading.")
    present = version_in_use(folder.path)
    if present != in_use:
        raise Conflict(
            "reading/version-changed",
            f"Nothing was changed: version {present} is in use by now, which was made after you "
            "had opened the page. Look at it, then decide.",
        )
    for row in wanted.masters:
        path = folder.path / row.path
        if not path.is_file() or path.stat().st_size != row.bytes:
            raise Damaged(
                "reading/master",
                f"{path.name} of version {number} is not as it was made. Finish the reading again.",
            )
    masters = folder.path / "masters"
    (record,) = free_version((masters,), (RECORD,))
    again = replace(
        wanted,
        number=number_of_record(record),
        at=tools.clock(),
        by=who,
        again=number if wanted.again is None else wanted.again,
    )
    write_text_file(masters / record, version_to_text(again))
    write_made(folder, again.masters, again.number)
    tools.database.index_reading(reading_row(folder))
    return again
