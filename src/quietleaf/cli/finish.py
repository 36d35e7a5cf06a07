"""``quietleaf finish``: an air-ready programme from a reading or a recording."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from quietleaf.cli.progress import progress_line
from quietleaf.cli.report_lines import report_lines
from quietleaf.cli.station_tools import add_data_option, station_tools
from quietleaf.settings import SETTINGS, read_settings
from quietleaf.units import seconds_of_clock, window_of_text

if TYPE_CHECKING:
    from datetime import datetime

    from quietleaf.work.finish_programme import Finished
    from quietleaf.work.finish_request import FinishProgramme
    from quietleaf.work.tools import Progress


@dataclass(frozen=True, slots=True, kw_only=True)
class _Telling:
    """What finishing a bare file needs of a station."""

    clock: Callable[[], datetime]
    progress: Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    help_of = {setting.name: setting.help for setting in SETTINGS}
    parser.add_argument(
        "source",
        metavar="READING|FILE",
        help="a reading's id, as bring-in prints it, or a recording in a file",
    )
    parser.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        help="the folder for plan, master and report; a file needs one, a reading has its own",
    )
    parser.add_argument(
        "--window",
        metavar="56:00-58:00",
        type=str,
        help="least and greatest length (else the programme's own)",
    )
    parser.add_argument(
        "--fit",
        metavar="58:00",
        help="this length to the sample: pauses first, then the pace, then short items",
    )
    parser.add_argument(
        "--short-items",
        metavar="DIR",
        type=Path,
        help="short recordings that may make up a length (else those in the station's folder)",
    )
    parser.add_argument("--loudness", metavar="TARGET", help=help_of["loudness"])
    parser.add_argument(
        "--plan",
        metavar="FILE",
        type=Path,
        help="a plan of this sound: what is refused or changed in it is kept",
    )
    parser.add_argument(
        "--outlet",
        metavar="NAME",
        action="append",
        help="make a file for this outlet too: one of the station's, or on-air, stream, feed, "
        "telephone, subcarrier (else all of the station's)",
    )
    parser.add_argument(
        "--dual-mono",
        action="store_true",
        help="count the one channel as played by two loudspeakers (3.01 LU louder)",
    )
    add_data_option(parser)


def run(options: argparse.Namespace) -> int:
    """Finish, and print the verdict, the figures and where the files are."""
    from dataclasses import replace

    request = replace(
        request_of_settings(options.loudness),
        source=_source(options.source),
        out=options.out,
        window=window_of_text(options.window) if options.window else None,
        fit_s=seconds_of_clock(options.fit) if options.fit else None,
        short_items=options.short_items,
        outlets=tuple(options.outlet) if options.outlet else None,
        dual_mono=options.dual_mono,
        plan=options.plan,
    )
    with progress_line() as progress:
        if isinstance(request.source, Path):
            from datetime import UTC, datetime

            from quietleaf.work.finish_programme import finish_file

            telling = _Telling(clock=lambda: datetime.now(UTC), progress=progress)
            finished = finish_file(request, telling)
        else:
            from quietleaf.work.finish_programme import finish_programme

            with station_tools(options, progress) as tools:
                finished = finish_programme(request, tools)
    print(_told(finished))
    return 0


def request_of_settings(loudness: str | None = None) -> FinishProgramme:
    """Give what the settings say of finishing; the source is still to be named."""
    from quietleaf.work.finish_request import FinishProgramme

    settings = read_settings()
    return FinishProgramme(
        source="",
        loudness=loudness or settings["loudness"],
        ceiling_dbtp=settings["true_peak_ceiling_dbtp"],
        head_s=settings["head_s"],
        tail_s=settings["tail_s"],
        dead_air_s=settings["dead_air_s"],
        mp3_kbps=settings["mp3_kbps"],
    )


def _source(text: str) -> str | Path:
    """A reading is named by its id; what has a dot or a slash, or is there, is a file."""
    path = Path(text)
    return path if path.exists() or path.suffix or len(path.parts) > 1 else text


def _told(finished: Finished) -> str:
    from quietleaf.work.fit_report import deeds_of_fit

    report = finished.report
    paths = (
        *(finished.plan_path, finished.wave_path, finished.mp3_path, finished.report_path),
        *finished.outlet_paths,
    )
    fitted = [f"{deed.text}: {deed.reason}" for deed in deeds_of_fit(finished.plan)]
    lines = [*report_lines(report), *fitted, *map(str, paths)]
    return "\n  ".join([f"{report.title}: {report.verdict}", *lines])
