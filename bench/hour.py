"""One canonical hour: sentences with pauses as readers make them, over a quiet room.

The sentences are those of the shared recordings where there are any, else made by formula; what
is drawn comes from seed 7.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from tests.helpers import HelperMissing, find_recordings
from tests.voices import Made

RATE_HZ = 48_000
SEED = 7
SENTENCE_DBFS = -26.0
ROOM_DBFS = -63.0
DC = 0.0008
CLIPPED_SAMPLES = 40
CLIPPED_VALUE = 0.9999
_VOICES = ("lj", "p225", "p226", "ls2033", "arctic_aew", "arctic_axb")
_MADE_SENTENCES = 24
_SUBTYPE = "PCM_24"


def make_hour(path: Path, length_s: float = 3600.0, times: int = 1) -> str:
    """Write the hour, or its beginning, some times over; give what its sentences are.

    Pauses: 0.25 to 0.6 s (70 in 100), 0.6 to 1.6 s (26), 2.5 to 6 s (4). In the middle 40 samples
    are cut off near full scale.
    """
    sentences, origin = _sentences()
    length = round(length_s * RATE_HZ)
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, _SUBTYPE, format="RF64") as file:
        for _ in range(times):
            _write_once(file, sentences, length)
    return origin


def _write_once(
    file: soundfile.SoundFile, sentences: list[NDArray[np.float64]], length: int
) -> None:
    draw = np.random.default_rng(SEED)
    middle = length // 2
    written = 0
    for sentence in cycle(sentences):
        pause = np.zeros(round(_pause_s(draw) * RATE_HZ))
        part = np.concatenate([sentence, pause])[: length - written]
        part += 10.0 ** (ROOM_DBFS / 20.0) * draw.normal(size=part.size) + DC
        if written <= middle < written + part.size:
            part[middle - written : middle - written + CLIPPED_SAMPLES] = CLIPPED_VALUE
        file.write(part)
        written += part.size
        if written == length:
            return


def _pause_s(draw: np.random.Generator) -> float:
    kind = draw.random()
    if kind < 0.70:
        return float(draw.uniform(0.25, 0.6))
    if kind < 0.96:
        return float(draw.uniform(0.6, 1.6))
    return float(draw.uniform(2.5, 6.0))


def _sentences() -> tuple[list[NDArray[np.float64]], str]:
    try:
        folder = find_recordings()
    except HelperMissing:
        return [_at_level(sentence) for sentence in _made()], "sentences made by formula"
    return [_at_level(sentence) for sentence in _recorded(folder)], "recorded sentences"


def _recorded(folder: Path) -> Iterator[NDArray[np.float64]]:
    for voice in _VOICES:
        for path in sorted((folder / "speech" / voice).glob("*.flac")):
            samples, rate = soundfile.read(path, always_2d=True)
            yield soxr.resample(samples[:, 0], rate, RATE_HZ)


def _made() -> Iterator[NDArray[np.float64]]:
    voice = Made(seed=SEED, room_dbov=-120.0)
    places = [voice.speech(3.0 + 0.25 * index) for index in range(_MADE_SENTENCES)]
    samples = voice.samples()
    for start_s, stop_s in places:
        yield samples[round(start_s * RATE_HZ) : round(stop_s * RATE_HZ)].copy()


def _at_level(sentence: NDArray[np.float64]) -> NDArray[np.float64]:
    scaled: NDArray[np.float64] = sentence * (
        10.0 ** (SENTENCE_DBFS / 20.0) / np.sqrt(np.mean(sentence**2))
    )
    return scaled
