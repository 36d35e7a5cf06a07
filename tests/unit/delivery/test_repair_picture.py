"""Pictures of repairs: power by hand, ink on one scale, bytes that another reader opens."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest

from quietleaf.delivery.png import png_of_ink
from quietleaf.delivery.spectrogram import COLUMNS, LOW, ROWS, WIDE, Scale, inked, spectrogram
from tests.report_facts import noise_picture

RATE_HZ = 48_000


def ink_of_png(png: bytes) -> np.ndarray:
    """Read the strengths back, chunk by chunk, each checked against its sum."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    chunks, place = {}, 8
    while place < len(png):
        (length,) = struct.unpack(">I", png[place : place + 4])
        kind, data = png[place + 4 : place + 8], png[place + 8 : place + 8 + length]
        (told,) = struct.unpack(">I", png[place + 8 + length : place + 12 + length])
        assert told == zlib.crc32(kind + data)
        chunks[kind] = data
        place += 12 + length
    assert list(chunks) == [b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"]
    width, height, bits, colour = struct.unpack(">IIBB", chunks[b"IHDR"][:10])
    assert (bits, colour) == (4, 3)
    assert chunks[b"tRNS"][0] == 0
    assert chunks[b"tRNS"][15] == 255
    rows = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), dtype=np.uint8).reshape(height, -1)
    assert not rows[:, 0].any()
    return np.stack([rows[:, 1:] >> 4, rows[:, 1:] & 15], axis=2).reshape(height, width)


def test_ink_is_read_back_from_the_bytes() -> None:
    ink = np.random.default_rng(8).integers(0, 16, (ROWS, COLUMNS), dtype=np.uint8)
    assert np.array_equal(ink_of_png(png_of_ink(ink)), ink)


@pytest.mark.parametrize(("scale", "tone_hz"), [(WIDE, 3_150.0), (LOW, 150.0)])
def test_a_tone_lies_in_its_row_with_its_power(scale: Scale, tone_hz: float) -> None:
    count = 72_000 + scale.window_samples
    tone = 0.2 * np.sin(2 * np.pi * tone_hz * np.arange(count) / RATE_HZ)
    power = spectrogram(tone, scale)
    assert power.shape == (ROWS, COLUMNS)
    assert set(power.argmax(axis=0)) == {int(tone_hz / scale.top_hz * ROWS)}
    assert power.sum(axis=0) == pytest.approx(0.02, rel=1e-3)
    assert not spectrogram(np.zeros(count), scale).any()


def test_both_pictures_are_inked_on_one_scale() -> None:
    loud = np.full((ROWS, COLUMNS), 1e-2, dtype=np.float32)
    quiet = loud / 100.0
    quiet[0] = 0.0
    ink, fainter = inked(loud, quiet)
    assert set(ink.ravel()) == {15}
    # 20 dB are five steps of 4 dB; the lowest band is the last row.
    assert set(fainter[:-1].ravel()) == {10}
    assert not fainter[-1].any()


def test_the_noise_is_in_the_first_picture_alone_and_the_figures_say_so() -> None:
    picture = noise_picture()
    before, now = ink_of_png(picture.before_png), ink_of_png(picture.after_png)
    # The tone, at 1050 Hz, is the same in both.
    assert set(before[ROWS - 11, :80]) == set(now[ROWS - 11, :80]) == {15}
    assert before[:60, 98:102].mean() > now[:60, 98:102].mean() + 8
    # A tone of 0.1 is -23.01 dBov.
    assert (
        "−23.0 dBov now; beside it −23.0 dBov before, −23.0 dBov now."
        in picture.sentence.replace("\N{NO-BREAK SPACE}", " ")
    )
    assert len(picture.before_png) < 10_000


def test_levels_are_drawn_on_one_scale() -> None:
    picture = noise_picture()
    assert picture.top_dbov == -15.0
    before, now = (
        np.array([[float(one) for one in point.split(",")] for point in line.split()])
        for line in (picture.before_line, picture.after_line)
    )
    assert np.array_equal(before[:, 0], np.arange(1, 200, 2))
    # A tone of 0.1 is -23.01 dBov: 8.0 dB under the top, and where the noise was it stays so.
    assert now[:, 1] == pytest.approx(8.0, abs=0.05)
    assert before[:40, 1] == pytest.approx(8.0, abs=0.05)
    assert before[50, 1] < 3.0
