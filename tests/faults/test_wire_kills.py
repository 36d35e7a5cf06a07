"""The station is killed while a stand records: what was confirmed is there, and nothing is lost."""

from __future__ import annotations

import random
import threading
from pathlib import Path

import pytest

from tests.faults.wire_checks import check_confirmed, check_whole
from tests.readings import noise
from tests.stand_client import Journal, Stand
from tests.stations_served import StationProcess, new_pass, new_place, opened_station

RATE_HZ = 48_000


def kill_and_go_on(data: Path, kills: int, seed: int) -> None:
    """Record several takes while the station is killed at moments of chance, then compare."""
    rng = random.Random(seed)
    with opened_station(data) as tools:
        place = new_place(tools)
        secret = new_pass(tools, place)
    journal = Journal()
    station = StationProcess(data)
    station.start()
    try:
        stand = Stand(station.address, secret, journal)
        for number in range(kills):
            journal.roll(RATE_HZ)
            if rng.random() < 0.3:
                journal.words()
            for part in range(rng.randint(1, 30)):
                journal.sound(noise(rng.randint(1, 20_000), seed=number * 100 + part))
                if rng.random() < 0.1:
                    journal.article(f"Article {number}.{part}")
            if rng.random() < 0.2:
                journal.missing(rng.randint(1, 90_000))
            if rng.random() < 0.7:
                journal.sound(noise(rng.randint(1, 5_000), seed=number))
            for _ in range(rng.randint(0, 2)):
                take = rng.randint(1, len(journal.sent_sound))
                longest = journal.first if take == len(journal.sent_sound) else 1
                journal.again((take, rng.randint(0, longest)), instead=rng.random() < 0.5)
            journal.seal()
            killer = threading.Timer(rng.random() * 0.5, station.kill)
            killer.start()
            stand.send(batch=rng.randint(1, 12))
            killer.join()
            confirmed_entries, confirmed_samples = stand.kept
            check_confirmed(data, place, journal, confirmed_entries, confirmed_samples)
            station.start()
        assert stand.send()
    finally:
        station.kill()
    check_whole(data, place, journal)


def test_a_few_kills(tmp_path: Path) -> None:
    kill_and_go_on(tmp_path, kills=20, seed=20261125)


@pytest.mark.long
def test_many_kills(tmp_path: Path) -> None:
    for number in range(25):
        kill_and_go_on(tmp_path / f"{number}", kills=20, seed=number)
