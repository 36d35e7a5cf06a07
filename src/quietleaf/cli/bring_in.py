"""``quietleaf bring-in``: a recording becomes a reading."""

from __future__ import annotations

import argparse

from quietleaf.cli.station_tools import add_data_option, station_tools


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("file", metavar="FILE", help="the recording")
    parser.add_argument(
        "--programme", required=True, metavar="KEY", help="the programme it was read for"
    )
    parser.add_argument(
        "--issue",
        required=True,
        metavar="DATE",
        help="the date of the issue it was read from, like 2026-11-25",
    )
    parser.add_argument("--reader", required=True, metavar="NAME", help="who read it")
    add_data_option(parser)


def run(options: argparse.Namespace) -> int:
    """Bring it in, and print what came and where it is."""
    from pathlib import Path

    from quietleaf.cli.progress import progress_line
    from quietleaf.settings import read_settings
    from quietleaf.units import clock
    from quietleaf.work.bring_in import BringIn, bring_in, read_issue_date

    _refuse_no_station(options)
    with progress_line() as progress, station_tools(options, progress) as tools:
        issue_date = read_issue_date(
            options.issue, options.programme, tools.database.load_station()
        )
        brought = bring_in(
            BringIn(
                path=Path(options.file),
                programme_key=options.programme,
                issue_date=issue_date,
                reader=options.reader,
                longest_s=read_settings()["longest_recording_s"],
            ),
            tools,
        )
    facts, info = brought.facts, brought.info
    channels = "1 channel" if info.channels == 1 else f"{info.channels} channels"
    print(
        f"Reading {brought.reading_id}: {facts.programme_title}, issue of {facts.issue_date}, "
        f"read by {' and '.join(facts.readers)}."
    )
    print(f"  came      {info.encoding}, {info.sample_rate_hz} Hz, {channels}")
    print(f"  length    {clock(brought.duration_s)}")
    print(f"  channels  {brought.channels}")
    for remark in brought.remarks:
        print(f"  note      {remark}")
    print(f"  is in     {brought.folder}")
    return 0


def _refuse_no_station(options: argparse.Namespace) -> None:
    """Look before the database is opened, since opening it makes it."""
    from pathlib import Path

    from quietleaf.errors import NotFound
    from quietleaf.settings import read_settings
    from quietleaf.storage.database import FILE

    settings = read_settings()
    data = Path(options.data or settings["data"])
    if not settings["database"] and not (data / FILE).exists():
        raise NotFound(
            "bring-in/no-station",
            f"There is no station in {data} to bring a recording to. Name its folder with --data, "
            "or make the example station with: quietleaf demo",
        )
