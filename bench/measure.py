"""Run programs by turns and see what each takes: wall and processor time, memory at its peak."""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

# A process begins with the memory of the one that starts it counted as its own peak: so a small
# one starts each program.
_RUNNER = """
import json, os, subprocess, sys, time
started = time.perf_counter()
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, usage = os.wait4(process.pid, 0)
wall_s = time.perf_counter() - started
process.returncode = os.waitstatus_to_exitcode(status)
print(json.dumps([wall_s, usage.ru_utime + usage.ru_stime, usage.ru_maxrss]))
sys.exit(process.returncode != 0)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What one run took."""

    wall_s: float
    processor_s: float
    peak_mb: float


def run_once(command: Sequence[str | Path]) -> Run:
    """Run a command to its end; it must succeed. What it prints goes nowhere."""
    words = [sys.executable, "-I", "-c", _RUNNER, *map(str, command)]
    done = subprocess.run(
        words, check=False, stdin=subprocess.DEVNULL, capture_output=True, text=True
    )
    if done.returncode != 0:
        raise SystemExit(f"{command[0]} did not end well:\n{done.stderr[-2000:]}")
    wall_s, processor_s, peak_units = json.loads(done.stdout)
    unit = 1 if sys.platform == "darwin" else 1024
    return Run(wall_s=wall_s, processor_s=processor_s, peak_mb=peak_units * unit / 1e6)


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


def median_processor_s(runs: Sequence[Run]) -> float:
    """Give the median processor time, which other work on the machine disturbs less."""
    return statistics.median(run.processor_s for run in runs)


def peak_mb(runs: Sequence[Run]) -> float:
    """Give the highest peak of memory, in units of 1,000,000 bytes."""
    return max(run.peak_mb for run in runs)


def quietleaf() -> Path:
    """Give the command that is installed beside this Python."""
    return Path(sys.executable).parent / "quietleaf"


def machine() -> str:
    """Say in a line what the figures were measured on."""
    return f"{os.cpu_count()} cores, Python {sys.version.split()[0]}"
