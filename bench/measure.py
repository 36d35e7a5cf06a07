"""Run programs by turns and see what each takes: wall time, and memory at its peak."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What one run took."""

    wall_s: float
    peak_mb: float


def run_once(command: Sequence[str | Path]) -> Run:
    """Run a command to its end; it must succeed. What it prints goes nowhere."""
    started = time.perf_counter()
    process = subprocess.Popen(
        [str(word) for word in command],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    assert process.stderr is not None
    told = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    process.stderr.close()
    wall_s = time.perf_counter() - started
    if process.returncode != 0:
        raise SystemExit(f"{command[0]} ended with {process.returncode}:\n{told.decode()[-2000:]}")
    unit = 1 if sys.platform == "darwin" else 1024
    return Run(wall_s=wall_s, peak_mb=usage.ru_maxrss * unit / 1e6)


def run_by_turns(commands: Mapping[str, Sequence[str | Path]], rounds: int) -> dict[str, list[Run]]:
    """Run all commands one after the other, and all again, so that no one has the quiet minute."""
    runs: dict[str, list[Run]] = {name: [] for name in commands}
    for _ in range(rounds):
        for name, command in commands.items():
            runs[name].append(run_once(command))
    return runs


def median_s(runs: Sequence[Run]) -> float:
    """Give the median wall time."""
    return statistics.median(run.wall_s for run in runs)


def peak_mb(runs: Sequence[Run]) -> float:
    """Give the highest peak of memory, in units of 1,000,000 bytes."""
    return max(run.peak_mb for run in runs)


def quietleaf() -> Path:
    """Give the command that is installed beside this Python."""
    return Path(sys.executable).parent / "quietleaf"


def machine() -> str:
    """Say in a line what the figures were measured on."""
    return f"{os.cpu_count()} cores, Python {sys.version.split()[0]}"
