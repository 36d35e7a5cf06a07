"""A timeline as sound: joins worked out by hand, and other rates against formulas."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soxr

from quietleaf.booth.edits import Cut
from quietleaf.errors import AudioUnfit, Damaged, Invalid
from quietleaf.storage.reading_folder import ReadingFolder, create_reading
from quietleaf.storage.resampled_take import SEGMENT_S
from quietleaf.storage.take_header import HEADER_BYTES
from quietleaf.storage.timeline_sound import TimelineSound
from tests.readings import AT, FACTS, folder_with, noise

HALF = 240
"""Half a cross-fade of 10 ms at 48 kHz."""


def cut(folder: ReadingFolder, start: int, stop: int, take: int = 1) -> ReadingFolder:
    folder.append(Cut(take=take, start=start, stop=stop), author="Ada", at=AT)
    return folder


def whole(folder: ReadingFolder) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    with TimelineSound(folder) as sound:
        return sound.read(0, sound.info.frames)[:, 0]


def test_one_take_at_48_khz_is_the_take(tmp_path: Path) -> None:
    assert np.array_equal(whole(folder_with(tmp_path, noise(5_000))), noise(5_000))


def test_a_join_is_an_equal_power_cross_fade_of_what_lies_beyond_both_edges(
    tmp_path: Path,
) -> None:
    take = noise(10_000)
    heard = whole(cut(folder_with(tmp_path, take), 3_000, 6_000))
    assert len(heard) == 7_000
    assert np.array_equal(heard[: 3_000 - HALF], take[: 3_000 - HALF])
    assert np.array_equal(heard[3_000 + HALF :], take[6_000 + HALF :])
    # Line by line from the definition.
    for at in range(2 * HALF):
        angle = (at + 0.5) / (2 * HALF) * np.pi / 2
        by_hand = take[3_000 - HALF + at] * np.cos(angle) + take[6_000 - HALF + at] * np.sin(angle)
        assert heard[3_000 - HALF + at] == pytest.approx(by_hand, abs=1e-15)


def test_the_noise_floor_makes_no_step_at_a_join(tmp_path: Path) -> None:
    """The mean power of independent noise over many joins stays what it is elsewhere."""
    take = np.rint(np.random.default_rng(3).normal(0, 0.05, 600_000) * 2**23) / 2**23
    folder = folder_with(tmp_path, take)
    for number in range(1, 60):
        cut(folder, number * 10_000, number * 10_000 + 4_000)
    heard = whole(folder)
    joins = [10_000 + 6_000 * number for number in range(59)]
    in_joins = np.concatenate([heard[at - HALF : at + HALF] for at in joins])
    change_db = 10 * np.log10(np.mean(in_joins**2) / np.mean(take**2))
    # 28 320 samples: the standard deviation of the mean power is 0.04 dB; four of them.
    assert abs(change_db) < 0.15


def test_where_a_take_ends_the_fade_ends_with_it(tmp_path: Path) -> None:
    tone = np.full(4_000, 0.5)
    heard = whole(folder_with(tmp_path, tone, tone))
    assert len(heard) == 8_000
    assert np.array_equal(heard[: 4_000 - HALF], tone[HALF:])
    assert heard[3_999] < 0.004
    assert heard[4_000] < 0.004
    # Nowhere a step larger than that of the fade itself.
    assert np.abs(np.diff(heard)).max() < 0.5 * np.pi / 2 / HALF * 1.01


def test_spans_shorter_than_a_fade_are_joined_too(tmp_path: Path) -> None:
    take = np.full(10_000, 0.25)
    folder = folder_with(tmp_path, take)
    for start in range(1_000, 1_200, 20):
        cut(folder, start, start + 10)
    heard = whole(folder)
    assert len(heard) == 9_900
    # Equal power of two like samples is at most sqrt(2).
    assert heard.max() <= 0.25 * np.sqrt(2) + 1e-12
    assert heard.min() >= 0.25 - 1e-12


@pytest.mark.parametrize("sample_rate_hz", [8_000, 22_050, 44_100, 88_200, 96_000, 192_000, 47_999])
def test_a_tone_keeps_its_pitch_place_and_level_at_any_rate(
    tmp_path: Path, sample_rate_hz: int
) -> None:
    seconds = 12
    tone = 0.5 * np.sin(2 * np.pi * 997 * np.arange(seconds * sample_rate_hz) / sample_rate_hz)
    heard = whole(folder_with(tmp_path, tone, sample_rate_hz=sample_rate_hz))
    assert len(heard) == seconds * 48_000
    expected = 0.5 * np.sin(2 * np.pi * 997 * np.arange(len(heard)) / 48_000)
    # The take is rounded to 24 bits: half a step is 6e-8; the ends ring.
    inside = slice(4_800, -4_800)
    assert np.abs(heard - expected)[inside].max() < 4e-7


def test_segments_make_what_one_pass_makes(tmp_path: Path) -> None:
    take = noise(44_100 * 21)
    with TimelineSound(folder_with(tmp_path, take, sample_rate_hz=44_100)) as sound:
        heard = np.concatenate(list(sound.blocks()))[:, 0]
        # Over the edge of a segment, in a window of its own.
        edge = 2 * SEGMENT_S * 48_000
        assert np.array_equal(sound.read(edge - 9, edge + 9)[:, 0], heard[edge - 9 : edge + 9])
    one_pass = soxr.resample(take, 44_100, 48_000, quality="VHQ")
    # The library treats the first milliseconds of a stream in a way of its own; here there is
    # silence before a take.
    assert np.abs(heard - one_pass)[4_800:].max() < 1e-13


def test_many_joins_take_no_more_memory_than_few(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(44_100 * 4), sample_rate_hz=44_100)
    for number in range(1, 20):
        cut(folder, number * 8_000, number * 8_000 + 4_000)
    with TimelineSound(folder) as sound:
        for _ in sound.blocks(5_000):
            kept = [part for part in sound._parts if part.sound._kept is not None]
            assert len(kept) <= 2


def test_takes_of_two_rates_make_one_reading(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(48_000))
    writer = folder.next_take(24_000)
    writer.append(bytes(3 * 24_000))
    folder.seal(writer, origin="a test", author="Ada", at=AT)
    with TimelineSound(folder) as sound:
        assert (sound.info.frames, sound.info.sample_rate_hz) == (96_000, 48_000)
        assert sound.info.duration_s == 2.0
    with TimelineSound(folder, 24_000) as sound:
        assert sound.info.frames == 48_000


def test_a_reading_with_nothing_in_it_has_no_sound(tmp_path: Path) -> None:
    with pytest.raises(AudioUnfit, match="r7 has nothing in its programme yet"):
        TimelineSound(create_reading(tmp_path, FACTS, AT, "Ada"))
    folder = folder_with(tmp_path, noise(100), name="r8")
    with pytest.raises(AudioUnfit, match="r8 has nothing in its programme"):
        TimelineSound(cut(folder, 0, 100))


def test_a_flipped_bit_is_heard_by_nobody(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, noise(70_000))
    path = folder.take_path(1)
    data = bytearray(path.read_bytes())
    data[HEADER_BYTES + 3 * 69_000] ^= 4
    path.write_bytes(data)
    with TimelineSound(folder) as sound:
        assert len(sound.read(0, 60_000)) == 60_000
        with pytest.raises(Damaged, match=r"is not what was recorded from 1.4 s to 1.5 s"):
            sound.read(60_000, 70_000)


def test_a_range_outside_is_refused(tmp_path: Path) -> None:
    with (
        TimelineSound(folder_with(tmp_path, noise(100))) as sound,
        pytest.raises(Invalid, match="frames 0 to 100; 0 to 101"),
    ):
        sound.read(0, 101)
