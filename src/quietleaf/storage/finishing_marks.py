"""Who wanted a reading finished, and how that ended: one small file beside its masters.

A mark without an end is what is due: a station that was stopped goes on with it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal, get_args

from quietleaf.errors import NotFound
from quietleaf.storage import disk
from quietleaf.storage.index_rows import MISWRITTEN

MARK = "finishing.json"
FORMAT = "quietleaf/finishing/1"
Ending = Literal["made", "refused", "stopped", "broken off"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishingMark:
    """The last time that somebody wanted it.

    Attributes
    ----------
    asked_at : datetime.datetime
        Aware UTC.
    by : str
        Who wanted it; empty at a station without accounts.
    ending : {"made", "refused", "stopped", "broken off"} or None
        None until it has ended.
    ended_at : datetime.datetime or None
    told : str
        The sentence of a refusal, or who stopped it.
    """

    asked_at: datetime
    by: str
    ending: Ending | None = None
    ended_at: datetime | None = None
    told: str = ""


def write_mark(reading: Path, mark: FinishingMark) -> None:
    """Keep it in place of what was there: wholly the old or wholly the new."""
    tree = {
        "schema": FORMAT,
        "asked_at": _text(mark.asked_at),
        "by": mark.by,
        "ending": mark.ending,
        "ended_at": None if mark.ended_at is None else _text(mark.ended_at),
        "told": mark.told,
    }
    text = json.dumps(tree, ensure_ascii=False, allow_nan=False) + "\n"
    disk.replace_whole(reading / "masters" / MARK, text.encode())


def read_mark(reading: Path) -> FinishingMark | None:
    """Give the mark of a reading; None where nobody has asked, or it cannot be read any more.

    Whatever is wrong with it: finishing can be asked for again.
    """
    path = reading / "masters" / MARK
    try:
        with disk.refusing(path):
            tree: dict[str, Any] = json.loads(path.read_bytes())
        ending = tree["ending"]
        if ending is not None and ending not in get_args(Ending):
            return None
        ended_at = tree["ended_at"]
        return FinishingMark(
            asked_at=_moment(tree["asked_at"]),
            by=str(tree["by"]),
            ending=ending,
            ended_at=None if ended_at is None else _moment(ended_at),
            told=str(tree["told"]),
        )
    except (NotFound, *MISWRITTEN):
        return None


def marked_readings(data: Path) -> list[Path]:
    """Give the folders of all readings that somebody wanted finished."""
    return [path.parent.parent for path in (data / "readings").glob(f"*/*/masters/{MARK}")]


def _text(moment: datetime) -> str:
    return moment.isoformat().replace("+00:00", "Z")


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)
