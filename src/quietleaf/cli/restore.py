"""``quietleaf restore``: a station from a backup, where there is none."""

from __future__ import annotations

import argparse
from pathlib import Path

from quietleaf.cli.passphrase import add_passphrase_option, read_passphrase
from quietleaf.cli.progress import progress_line
from quietleaf.cli.station_tools import add_data_option


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="where backups are kept")
    parser.add_argument("--backup", metavar="NAME", help="which of them (else the last)")
    add_data_option(parser)
    add_passphrase_option(parser, "the first line of this file is the passphrase")


def run(options: argparse.Namespace) -> int:
    """Restore, and say what is there."""
    passphrase = read_passphrase(options.passphrase_file)
    from quietleaf.delivery.report_words import size_words
    from quietleaf.settings import read_settings
    from quietleaf.work.restore import RestoreBackup, restore

    settings = read_settings()
    request = RestoreBackup(
        folder=options.folder,
        passphrase=passphrase,
        name=options.backup,
        data=Path(options.data or settings["data"]),
        database=settings["database"],
    )
    with progress_line() as progress:
        made = restore(request, progress)
    print(
        f"Backup {made.name} is in {request.data}: {made.files} files, "
        f"{size_words(made.size_bytes)}. Prove it with: quietleaf rebuild"
    )
    return 0
