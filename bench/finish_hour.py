"""An hour through `quietleaf finish`, beside ffmpeg's way to a master of the same file.

That way is: measure (`ebur128=peak=true`), then gain, `alimiter` and MP3 of 64 kbit/s. Ours makes
a plan, fits it to a length 2 % shorter, makes a wave master, an MP3 and a report, and listens to
both files again. Asked for: at most 0.7 of ffmpeg's wall time (medians of runs by turns, whole
processes).
"""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from bench.hour import make_hour
from bench.measure import Run, machine, median_s, peak_mb, quietleaf, run_once
from tests.helpers import find_ffmpeg

RATIO_MOST = 0.7
FIT_SHARE = 0.98
TARGET_LUFS = -23.0
CEILING = 0.891
"""-1 dBFS, as `alimiter` takes it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishFigures:
    """What was measured."""

    versions: str
    sentences: str
    ours_s: float
    measuring_s: float
    making_s: float
    memory_mb: float

    @property
    def ratio(self) -> float:
        """Our wall time over ffmpeg's for both of its steps."""
        return self.ours_s / (self.measuring_s + self.making_s)


def measure(folder: Path, length_s: float = 3600.0, rounds: int = 5) -> FinishFigures:
    """Measure with sound of some length in ``folder``; an hour of it takes 2 GB there."""
    ffmpeg = find_ffmpeg()
    hour, out, theirs = folder / "hour.wav", folder / "out", folder / "theirs.mp3"
    sentences = make_hour(hour, length_s)
    measuring = [*(str(ffmpeg), "-nostats", "-i", str(hour))]
    measuring += ["-af", "ebur128=peak=true", "-f", "null", "-"]
    gain_db = TARGET_LUFS - _loudness_lufs(measuring)
    making = [*(str(ffmpeg), "-nostats", "-y", "-i", str(hour))]
    making += ["-af", f"volume={gain_db:.1f}dB,alimiter=limit={CEILING}:level=false"]
    making += ["-c:a", "libmp3lame", "-b:a", "64k", str(theirs)]
    ours = [str(quietleaf()), "finish", str(hour), "--out", str(out)]
    ours += ["--fit", f"{FIT_SHARE * length_s:.3f}"]
    # Once before it counts: compiled code is made, the file comes into memory.
    _finish(ours, out)
    runs: dict[str, list[Run]] = {"ours": [], "measuring": [], "making": []}
    for _ in range(rounds):
        runs["ours"].append(_finish(ours, out))
        runs["measuring"].append(run_once(measuring))
        runs["making"].append(run_once(making))
    return FinishFigures(
        versions=f"quietleaf {version('quietleaf')}, {_version(ffmpeg)}, {machine()}",
        sentences=sentences,
        ours_s=median_s(runs["ours"]),
        measuring_s=median_s(runs["measuring"]),
        making_s=median_s(runs["making"]),
        memory_mb=peak_mb(runs["ours"]),
    )


def report(figures: FinishFigures) -> list[str]:
    """Set the figures as lines."""
    return [
        f"finish: {figures.versions}; {figures.sentences}",
        f"  an hour      {figures.ours_s:6.2f} s   ffmpeg measuring {figures.measuring_s:.2f} s, "
        f"gain, limiter and MP3 {figures.making_s:.2f} s",
        f"  ratio        {figures.ratio:6.3f}     asked for: {RATIO_MOST} at most",
        f"  memory       {figures.memory_mb:6.1f} MB",
    ]


def _finish(command: list[str], out: Path) -> Run:
    run = run_once(command)
    shutil.rmtree(out)
    return run


def _loudness_lufs(measuring: list[str]) -> float:
    told = subprocess.run(measuring, check=True, capture_output=True, text=True).stderr
    found = re.findall(r"I:\s+(-?[\d.]+) LUFS", told)
    return float(found[-1])


def _version(ffmpeg: Path) -> str:
    told = subprocess.run([ffmpeg, "-version"], check=True, capture_output=True, text=True).stdout
    return " ".join(told.split()[:3])
