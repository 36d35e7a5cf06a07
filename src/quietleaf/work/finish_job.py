"""A reading finished by a process of its own: what is wanted comes in as JSON, progress goes out.

It ends by itself, and leaves nothing half made, when whoever started it is gone.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from shutil import disk_usage
from typing import Any

from quietleaf.errors import QuietleafError
from quietleaf.storage.aligner import open_aligner
from quietleaf.storage.database import Database
from quietleaf.storage.reading_folder import find_reading
from quietleaf.units import Window
from quietleaf.work.finish_request import FinishProgramme, refuse_unfinishable
from quietleaf.work.tools import Tools

_NICER = 10


def job_to_text(request: FinishProgramme, data: Path, database: str) -> str:
    """Write a job as one line: plain data, never samples."""
    told = {"data": str(data), "database": database, "request": asdict(request)}
    return json.dumps(told, default=str) + "\n"


def main() -> int:
    """Do the job that is told on standard input, and write a JSON line for each step."""
    # Whoever only writes a job down needs none of what takes long to load.
    from quietleaf.work.finish_programme import finish_programme

    os.nice(_NICER)
    told: dict[str, Any] = json.loads(sys.stdin.readline())
    # What stops it from outside is taken as Ctrl-C is: everything is put away on the way out.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    threading.Thread(target=_end_with_input, daemon=True).start()
    data = Path(told["data"])
    try:
        with Database(told["database"]) as database:
            tools = Tools(
                data=data,
                database=database,
                clock=lambda: datetime.now(UTC),
                progress=_Telling(),
                open_aligner=open_aligner,
                free_bytes=lambda: disk_usage(data).free,
            )
            request = _request(told["request"])
            # Somebody may have cleared it in the moment in which this was asked for.
            refuse_unfinishable(find_reading(data, str(request.source)).state)
            finish_programme(request, tools)
    except QuietleafError as refusal:
        _say({"refused": refusal.sentence})
        return 2
    except KeyboardInterrupt:
        return 130
    _say({"made": True})
    return 0


class _Telling:
    """Tells of progress, a whole hundredth at a time: more is not shown to anybody."""

    def __init__(self) -> None:
        self._told = ("", -1)

    def __call__(self, step: str, done: float) -> None:
        told = (step, int(100 * done))
        if told != self._told:
            self._told = told
            _say({"step": step, "done": round(done, 2)})


def _request(told: dict[str, Any]) -> FinishProgramme:
    window, outlets, items = told["window"], told["outlets"], told["short_items"]
    request = FinishProgramme(**told)
    return replace(
        request,
        window=None if window is None else Window(**window),
        outlets=None if outlets is None else tuple(outlets),
        short_items=None if items is None else Path(items),
    )


def _end_with_input() -> None:
    """Stop when standard input ends: whoever started this is gone then."""
    # Nothing comes after the job; this reads on until nothing can come any more.
    while sys.stdin.readline():
        pass
    signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGTERM)


def _say(told: dict[str, object]) -> None:
    sys.stdout.write(json.dumps(told) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    try:
        sys.exit(main())
    except BrokenPipeError:
        # Whoever wanted to know is gone.
        os._exit(1)
