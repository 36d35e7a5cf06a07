"""The kernel refuses to write: the stand is told, keeps all, and goes on when there is room."""

from __future__ import annotations

import itertools
import resource
import signal
from pathlib import Path

import pytest

from quietleaf.storage.database import database_url
from quietleaf.storage.reading_folder import LEDGER
from quietleaf.storage.reading_places import folder_of
from tests.faults.wire_checks import check_confirmed, check_whole
from tests.readings import noise
from tests.stand_client import Journal, Stand
from tests.stations_served import new_pass, new_place, opened_station, station_process

RATE_HZ = 48_000


def limit_files(pid: int, size_bytes: int) -> None:
    """Let a process write no file beyond this size: to it, the disk is full."""
    resource.prlimit(pid, resource.RLIMIT_FSIZE, (size_bytes, resource.RLIM_INFINITY))


@pytest.mark.parametrize("odd_bytes", [0, 1, 4_097])
def test_what_does_not_fit_comes_when_there_is_room(tmp_path: Path, odd_bytes: int) -> None:
    assert signal.getsignal(signal.SIGXFSZ) == signal.SIG_IGN  # Python's own way: a refusal
    with opened_station(tmp_path) as tools:
        place = new_place(tools)
        secret = new_pass(tools, place)
    journal = Journal()
    journal.roll(RATE_HZ)
    journal.sound(noise(100_000))
    with station_process(tmp_path) as station:
        assert station.process is not None
        assert station.process.pid is not None
        stand = Stand(station.address, secret, journal)
        assert stand.send()
        # Above all that the station has written so far, so that the take alone meets it.
        database = Path(database_url(tmp_path).removeprefix("sqlite:///"))
        room = max(800_000 + odd_bytes, database.stat().st_size + 100_000)
        limit_files(station.process.pid, room)
        journal.sound(noise(300_000, seed=8))
        journal.article("Read while the disk was full")
        journal.sound(noise(50_000, seed=9))
        journal.seal()
        for _ in range(3):
            stand.told.clear()
            assert not stand.send()
            assert stand.told[-1]["kind"] == "trouble"
            assert stand.told[-1]["code"] in ("disk/full", "disk/fault")
            assert "What was confirmed before is safe" in stand.told[-1]["sentence"]
            check_confirmed(tmp_path, place, journal, *stand.kept)
        assert not folder_of(tmp_path, place).takes()[0].samples
        limit_files(station.process.pid, resource.RLIM_INFINITY)
        assert stand.send()
        # The next take goes as if nothing had been.
        journal.roll(RATE_HZ)
        journal.sound(noise(10_000, seed=10))
        journal.seal()
        assert stand.send()
    check_whole(tmp_path, place, journal)


def test_a_ledger_that_does_not_fit_comes_when_there_is_room(tmp_path: Path) -> None:
    with opened_station(tmp_path) as tools:
        place = new_place(tools)
        secret = new_pass(tools, place)
    ledger = folder_of(tmp_path, place).path / LEDGER
    opened_bytes = ledger.stat().st_size
    journal = Journal()
    journal.roll(RATE_HZ)
    journal.sound(noise(30))
    journal.article("Tides")
    journal.seal()
    with station_process(tmp_path) as station:
        assert station.process is not None
        assert station.process.pid is not None
        stand = Stand(station.address, secret, journal)
        entries = []
        for more_bytes in itertools.count(step=50):
            limit_files(station.process.pid, opened_bytes + more_bytes)
            if stand.send():
                break
            assert stand.told[-1]["kind"] == "trouble"
            check_confirmed(tmp_path, place, journal, *stand.kept)
            entries.append(stand.kept[0])
        # Each of the three did not fit once.
        assert sorted(set(entries)) == [0, 1, 2]
    check_whole(tmp_path, place, journal)
