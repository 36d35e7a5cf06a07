"""Enter what does not depend on what others enter meanwhile: on the reading as it stands then."""

from __future__ import annotations

from quietleaf.booth.edits import Edit, Happening
from quietleaf.errors import Conflict
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.tools import Tools

_ATTEMPTS = 5


def enter(
    reading: ReadingFolder, what: Happening, *, edit_id: str, author: str, tools: Tools
) -> Edit:
    """Add an entry; where the reading has changed since, look at it again and add it then.

    Raises
    ------
    Conflict
        If the reading goes on changing at each attempt, or does not take the entry.
    """
    for _ in range(_ATTEMPTS - 1):
        try:
            return reading.append(what, author=author, at=tools.clock(), edit_id=edit_id)
        except Conflict as changed:
            if changed.code != "ledger/stale":
                raise
            reading.reload()
    return reading.append(what, author=author, at=tools.clock(), edit_id=edit_id)
