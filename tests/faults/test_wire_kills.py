"""The station is killed while a stand records: what was confirmed is there, and nothing is lost."""

from __future__ import annotations

import random
import threading
from pathlib import Path

import numpy as np
import pytest

from quietleaf.booth.edits import ArticleStarted, SoundMissing, WordsBegun
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_places import folder_of
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


def check_confirmed(data: Path, place: str, journal: Journal, entries: int, samples: int) -> None:
    """Hold what the disk has right after a kill against what the stand was told."""
    folder = folder_of(data, place)  # it opens
    rolled = [record for record in journal.records if record.payload.startswith(b'{"what":"rol')]
    begun = sum(record.entries < entries for record in rolled)
    takes = folder.takes()
    assert len(takes) >= begun
    for take, sent in zip(takes[:begun], journal.takes(), strict=False):
        known = take.samples
        with folder.open_take(take.take) as reader:
            got = b"".join(pcm24_of_samples(block[:, 0]) for block in reader.blocks(1 << 16))
        if known is None and take.take == begun:
            assert len(got) // 3 >= samples
        elif known is not None:
            assert known == len(sent)
        assert got == pcm24_of_samples(sent[: len(got) // 3])


def check_whole(data: Path, place: str, journal: Journal) -> None:
    """Hold the whole reading against what was recorded: sample for sample, mark for mark."""
    folder = folder_of(data, place)
    assert [take.samples for take in folder.takes()] == [len(sent) for sent in journal.takes()]
    for take, sent in zip(folder.takes(), journal.takes(), strict=True):
        with folder.open_take(take.take) as reader:
            got = np.concatenate([block[:, 0] for block in reader.blocks(1 << 16)])
        np.testing.assert_array_equal(got, sent)
    marks = [
        edit
        for edit in folder.ledger()
        if isinstance(edit.what, ArticleStarted | WordsBegun | SoundMissing)
    ]
    sent_marks = [
        record
        for record in journal.records
        if record.payload[:12] in (b'{"what":"art', b'{"what":"wor', b'{"what":"mis')
    ]
    assert len(marks) == len(sent_marks)


def test_a_few_kills(tmp_path: Path) -> None:
    kill_and_go_on(tmp_path, kills=20, seed=20261125)


@pytest.mark.long
def test_many_kills(tmp_path: Path) -> None:
    for number in range(25):
        kill_and_go_on(tmp_path / f"{number}", kills=20, seed=number)
