"""A reading's takes, read back from the disk; what came of it is kept with the reading."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from quietleaf.errors import Damaged, NotFound
from quietleaf.storage.disk import replace_whole
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.take_check import check_take
from quietleaf.work.tools import Tools

FILE = "takes-checked.json"
_FORMAT = "quietleaf/takes-checked/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedTake:
    """A take as the disk gave it back.

    Attributes
    ----------
    length_s : float
        As recorded, with all that is outside the programme.
    sha256 : str
        Of its samples, as the ledger has it.
    trouble : str
        A sentence where the disk gave back other than was recorded; else empty.
    """

    take: int
    length_s: float
    sample_rate_hz: int
    sha256: str
    trouble: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedTakes:
    """All complete takes of a reading, and when they were read back (aware UTC)."""

    at: datetime
    takes: tuple[CheckedTake, ...]

    @property
    def whole(self) -> bool:
        """Every one is as it was recorded."""
        return not any(take.trouble for take in self.takes)


def check_takes(folder: ReadingFolder, tools: Tools) -> CheckedTakes:
    """Read every complete take back from the disk, now, and keep what came of it."""
    found = CheckedTakes(
        at=tools.clock(),
        takes=tuple(
            CheckedTake(
                take=take.take,
                length_s=take.samples / take.sample_rate_hz,
                sample_rate_hz=take.sample_rate_hz,
                sha256=take.sha256,
                trouble=_trouble(folder, take.take),
            )
            for take in folder.takes()
            if take.samples is not None
        ),
    )
    told = {
        "schema": _FORMAT,
        "at": found.at.isoformat(),
        "takes": [[take.take, take.sha256, take.trouble] for take in found.takes],
    }
    replace_whole(_path(folder), json.dumps(told, ensure_ascii=False).encode() + b"\n")
    return found


def checked_takes(folder: ReadingFolder, tools: Tools) -> CheckedTakes:
    """Give what came of the last check of these very takes; where there was none, check now."""
    try:
        told = json.loads(_path(folder).read_bytes())
        at = datetime.fromisoformat(told["at"])
        troubles = {(take, sha256): trouble for take, sha256, trouble in told["takes"]}
        takes = tuple(
            CheckedTake(
                take=take.take,
                length_s=take.samples / take.sample_rate_hz,
                sample_rate_hz=take.sample_rate_hz,
                sha256=take.sha256,
                trouble=str(troubles[take.take, take.sha256]),
            )
            for take in folder.takes()
            if take.samples is not None
        )
    except (OSError, ValueError, KeyError, TypeError):
        # Not there, not readable, or of other takes: it can be made anew.
        return check_takes(folder, tools)
    return CheckedTakes(at=at, takes=takes)


def _path(folder: ReadingFolder) -> Path:
    return folder.path / "measures" / FILE


def _trouble(folder: ReadingFolder, take: int) -> str:
    try:
        check_take(folder, take)
    except Damaged as refusal:
        return refusal.sentence
    except NotFound:
        return f"Take {take} is not on the station's disk any more."
    return ""
