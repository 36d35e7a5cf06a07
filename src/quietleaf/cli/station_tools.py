"""What every command that works at a station shares: the data folder's option, and the tools."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from quietleaf.work.tools import Progress, Tools


def add_data_option(parser: argparse.ArgumentParser) -> None:
    """Let a command be told where the station is kept."""
    parser.add_argument(
        "--data",
        metavar="FOLDER",
        help="where the station is kept (the setting QUIETLEAF_DATA; else ./station)",
    )


@contextmanager
def station_tools(options: argparse.Namespace, progress: Progress | None = None) -> Iterator[Tools]:
    """Open the station's database, and close it when the command ends."""
    from datetime import UTC, datetime
    from pathlib import Path
    from shutil import disk_usage

    from quietleaf.settings import read_settings
    from quietleaf.storage.aligner import open_aligner
    from quietleaf.storage.database import Database, database_url
    from quietleaf.work.tools import Tools, no_progress

    settings = read_settings()
    data = Path(options.data or settings["data"])
    with Database(database_url(data, settings["database"])) as database:
        yield Tools(
            data=data,
            database=database,
            clock=lambda: datetime.now(UTC),
            progress=progress or no_progress,
            open_aligner=open_aligner,
            free_bytes=lambda: disk_usage(data).free,
        )
