"""A station in a process of its own, which a test can kill; and passes for its readings."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from multiprocessing import get_context
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

from quietleaf.cli.main import main
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.reading_folder import create_reading
from quietleaf.storage.reading_places import READINGS, place_of
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.work.plan_station import plan_station
from quietleaf.work.tools import Tools
from tests.readings import AT, FACTS
from tests.stations import STATION

PATIENCE_S = 60.0


def now() -> datetime:
    """Give the real moment, as a station's clock does."""
    return datetime.now(UTC)


@contextmanager
def opened_station(data: Path) -> Iterator[Tools]:
    """Plan a small station in a folder."""
    with Database(database_url(data)) as database:
        tools = Tools(data=data, database=database, clock=now)
        plan_station(STATION, tools)
        yield tools


def new_place(tools: Tools) -> str:
    """Make a reading that has nothing in it, and give its place."""
    create_reading(tools.data, FACTS, AT, "Ada")
    return place_of(READINGS, FACTS.reading_id)


def new_pass(tools: Tools, place: str, *, booth: str | None = None, reader: str = "Ada") -> str:
    """Let a page send sound for a reading."""
    secret = new_secret()
    tools.database.add_token(
        Token(
            sha256=sha256_of(secret),
            purpose="pass",
            booth=booth,
            reader=reader,
            reading=place,
            made_at=tools.clock(),
        )
    )
    return secret


def serve(data: Path, port: int) -> None:
    """Serve a station until killed."""
    main(["run", "--data", str(data), "--port", str(port)])


@dataclass
class StationProcess:
    """A station that serves, in a process of its own.

    It is forked from a server that has loaded what a station needs, so that a test can afford to
    start it twenty times.
    """

    data: Path
    port: int = 0
    process: ForkServerProcess | None = None

    @property
    def address(self) -> str:
        """Give the address of its pages."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it, on the port it had before, and wait until it answers."""
        if not self.port:
            with socket.create_server(("127.0.0.1", 0)) as free:
                self.port = free.getsockname()[1]
        context = get_context("forkserver")
        context.set_forkserver_preload(["tests.stations_served", "quietleaf.web.app", "uvicorn"])
        self.process = context.Process(target=serve, args=(self.data, self.port), daemon=True)
        self.process.start()
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end and self.process.is_alive():
            try:
                with urlopen(f"{self.address}/health", timeout=PATIENCE_S):
                    return
            except (URLError, ConnectionError):
                # It does not listen yet.
                time.sleep(0.01)
        raise AssertionError("the station did not come up")

    def kill(self) -> None:
        """End it by SIGKILL, wherever it is."""
        if self.process is not None:
            self.process.kill()
            self.process.join()
            self.process = None


@contextmanager
def station_process(data: Path) -> Iterator[StationProcess]:
    """Run a station until the block ends."""
    station = StationProcess(data)
    try:
        station.start()
        yield station
    finally:
        station.kill()
