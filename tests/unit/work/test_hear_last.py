"""The end of a reading: the same sound as its timeline has there, and never more than there is."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from quietleaf.booth.edits import Cut
from quietleaf.errors import AudioUnfit, NotFound
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, create_reading
from quietleaf.work.hear_last import RATE_HZ, hear_last
from quietleaf.work.tools import Tools
from tests.browser.standing import HOUR
from tests.finished import NOW, example_station
from tests.readings import noise

READER = HOUR.readers[0]
PLACE = "readings:hour"


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        yield made


@pytest.fixture
def folder(tools: Tools) -> ReadingFolder:
    return create_reading(tools.data, HOUR, NOW, READER)


def record(folder: ReadingFolder, seconds: int) -> None:
    writer = folder.roll(RATE_HZ, author=READER, at=NOW)
    writer.append(pcm24_of_samples(noise(seconds * RATE_HZ)))
    folder.seal(writer, origin="a test", author=READER, at=NOW)


def test_the_last_seconds_of_the_last_take_are_given(tools: Tools, folder: ReadingFolder) -> None:
    record(folder, 1)
    record(folder, 4)
    last = hear_last(PLACE, 2.0, tools)
    assert last.sample_rate_hz == RATE_HZ
    # A step of 24 bits.
    np.testing.assert_allclose(last.samples, noise(4 * RATE_HZ)[-2 * RATE_HZ :], atol=2**-22)


def test_what_is_cut_is_not_heard(tools: Tools, folder: ReadingFolder) -> None:
    record(folder, 4)
    cut = Cut(take=1, start=3 * RATE_HZ, stop=4 * RATE_HZ)
    folder.append(cut, author="Quietleaf", at=NOW)
    last = hear_last(PLACE, 2.0, tools)
    expected = noise(4 * RATE_HZ)[RATE_HZ : 3 * RATE_HZ]
    np.testing.assert_allclose(last.samples, expected, atol=2**-22)


def test_a_short_reading_is_given_whole(tools: Tools, folder: ReadingFolder) -> None:
    record(folder, 1)
    assert hear_last(PLACE, 20.0, tools).samples.shape == (RATE_HZ,)


def test_where_there_is_nothing_it_is_refused(tools: Tools, folder: ReadingFolder) -> None:
    with pytest.raises(AudioUnfit, match="has nothing in its programme yet"):
        hear_last(PLACE, 20.0, tools)
    with pytest.raises(NotFound):
        hear_last("readings:nothing", 20.0, tools)
    assert folder.takes() == ()
