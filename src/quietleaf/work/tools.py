"""What a verb works with: handed in by the doors, so that nothing is global."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    # Hearing a file needs no database: its library takes longer to load than ten minutes to hear.
    from quietleaf.storage.aligner import Aligner
    from quietleaf.storage.database import Database

Progress = Callable[[str, float], None]
"""Told what is being done, in words, and how much of it is done, 0 to 1."""


def no_progress(step: str, done: float) -> None:
    """Listen to progress without saying anything."""


def any_amount() -> int:
    """Stand in for a disk that is never full."""
    return 1 << 62


def no_aligner() -> None:
    """Stand in for the aligner where its extra is not installed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """A station's data folder, its database, the clock, and somebody to tell of progress.

    Attributes
    ----------
    clock : callable
        Gives the present moment as aware UTC.
    free_bytes : callable
        Says how much more the disk of the data folder takes.
    open_aligner : callable
        Loads what listens for known words; gives None where it is not installed.
    """

    data: Path
    database: Database
    clock: Callable[[], datetime]
    progress: Progress = no_progress
    open_aligner: Callable[[], Aligner | None] = no_aligner
    free_bytes: Callable[[], int] = any_amount
