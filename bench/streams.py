"""Five hundred stands recording at one station, beside a bare server that only counts what comes.

Asked for: every record synced and confirmed within two seconds of being recorded (99 in 100), and
nothing lost. The stands are one process, the station another.
"""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path

from bench.measure import machine, quietleaf
from bench.stream_client import CHUNK, CHUNK_S, chunk_of, make_sounds
from quietleaf.storage.reading_folder import create_reading, find_reading
from quietleaf.storage.reading_places import READINGS, place_of
from quietleaf.storage.take_header import HEADER_BYTES
from quietleaf.storage.take_sums import read_sums
from tests.readings import AT, FACTS
from tests.stations_served import new_pass, opened_station

STREAMS = 500
LONGEST_S = 60.0
RECORDS_A_MESSAGE = 8
P99_S_MOST = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFigures:
    """What was measured of one server.

    Attributes
    ----------
    median_s, p99_s, longest_s : float
        From the moment at which a record was recorded to the one at which it was confirmed.
    slip_p99_s : float
        How late the stands' own process sent; where it is long, that process is what limits.
    processor_s, client_processor_s : float
        Of the server from its start to its end, and of the stands' process.
    """

    median_s: float
    p99_s: float
    longest_s: float
    slip_p99_s: float
    processor_s: float
    client_processor_s: float
    peak_mb: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamFigures:
    """What was measured.

    Attributes
    ----------
    lost : int
        Samples that were sent and are not on the disk as they were sent.
    """

    versions: str
    streams: int
    seconds: float
    ours: LineFigures
    bare: LineFigures
    lost: int

    @property
    def ratio(self) -> float:
        """Our processor time over that of a server which writes nothing."""
        return self.ours.processor_s / self.bare.processor_s


def measure(
    folder: Path, length_s: float = LONGEST_S, rounds: int = 1, streams: int = STREAMS
) -> StreamFigures:
    """Measure with streams of some length, at most a minute, in ``folder``; it takes 5 GB there."""
    del rounds  # Each stream is a run of its own.
    seconds = min(length_s, LONGEST_S)
    data = folder / "station"
    doors: list[tuple[str, str]] = []
    names = [f"stream-{number}" for number in range(streams)]
    with opened_station(data) as tools:
        for name in names:
            create_reading(data, replace(FACTS, reading_id=name), AT, "Ada")
            doors.append((new_pass(tools, place_of(READINGS, name)), uuid.uuid4().hex))
    file = folder / "doors.json"
    file.write_text(json.dumps(doors))
    bare = _run([sys.executable, "-m", "bench.bare_line"], file, seconds, signal.SIGTERM)
    command: list[str | Path] = [quietleaf(), "run", "--data", data, "--port", "0"]
    ours = _run(command, file, seconds, signal.SIGINT)
    return StreamFigures(
        versions=f"quietleaf {version('quietleaf')}, websockets {version('websockets')}, "
        f"{machine()}",
        streams=streams,
        seconds=seconds,
        ours=ours,
        bare=bare,
        lost=sum(_lost(data, name, number, seconds) for number, name in enumerate(names)),
    )


def report(figures: StreamFigures) -> list[str]:
    """Set the figures as lines."""
    ours, bare = figures.ours, figures.bare
    return [
        f"streams: {figures.versions}; {figures.streams} of 48 kHz for {figures.seconds:.0f} s",
        f"  confirmed    {ours.p99_s:6.2f} s at 99 in 100, median {ours.median_s:.2f} s, longest "
        f"{ours.longest_s:.2f} s   asked for: {P99_S_MOST} s at 99 in 100",
        f"  lost         {figures.lost:6d} samples   asked for: 0",
        f"  bare server  {bare.p99_s:6.2f} s at 99 in 100, median {bare.median_s:.2f} s",
        f"  processor    {ours.processor_s:6.1f} s   bare server {bare.processor_s:.1f} s, ratio "
        f"{figures.ratio:.2f} (for information)",
        f"  memory       {ours.peak_mb:6.1f} MB  bare server {bare.peak_mb:.1f} MB",
        f"  the stands   sent {ours.slip_p99_s:.2f} s late at 99 in 100, "
        f"{ours.client_processor_s:.1f} s of processor",
    ]


def _run(
    command: Sequence[str | Path], doors: Path, seconds: float, ending: signal.Signals
) -> LineFigures:
    server = subprocess.Popen(list(map(str, command)), stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    try:
        found = None
        while found is None and (line := server.stdout.readline()):
            found = re.search(r"at http://(127\.0\.0\.1:\d+)/", line)
        if found is None:
            raise SystemExit(f"{command[0]} did not begin to serve")
        client = [sys.executable, "-m", "bench.stream_client", f"ws://{found[1]}/stand/wire"]
        client += [str(doors), str(seconds), str(RECORDS_A_MESSAGE)]
        told = json.loads(subprocess.run(client, check=True, stdout=subprocess.PIPE).stdout)
    finally:
        server.send_signal(ending)
        _, status, usage = os.wait4(server.pid, 0)
        server.returncode = os.waitstatus_to_exitcode(status)
        server.stdout.close()
    if told["faults"]:
        raise SystemExit(f"{command[0]}: {told['faults']}")
    return LineFigures(
        median_s=told["median_s"],
        p99_s=told["p99_s"],
        longest_s=told["longest_s"],
        slip_p99_s=told["slip_p99_s"],
        processor_s=usage.ru_utime + usage.ru_stime,
        client_processor_s=told["processor_s"],
        peak_mb=usage.ru_maxrss * 1024 / 1e6,
    )


def _lost(data: Path, name: str, stream: int, seconds: float) -> int:
    """Hold a take against what its stand sent; count the samples that are not there."""
    sounds = make_sounds()
    chunks = -(-round(seconds / CHUNK_S) // RECORDS_A_MESSAGE) * RECORDS_A_MESSAGE
    path = find_reading(data, name).take_path(1)
    promised = sum(record.samples for record in read_sums(path))
    lost = max(chunks * CHUNK - promised, 0)
    with path.open("rb") as file:
        file.seek(HEADER_BYTES)
        for number in range(chunks):
            if file.read(3 * CHUNK) != chunk_of(stream, number, sounds):
                lost += CHUNK
    return lost
