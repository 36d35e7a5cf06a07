"""Draw the pictures of docs/joins.md: ten joins before and after, as spectrograms.

    python -m scripts.make_join_pictures

From the example's sample, and from public-domain recordings where they are shared; no sound is
kept. Each picture has three strips, from 0 to 8 kHz: the take with the stumble in it; the join;
the reading that had no stumble. Below each strip are ticks of half a second.
"""

from __future__ import annotations

import struct
import tempfile
import zlib
from importlib.resources import files
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from quietleaf.storage.database import Database, database_url
from quietleaf.work.tools import Tools
from tests.helpers import ROOT, HelperMissing, find_recordings
from tests.joins import RATE_HZ, Joined, join_of
from tests.readings import AT
from tests.stumbles import Kind, Reading, reading_of, shared_readings, stumble

OUT = ROOT / "docs" / "pictures"
PICTURES = (
    ("example", 4, Kind()),
    ("example", 9, Kind(paper=True, leak_db=-30.0)),
    ("lj-whole", 6, Kind()),
    ("lj-whole", 20, Kind(paper=True)),
    ("lj-whole", 31, Kind(leak_db=-30.0)),
    ("lj-whole", 49, Kind(tempo=0.98, stumble_s=0.7)),
    ("frA-whole", 10, Kind(waits_s=3.0)),
    ("frA-whole", 24, Kind(tempo=1.02)),
    ("frB", 5, Kind(waits_s=-0.5)),
    ("frB", 12, Kind(waits_s=-0.5, leak_db=-30.0)),
)
WIDTH = 720
STRIP = 150
GAP = 14
TOP_HZ = 8_000.0
UNDER_DB = 75.0
AROUND_S = 1.2
_WINDOW = 1_024


def main() -> None:
    """Draw all pictures whose recordings are here."""
    readings = {one.name: one for one in _readings()}
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder)
        with Database(database_url(data)) as database:
            tools = Tools(data=data, database=database, clock=lambda: AT)
            for number, (name, which, kind) in enumerate(PICTURES, start=1):
                if name not in readings:
                    print(f"no recording of {name}")
                    continue
                made = stumble(readings[name], which, kind, number)
                joined = join_of(data, made, tools, f"p{number}")
                path = OUT / f"join-{number:02d}.png"
                path.write_bytes(_png(_picture(joined)))
                pause = f"{joined.pause_s:.2f} s of {joined.wanted_s:.2f} s wanted"
                print(path.name, name, which, kind, pause)


def _readings() -> list[Reading]:
    with files("quietleaf.example").joinpath("sample.flac").open("rb") as file:
        sample, rate = soundfile.read(file)
    found = reading_of("example", "ours", sample, int(rate))
    assert found is not None
    try:
        shared = list(shared_readings(find_recordings()))
    except HelperMissing:
        shared = []
    return [found, *(one for one in shared if "Public domain" in one.licence)]


def _picture(joined: Joined) -> NDArray[np.uint8]:
    made = joined.stumble
    rate = made.reading.rate_hz
    around = round(AROUND_S * RATE_HZ)
    first = max(0, made.old.stop - rate)
    whole = made.take[first : made.new.start + rate]
    take = soxr.resample(whole, rate, RATE_HZ, "HQ")
    places = [round((at - first) * RATE_HZ / rate) for at in (joined.back, joined.resume)]
    untouched = soxr.resample(made.untouched, rate, RATE_HZ, "HQ")
    # The untouched reading around the same place of its pause.
    there = round(joined.back * RATE_HZ / rate)
    speech = made.reading.speech_dbov
    strips = [
        _strip(take, places, speech),
        _strip(joined.sound[joined.at - around : joined.at + around], [around], speech),
        _strip(untouched[there - around : there + around], [], speech),
    ]
    gap = np.full((GAP, WIDTH), 255, np.uint8)
    return np.vstack([part for strip in strips for part in (strip, gap)])


def _strip(sound: NDArray[np.float64], places: list[int], speech_dbov: float) -> NDArray[np.uint8]:
    """Draw a spectrogram, dark where it is loud, with marks over it and ticks under it."""
    columns = np.linspace(0, sound.size, WIDTH, endpoint=False).astype(np.int64)
    padded = np.pad(sound, _WINDOW // 2)
    frames = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[columns]
    shape = np.hanning(_WINDOW)
    power = np.abs(np.fft.rfft(frames * shape, axis=1)) ** 2 / np.sum(shape) ** 2 * 2.0
    rows = np.linspace(TOP_HZ, 0.0, STRIP) * _WINDOW / RATE_HZ
    level = 10.0 * np.log10(np.maximum(power[:, np.round(rows).astype(np.int64)].T, 1e-20))
    dark = np.clip((level - speech_dbov + UNDER_DB) / UNDER_DB, 0.0, 1.0)
    ink = (255.0 * (1.0 - dark)).astype(np.uint8) & 0xF0
    above = np.full((8, WIDTH), 255, np.uint8)
    for place in places:
        at = int(place * WIDTH / sound.size)
        for row in range(8):
            above[row, max(0, at - (7 - row) // 2) : at + (7 - row) // 2 + 1] = 0
    below = np.full((5, WIDTH), 255, np.uint8)
    below[0] = 0
    for tick in range(0, sound.size, RATE_HZ // 2):
        below[:, int(tick * WIDTH / sound.size)] = 0
    return np.vstack([above, ink, below])


def _png(picture: NDArray[np.uint8]) -> bytes:
    """Write a picture of 16 greys as PNG (ISO/IEC 15948): four bits a pixel."""
    greys = picture >> 4
    packed = (greys[:, 0::2] << 4) | greys[:, 1::2]
    lines = b"".join(b"\0" + line.tobytes() for line in packed)
    height, width = picture.shape
    header = struct.pack(">IIBBBBB", width, height, 4, 0, 0, 0, 0)

    def chunk(kind: bytes, body: bytes) -> bytes:
        check = zlib.crc32(kind + body)
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", check)

    parts = (chunk(b"IHDR", header), chunk(b"IDAT", zlib.compress(lines, 9)), chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


if __name__ == "__main__":
    main()
