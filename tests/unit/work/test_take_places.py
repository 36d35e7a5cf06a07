"""Places of a reading in its takes, at rates of their own, around what was taken out."""

from __future__ import annotations

from pathlib import Path

import pytest

from quietleaf.booth.edits import Cut
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.take_places import TakePlaces
from tests.readings import AT, folder_with, noise


@pytest.fixture
def folder(tmp_path: Path) -> ReadingFolder:
    """Give two takes at 24 kHz, with the middle of the first cut out."""
    folder = folder_with(tmp_path, noise(3_000), noise(2_000), sample_rate_hz=24_000)
    folder.append(Cut(take=1, start=1_000, stop=1_500), author="Desk", at=AT)
    return folder


def test_by_hand(folder: ReadingFolder) -> None:
    places = TakePlaces(folder)
    with TimelineSound(folder) as sound:
        assert places.samples == sound.info.frames == 2 * (1_000 + 1_500 + 2_000)
    assert places.range_of(0, 1) == ((1, 0), (1, 1))
    assert places.range_of(100, 200) == ((1, 50), (1, 101))
    # Up to the cut, over it, and from it on.
    assert places.range_of(1_900, 2_000) == ((1, 950), (1, 1_000))
    assert places.range_of(1_900, 2_100) == ((1, 950), (1, 1_551))
    assert places.range_of(2_000, 5_000) == ((1, 1_500), (1, 3_000))
    assert places.range_of(4_900, 99_000) == ((1, 2_950), (2, 2_000))


def test_a_place_is_found_again_and_one_that_is_out_lies_at_the_join(folder: ReadingFolder) -> None:
    places = TakePlaces(folder)
    for sample in range(0, places.samples, 50):
        start, _ = places.range_of(sample, sample + 10)
        assert places.sample_of(start) == sample
    assert places.sample_of((1, 1_200)) == 2_000
    assert places.sample_of((2, 2_000)) == places.samples
