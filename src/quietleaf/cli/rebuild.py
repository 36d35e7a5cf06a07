"""``quietleaf rebuild``: the index again from the folders alone."""

from __future__ import annotations

import argparse

from quietleaf.cli.station_tools import add_data_option, station_tools
from quietleaf.errors import Damaged


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    add_data_option(parser)


def run(options: argparse.Namespace) -> int:
    """Rebuild, and print every difference and every damaged folder."""
    from quietleaf.work.rebuild_index import rebuild_index

    with station_tools(options) as tools:
        report = rebuild_index(tools)
    for sentence in (*report.differences, *report.damaged):
        print(sentence)
    if report.unfinished:
        print(f"Half-made folders removed: {report.unfinished}; no reading was in them.")
    if not report.equal:
        raise Damaged(
            "rebuild/not-equal",
            "The index was made again and does not say what the folders say. "
            "The database's own files may be damaged; the readings are not touched.",
        )
    print(
        f"Readings: {report.readings}. Differences to the index before: "
        f"{len(report.differences)}. The index now says what the folders say."
    )
    if report.damaged:
        raise Damaged(
            "rebuild/folders",
            f"Folders with damage: {len(report.damaged)}. They are named above; "
            "what cannot be read is not in the index.",
        )
    return 0
