"""What a plan says of the files for outlets, as JSON and back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from quietleaf.finishing.plan import Drive, PlannedOutlet
from quietleaf.finishing.plan_entry import Entry
from quietleaf.planning.outlet import OUTLET_FORMS, TELEPHONE_LAWS, Outlet


def outlet_to_json(planned: PlannedOutlet) -> dict[str, Any]:
    """Write what was wanted, what was done for it, and how often."""
    drive = {**asdict(planned.drive), "measured": dict(planned.drive.measured)}
    return {**asdict(planned.outlet), "rounds": planned.rounds, "drive": drive}


def outlet_of_entry(entry: Entry, drive_of_entry: Callable[[Entry], Drive]) -> PlannedOutlet:
    """Read a file for an outlet."""
    planned = PlannedOutlet(
        outlet=Outlet(
            key=entry.text("key"),
            form=entry.text("form", OUTLET_FORMS),
            loudness_lufs=entry.number("loudness_lufs", -70.0, 0.0),
            ceiling_dbtp=entry.number("ceiling_dbtp", -60.0, 0.0),
            dual_mono=entry.flag("dual_mono"),
            mp3_kbps=entry.whole("mp3_kbps", least=8),
            law=entry.text("law", TELEPHONE_LAWS),
            low_hz=entry.number("low_hz", 1.0, 24_000.0),
            high_hz=entry.number("high_hz", 1.0, 24_000.0),
        ),
        drive=drive_of_entry(entry.entry("drive")),
        rounds=entry.whole("rounds"),
    )
    entry.finished()
    return planned
