"""Sentence starts as the page finds them, held against the station's finder on the same sound."""

from __future__ import annotations

import json
import re
import subprocess
from dataclasses import asdict
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.listening.sentence_model import LIKELY
from quietleaf.listening.sentence_numbers import NUMBERS
from quietleaf.listening.sentence_starts import SentenceStart, sentence_starts
from tests.unit.scripts.test_live import sound_of
from tests.voices import Made

HERE = Path(__file__).parent
SCRIPTS = HERE.parents[2] / "src/quietleaf/web/static/scripts"
PLACES_S = 0.01
LIKELIHOODS = 0.02
NAMES = {
    "place": "place",
    "pauseStart": "pause_start",
    "pauseStop": "pause_stop",
    "likelihood": "likelihood",
}


def starts_live(
    node: Path, folder: Path, sounds: list[tuple[NDArray[np.float32], int]]
) -> list[tuple[SentenceStart, ...]]:
    """Let the page's script hear sounds as a microphone would bring them."""
    lines = []
    for index, (samples, rate_hz) in enumerate(sounds):
        path = folder / f"{index}.f32"
        samples.astype("<f4").tofile(path)
        lines.append(f"{path}\t{rate_hz}")
    done = subprocess.run(
        [node, HERE / "sentences_on_files.mjs"],
        input="\n".join(lines),
        capture_output=True,
        text=True,
        check=True,
    )
    return [
        tuple(
            SentenceStart(**{NAMES[key]: value for key, value in one.items()})
            for one in json.loads(line)
        )
        for line in done.stdout.splitlines()
    ]


def assert_alike(
    node: Path, folder: Path, sounds: list[tuple[NDArray[np.float32], int]]
) -> list[int]:
    """Hold the page's starts against the station's; give how many there are of each sound."""
    counts = []
    told = starts_live(node, folder, sounds)
    for (samples, rate_hz), live in zip(sounds, told, strict=True):
        station = sentence_starts(samples.astype(np.float64), rate_hz)
        counts.append(len(station))
        assert len(live) == len(station)
        for mine, theirs in zip(live, station, strict=True):
            near = {key: abs(value - asdict(theirs)[key]) for key, value in asdict(mine).items()}
            assert near.pop("likelihood") <= LIKELIHOODS, (mine, theirs)
            assert max(near.values()) <= PLACES_S * rate_hz, (mine, theirs)
    return counts


def made(seed: int, room_dbov: float, rate_hz: int) -> NDArray[np.float32]:
    """Make sentences with pauses of many lengths, breaths and turned pages between them."""
    draw = np.random.default_rng(seed)
    voice = Made(seed=seed, room_dbov=room_dbov)
    voice.pause(0.7)
    for _ in range(14):
        voice.speech(0.4 + 2.0 * draw.random(), -24.0 + 3.0 * draw.normal())
        voice.pause(0.05 + 0.6 * draw.random())
        if draw.random() < 0.4:
            voice.noise(0.2 + 0.3 * draw.random(), -48.0)
            voice.pause(0.03 + 0.4 * draw.random())
        if draw.random() < 0.15:
            voice.pause(2.5)
    step = 48_000 // rate_hz
    return voice.samples()[::step].astype(np.float32)


@pytest.mark.parametrize("rate_hz", [16_000, 48_000])
def test_page_and_station_find_the_same_in_made_voices(
    node: Path, tmp_path: Path, rate_hz: int
) -> None:
    levels = (-75.0, -60.0, -45.0)
    sounds = [(made(seed, level, rate_hz), rate_hz) for seed, level in enumerate(levels)]
    assert min(assert_alike(node, tmp_path, sounds)) > 10


def test_page_and_station_find_the_same_in_the_example(node: Path, tmp_path: Path) -> None:
    with files("quietleaf.example").joinpath("sample.flac").open("rb") as file:
        samples, rate_hz = soundfile.read(file, dtype="float32")
    (count,) = assert_alike(node, tmp_path, [(samples, rate_hz)])
    assert count > 20


def test_page_and_station_find_the_same_in_real_readings(
    recordings: Path, node: Path, tmp_path: Path
) -> None:
    names = ("lj001_concat", "ls2033_concat", "ls2414_concat", "fr006")
    sounds = [sound_of(recordings / "continuous" / f"{name}.flac") for name in names]
    short = [(samples[: 90 * rate].astype(np.float32), rate) for samples, rate in sounds]
    assert min(assert_alike(node, tmp_path, short)) > 20


def test_the_numbers_of_the_model_are_the_same(node: Path) -> None:
    script = f"""
        import {{ LIKELY }} from "{SCRIPTS}/core/sentence_model.js"
        import {{ NUMBERS }} from "{SCRIPTS}/core/sentence_numbers.js"
        console.log(JSON.stringify([LIKELY, NUMBERS]))
    """
    done = subprocess.run(
        [node, "--input-type=module", "--eval", script], capture_output=True, text=True, check=True
    )
    likely, numbers = json.loads(done.stdout)
    assert likely == LIKELY
    names = {re.sub("[A-Z]", lambda found: f"_{found[0].lower()}", name): name for name in numbers}
    assert {name: numbers[theirs] for name, theirs in names.items()} == asdict(NUMBERS)
