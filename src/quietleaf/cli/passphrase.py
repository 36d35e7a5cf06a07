"""The passphrase of a backup, from a file: on a command line everybody on the machine sees it."""

from __future__ import annotations

import argparse
from pathlib import Path

from quietleaf.errors import Invalid, NotFound


def add_passphrase_option(parser: argparse.ArgumentParser, help_text: str) -> None:
    """Let a command be told which file has the passphrase."""
    parser.add_argument("--passphrase-file", metavar="FILE", type=Path, help=help_text)


def read_passphrase(path: Path | None) -> str | None:
    """Give the first line of the file; None where none was named.

    Raises
    ------
    NotFound
        If the file cannot be opened.
    Invalid
        If it is empty, or no text.
    """
    if path is None:
        return None
    try:
        lines = path.read_text("utf-8").splitlines()
    except OSError as fault:
        raise NotFound(
            "backup/passphrase-file",
            f"The passphrase cannot be read from {path} ({fault.strerror}). Name a file that has "
            "it in its first line.",
        ) from fault
    except UnicodeDecodeError as fault:
        raise Invalid("backup/passphrase-text", f"{path} holds no UTF-8 text.") from fault
    if not lines or not lines[0].strip():
        raise Invalid(
            "backup/passphrase-empty",
            f"{path} has no passphrase in its first line. Write one there, and keep a copy of it "
            "in another place: without it nobody can restore.",
        )
    return lines[0].strip()
