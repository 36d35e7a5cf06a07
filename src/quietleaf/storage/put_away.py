"""Put a station's readings away whole, so that a new one begins and nothing is destroyed."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from pathlib import Path

from quietleaf.planning.station import Station
from quietleaf.storage import disk

_FOLDER = "put-away"


def put_away(data: Path, station: Station, day: date) -> Path:
    """Move all readings and a copy of the plan into a folder of their own; give that folder.

    Parameters
    ----------
    day : date
        Names the folder: ``put-away/2026-11-25-1``.

    Raises
    ------
    Unavailable
        If the disk refuses; what was not moved is where it was.
    """
    with disk.refusing(data):
        number = 1
        while (away := data / _FOLDER / f"{day.isoformat()}-{number}").exists():
            number += 1
        away.mkdir(parents=True)
    plan = json.dumps(asdict(station), default=str, ensure_ascii=False, indent=2)
    disk.replace_whole(away / "plan.json", f"{plan}\n".encode())
    readings = data / "readings"
    if readings.exists():
        disk.move(readings, away / "readings")
    for folder in (away, away.parent, data):
        disk.sync_folder(folder)
    return away
