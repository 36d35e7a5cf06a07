"""A line that refuses, holds, delays, doubles, swallows, damages and cuts: nothing is lost."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path

import pytest

from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.faults.wire_checks import check_whole
from tests.proxy import Faults, Proxy, proxy
from tests.readings import noise
from tests.stand_client import Journal, Stand
from tests.stations_served import new_pass, new_place, opened_station

SEED = 20261125
PATIENCE_S = 1.5
"""A stand that hears nothing for so long opens another line; a station confirms every 0.4 s."""
MOST_LINES = 60
OUTAGE_S = 600
MOST_RECORDS = 40
"""Of a stand's size in a message of at most 256 KiB."""
RATE_HZ = 44_100


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """A reading, and the stand that records it over a line that can be made to misbehave."""

    tools: Tools
    place: str
    stand: Stand
    line: Proxy

    def send_until_kept(self) -> int:
        """Open line after line until all is kept; give how many it took."""
        for number in range(1, MOST_LINES + 1):
            if self.stand.send(batch=2, wait_s=PATIENCE_S):
                return number
        raise AssertionError(f"not all was kept after {MOST_LINES} lines: {self.stand.told[-3:]}")

    def check(self) -> None:
        """Hold the reading against what was recorded."""
        check_whole(self.tools.data, self.place, self.stand.journal)


@pytest.fixture
def behind(tmp_path: Path) -> Iterator[Behind]:
    with (
        opened_station(tmp_path) as tools,
        served(tools) as address,
        proxy(address, SEED) as line,
    ):
        place = new_place(tools)
        stand = Stand(line.address, new_pass(tools, place), Journal())
        yield Behind(tools=tools, place=place, stand=stand, line=line)


def record_takes(journal: Journal, rng: random.Random, takes: int = 3) -> None:
    """Record some takes with marks in them."""
    for take in range(takes):
        journal.roll(RATE_HZ)
        for part in range(rng.randint(2, 6)):
            journal.sound(noise(rng.randint(1, 30_000), seed=take * 100 + part))
            journal.article(f"Article {take}.{part}")
        journal.missing(rng.randint(1, 90_000))
        journal.sound(noise(rng.randint(1, 3_000), seed=take))
        journal.seal()


@pytest.mark.parametrize("fault", [field.name for field in fields(Faults)])
def test_each_fault_costs_nothing(behind: Behind, fault: str) -> None:
    record_until_it_happened(behind, Faults(**{fault: 0.1}))
    behind.check()


def test_all_faults_together_cost_nothing(behind: Behind) -> None:
    record_until_it_happened(
        behind, Faults(swallow=0.01, double=0.1, delay=0.1, flip=0.05, cut=0.02)
    )
    behind.check()


def record_until_it_happened(behind: Behind, faults: Faults) -> None:
    """Record until each fault has come at least once: on a line, chance is not only the seed's."""
    rng = random.Random(SEED)
    behind.line.faults = faults
    wanted = [field.name for field in fields(Faults) if getattr(faults, field.name)]
    while not all(behind.line.happened[name] for name in wanted):
        assert behind.line.messages < 5_000
        record_takes(behind.stand.journal, rng, takes=2)
        behind.send_until_kept()


def test_a_line_that_swallows_everything_is_left_for_another(behind: Behind) -> None:
    journal = behind.stand.journal
    journal.roll(RATE_HZ)
    journal.sound(noise(60_000))
    assert behind.send_until_kept() == 1
    behind.line.mode = "hole"
    journal.sound(noise(60_000, seed=8))
    journal.seal()
    kept = behind.stand.kept
    assert not behind.stand.send(wait_s=0.2)
    assert behind.stand.kept == kept
    behind.line.mode = "pass"
    behind.send_until_kept()
    behind.check()


@pytest.mark.parametrize("rate_hz", [8_000, pytest.param(48_000, marks=pytest.mark.long)])
def test_ten_minutes_without_a_line_come_after_it(behind: Behind, rate_hz: int) -> None:
    journal = behind.stand.journal
    journal.roll(rate_hz)
    journal.sound(noise(rate_hz))
    assert behind.stand.send()
    behind.line.refuse()
    journal.sound(noise(OUTAGE_S * rate_hz, seed=9))
    journal.article("Read while nobody answered")
    assert not behind.stand.send()
    assert not behind.stand.send()
    assert behind.line.happened["refuse"] == 2
    behind.line.mode = "pass"
    journal.sound(noise(rate_hz, seed=10))
    journal.seal()
    assert behind.stand.send(batch=MOST_RECORDS)
    behind.check()
    assert len(journal.takes()[0]) == (OUTAGE_S + 2) * rate_hz


@pytest.mark.long
@pytest.mark.parametrize("seed", range(50))
def test_many_lines_of_chance(behind: Behind, seed: int) -> None:
    rng = random.Random(seed)
    journal = behind.stand.journal
    for _ in range(6):
        record_takes(journal, rng, takes=1)
        behind.line.faults = Faults(**{field.name: rng.random() * 0.05 for field in fields(Faults)})
        for _ in range(rng.randint(0, 3)):
            behind.stand.send(wait_s=PATIENCE_S)
    behind.line.faults = Faults()
    behind.send_until_kept()
    behind.check()
