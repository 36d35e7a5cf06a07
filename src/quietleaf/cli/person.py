"""``quietleaf person``: what is kept about a person, as a file; and taking a name out."""

from __future__ import annotations

import argparse
from pathlib import Path

from quietleaf.cli.station_tools import add_data_option, station_tools
from quietleaf.errors import Invalid


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument(
        "what", choices=["export", "erase"], help="export: write it; erase: take the name out"
    )
    parser.add_argument("name", metavar="NAME", help="of a reader or an account, as it is written")
    parser.add_argument("--out", metavar="FILE", type=Path, help="where an export is written")
    add_data_option(parser)


def run(options: argparse.Namespace) -> int:
    """Export or erase."""
    from quietleaf.storage.new_file import write_text_file
    from quietleaf.work.persons import erase_person, see_person, text_of_person

    with station_tools(options) as tools:
        if options.what == "export":
            if options.out is None:
                raise Invalid("person/out", "An export is a file. Name it: --out FILE.")
            write_text_file(options.out, text_of_person(see_person(options.name, tools)))
            print(f"Everything kept about {options.name} is in {options.out}.")
            return 0
        left = erase_person(options.name, tools)
    print(f"{options.name} is erased.")
    if left.folders:
        print("The recordings are kept. In these folders the name still stands:")
        print("\n".join(left.folders))
    print("It also stands in the audit list, and in backups that were made before.")
    return 0
