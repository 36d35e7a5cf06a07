"""The terminal's door: finds the command, runs it, turns errors into exit codes.

Only the chosen command's module is imported, so that ``--help`` answers at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from importlib import import_module
from types import ModuleType

from quietleaf.errors import AudioUnfit, Damaged, QuietleafError, Refused, Unavailable

COMMANDS = {
    "demo": "build the example station and take its sample reading through the whole job",
    "run": "open the station in a browser on this machine",
    "bring-in": "bring a recording in as a reading",
    "hear": "listen to recordings and say what was heard",
    "finish": "make an air-ready programme from a reading or a recording",
    "backup": "add a backup of the station to a folder, also while somebody records",
    "restore": "make a station from a backup, where there is none",
    "person": "export what is kept about a person, or erase it",
    "rebuild": "make the index again from the reading folders and prove it equal",
}
EXIT_CODES: dict[type[QuietleafError], int] = {
    Refused: 2,
    AudioUnfit: 3,
    Unavailable: 4,
    Damaged: 5,
}
_THREADS_OF_PRODUCTS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")
"""One: small products on two threads wait for each other longer than they take, and would not give
the same bits on every machine. It is read when the library is loaded; whoever set it keeps that."""
EXIT_STOPPED = 130
"""What a shell expects of a command stopped by Ctrl-C (128 + SIGINT)."""


def main(arguments: list[str] | None = None) -> int:
    """Run one command; give its exit code."""
    for name in _THREADS_OF_PRODUCTS:
        os.environ.setdefault(name, "1")
    words = sys.argv[1:] if arguments is None else arguments
    parser = argparse.ArgumentParser(
        prog="quietleaf", description="From the printed page to the air, for reading services."
    )
    parser.add_argument("--version", action="store_true", help="print the version and stop")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for name, help_text in COMMANDS.items():
        command = commands.add_parser(name, help=help_text, description=_sentence(help_text))
        if name in words[:1]:
            _module(name).arguments(command)
    options = parser.parse_args(words)
    if options.version:
        from importlib.metadata import version

        print(f"quietleaf {version('quietleaf')}")
        return 0
    if options.command is None:
        parser.print_help()
        return 0
    try:
        return int(_module(options.command).run(options))
    except QuietleafError as refusal:
        print(refusal.sentence, file=sys.stderr)
        return exit_code(refusal)
    except KeyboardInterrupt:
        print("Stopped. Nothing half-written is left behind.", file=sys.stderr)
        return EXIT_STOPPED


def exit_code(refusal: QuietleafError) -> int:
    """Look up the exit code of an error by its place in the tree."""
    return next(code for kind, code in EXIT_CODES.items() if isinstance(refusal, kind))


def _module(name: str) -> ModuleType:
    return import_module(f"quietleaf.cli.{name.replace('-', '_')}")


def _sentence(help_text: str) -> str:
    return help_text[0].upper() + help_text[1:] + "."
