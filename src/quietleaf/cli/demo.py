"""``quietleaf demo``: the example station, its sample reading through the whole job."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from quietleaf.cli.progress import progress_line
from quietleaf.cli.report_lines import report_lines
from quietleaf.cli.station_tools import add_data_option, station_tools
from quietleaf.units import clock

if TYPE_CHECKING:
    from quietleaf.work.make_example import (
        IndexProved,
        SampleFinished,
        SampleIn,
        StationMade,
        Step,
    )

STATION_FILE = Path(__file__).parent.parent / "example" / "station.toml"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    add_data_option(parser)


def run(options: argparse.Namespace) -> int:
    """Do the job, and print each step with what was measured and where the files are."""
    from quietleaf.cli.finish import request_of_settings
    from quietleaf.work.make_example import make_example

    with progress_line() as progress, station_tools(options, progress) as tools:
        for number, step in enumerate(make_example(STATION_FILE, request_of_settings(), tools), 1):
            # The line of progress is written over by what follows.
            print(f"\r{number}. {_told(step)}\n", flush=True)
    return 0


def _told(step: Step) -> str:
    from quietleaf.work import make_example as steps

    match step:
        case steps.StationMade():
            return _station(step)
        case steps.SampleIn():
            return _sample(step)
        case steps.SampleFinished():
            return _finished(step)
        case steps.IndexProved():
            return _index(step)


def _station(step: StationMade) -> str:
    station = step.station
    return "\n".join(
        [
            f"The example station: {station.name}",
            f"   {station.note}",
            f"   {len(station.programmes)} programmes, {len(station.readers)} readers, "
            f"{len(station.assignments)} assignments for {step.example.day}",
        ]
    )


def _sample(step: SampleIn) -> str:
    row = step.row
    lines = [
        f"{'Brought in' if step.brought else 'In already'}: {row.programme_title}, issue of "
        f"{row.issue_date}, read by {' and '.join(row.readers)}",
    ]
    if step.brought:
        info = step.brought.info
        lines.append(f"   {info.encoding}, {info.sample_rate_hz} Hz. {step.brought.channels}")
    lines += [
        f"   {clock(row.duration_s)} recorded, {step.articles} articles marked",
        f"   {step.folder}",
    ]
    return "\n".join(lines)


def _finished(step: SampleFinished) -> str:
    report = step.seen.report
    assert report is not None  # it has just been finished
    lines = [f"Heard, finished, and heard again: {report.verdict}"]
    lines += [f"   {line}" for line in report_lines(report)]
    lines += [f"   {step.folder / file.name}" for file in step.seen.files]
    return "\n".join(lines)


def _index(step: IndexProved) -> str:
    report = step.report
    said = "equal" if report.equal and not report.differences else "DIFFERENT"
    return f"Index made again from the folders alone: {said} ({report.readings} readings)"
