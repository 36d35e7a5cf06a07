"""Laws of a timeline as sound: any cutting into blocks gives the same bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from quietleaf.booth.edits import Cut
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.storage.timeline_sound import TimelineSound
from tests.readings import AT, folder_with, noise

TAKE = 30_000


def reading(data: Path, sample_rate_hz: int, cuts: list[tuple[int, int]]) -> ReadingFolder:
    name = f"r{sample_rate_hz}-{len(list(data.glob('readings/*/*')))}"
    folder = folder_with(
        data, noise(TAKE, 1), noise(TAKE, 2), sample_rate_hz=sample_rate_hz, name=name
    )
    for start, length in cuts:
        cut = Cut(take=1 + start % 2, start=start, stop=min(start + length, TAKE))
        folder.append(cut, author="Ada", at=AT)
    return folder


CUTS = st.lists(st.tuples(st.integers(0, TAKE - 1), st.integers(1, 9_000)), max_size=6)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    sample_rate_hz=st.sampled_from([8_000, 44_100, 48_000, 96_000]),
    cuts=CUTS,
    block=st.integers(1_000, 70_000),
    places=st.lists(st.floats(0, 1), min_size=2, max_size=2),
)
def test_any_cutting_into_blocks_gives_the_same(
    tmp_path: Path,
    sample_rate_hz: int,
    cuts: list[tuple[int, int]],
    block: int,
    places: list[float],
) -> None:
    with TimelineSound(reading(tmp_path, sample_rate_hz, cuts)) as sound:
        frames = sound.info.frames
        whole = np.concatenate(list(sound.blocks(10 * frames)))
        assert whole.shape == (frames, 1)
        assert np.isfinite(whole).all()
        assert np.array_equal(np.concatenate(list(sound.blocks(block))), whole)
        start, stop = sorted(int(place * frames) for place in places)
        assert np.array_equal(sound.read(start, stop), whole[start:stop])
        lengths = [span.stop - span.start for span in sound.timeline.spans]
        expected = sum(lengths) * 48_000 / sample_rate_hz
        # Each span is rounded to a whole frame by itself.
        assert abs(frames - expected) <= len(lengths) / 2


@pytest.fixture(scope="module")
def unread(tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = tmp_path_factory.mktemp("station")
    folder_with(data, noise(TAKE, 1), noise(TAKE, 2))
    return data


@settings(max_examples=25)
@given(cuts=CUTS)
def test_no_edit_changes_a_take_on_the_disk(unread: Path, cuts: list[tuple[int, int]]) -> None:
    folder = find_reading(unread, "r7")
    before = {path: path.read_bytes() for path in (folder.path / "takes").iterdir()}
    for start, length in cuts:
        cut = Cut(take=1 + start % 2, start=start, stop=min(start + length, TAKE))
        folder.append(cut, author="Ada", at=AT)
    assert {path: path.read_bytes() for path in (folder.path / "takes").iterdir()} == before
