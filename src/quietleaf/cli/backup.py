"""``quietleaf backup``: add a backup of the station to a folder of backups."""

from __future__ import annotations

import argparse
from pathlib import Path

from quietleaf.cli.passphrase import add_passphrase_option, read_passphrase
from quietleaf.cli.progress import progress_line
from quietleaf.cli.station_tools import add_data_option, station_tools


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument(
        "folder", metavar="FOLDER", type=Path, help="where backups are kept: on another disk"
    )
    add_data_option(parser)
    add_passphrase_option(
        parser, "encrypt: the first line of this file is the passphrase, asked for ever after"
    )


def run(options: argparse.Namespace) -> int:
    """Back up, and say what was new."""
    passphrase = read_passphrase(options.passphrase_file)
    from quietleaf.delivery.report_words import size_words
    from quietleaf.work.back_up import back_up

    with progress_line() as progress, station_tools(options, progress) as tools:
        made = back_up(options.folder, passphrase, tools)
    print(
        f"Backup {made.name}: {made.files} files, {size_words(made.size_bytes)}; "
        f"new: {size_words(made.new_bytes)}."
    )
    return 0
