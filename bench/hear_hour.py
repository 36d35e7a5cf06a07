"""An hour through `quietleaf hear`, beside ffmpeg measuring loudness and true peak of it.

Asked for: at most ffmpeg's wall time (medians of runs by turns, whole processes); peak
memory of ten hours at most 1.1 times that of one, and under 350 MB.
"""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from bench.hour import make_hour
from bench.measure import (
    machine,
    median_processor_s,
    median_s,
    peak_mb,
    quietleaf,
    run_by_turns,
    run_once,
)
from tests.helpers import find_ffmpeg

HOURS = 10
RATIO_MOST = 1.0
MEMORY_RATIO_MOST = 1.1
MEMORY_MB_MOST = 350.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HearFigures:
    """What was measured."""

    versions: str
    sentences: str
    ours_s: float
    ffmpeg_s: float
    ours_processor_s: float
    ffmpeg_processor_s: float
    one_mb: float
    ten_mb: float

    @property
    def ratio(self) -> float:
        """Our wall time over ffmpeg's."""
        return self.ours_s / self.ffmpeg_s

    @property
    def memory_ratio(self) -> float:
        """Peak memory of ten lengths over that of one."""
        return self.ten_mb / self.one_mb


def measure(folder: Path, length_s: float = 3600.0, rounds: int = 5) -> HearFigures:
    """Measure with sound of some length in ``folder``; an hour of it takes 6 GB there."""
    ffmpeg = find_ffmpeg()
    one, ten = folder / "hour.wav", folder / "ten-hours.wav"
    sentences = make_hour(one, length_s)
    ours: list[str | Path] = [quietleaf(), "hear", "--json", one]
    theirs: list[str | Path] = [ffmpeg, "-nostats", "-i", one]
    theirs += ["-af", "ebur128=peak=true", "-f", "null", "-"]
    # Once before it counts: compiled code is made, the file comes into memory.
    run_once(ours)
    runs = run_by_turns({"ours": ours, "ffmpeg": theirs}, rounds)
    make_hour(ten, length_s, times=HOURS)
    long_run = run_once([quietleaf(), "hear", "--json", ten])
    ten.unlink()
    return HearFigures(
        versions=f"quietleaf {version('quietleaf')}, {_ffmpeg_version(ffmpeg)}, {machine()}",
        sentences=sentences,
        ours_s=median_s(runs["ours"]),
        ffmpeg_s=median_s(runs["ffmpeg"]),
        ours_processor_s=median_processor_s(runs["ours"]),
        ffmpeg_processor_s=median_processor_s(runs["ffmpeg"]),
        one_mb=peak_mb(runs["ours"]),
        ten_mb=long_run.peak_mb,
    )


def report(figures: HearFigures) -> list[str]:
    """Set the figures as lines."""
    return [
        f"hear: {figures.versions}; {figures.sentences}",
        f"  an hour      {figures.ours_s:6.2f} s   "
        f"ffmpeg ebur128=peak=true {figures.ffmpeg_s:.2f} s",
        f"  ratio        {figures.ratio:6.3f}     asked for: {RATIO_MOST} at most",
        f"  processor    {figures.ours_processor_s:6.2f} s   ffmpeg "
        f"{figures.ffmpeg_processor_s:.2f} s (for information)",
        f"  memory       {figures.one_mb:6.1f} MB  ten hours {figures.ten_mb:.1f} MB "
        f"(asked for: under {MEMORY_MB_MOST:.0f})",
        f"  ratio        {figures.memory_ratio:6.3f}     asked for: {MEMORY_RATIO_MOST} at most",
    ]


def _ffmpeg_version(ffmpeg: Path) -> str:
    told = subprocess.run([ffmpeg, "-version"], check=True, capture_output=True, text=True).stdout
    return " ".join(told.split()[:3])
