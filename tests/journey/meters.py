"""Loudness and true peak by an independent meter: ffmpeg's ebur128 on the file as delivered."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path


def ffmpeg_loudness(ffmpeg: Path, file: Path) -> tuple[float, float]:
    """Give integrated loudness (LUFS) and true peak (dBTP) of a file."""
    told = subprocess.run(
        [ffmpeg, "-nostats", "-i", file, "-af", "ebur128=peak=true", "-f", "null", "-"],
        check=True,
        capture_output=True,
        text=True,
    ).stderr
    summary = told[told.rindex("Summary:") :]
    found = [re.search(rf"{name}:\s+(-?[\d.]+) (?:LUFS|dBFS)", summary) for name in ("I", "Peak")]
    integrated, peak = (float(match[1]) for match in found if match)
    return integrated, peak
