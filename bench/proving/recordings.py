"""Pieces from the shared recordings, as the tables beside them tell."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from bench.proving.labels import KIND_OF_SORT
from bench.proving.pieces import (
    Bed,
    Clip,
    Noise,
    Pieces,
    Rendition,
    Repeat,
    Room,
    grouped,
    halved,
    phrases_of,
)

_BED_KINDS = {
    "fridge_hum_50hz": "hum",
    "traffic": "traffic",
    "server_fans": "fan",
    "dishes": "dishes",
    "vinyl_hiss": "hiss",
}
_WHOLE_TAKES = ("continuous/fr006.flac",)


def load_pieces(folder: Path) -> Pieces:
    """Load the shared recordings."""
    about = json.loads((folder / "session_inputs.json").read_text())
    catalogue = json.loads((folder / "catalogue.json").read_text())
    clips = {
        voice: tuple(clip for entry in entries for clip in phrases_of(_clip(folder, voice, entry)))
        for voice, entries in about["speech"].items()
    }
    noises = [
        _noise(folder, sort, entry)
        for sort, entries in about["events"].items()
        for entry in entries
    ]
    return Pieces(
        clips=clips,
        noises=grouped(halved(noises), lambda noise: noise.kind),
        beds=grouped((_bed(folder, entry) for entry in about["noise"]), lambda bed: bed.kind),
        rooms=tuple(_room(folder, entry) for entry in about["rir"]),
        repeats=grouped(
            (_repeat(folder, entry) for entry in catalogue if entry["kind"] == "repeats"),
            lambda repeat: repeat.voice,
        ),
        takes=tuple(
            _clip(folder, entry.get("voice_id") or "fr006", entry)
            for entry in about["continuous"]
            if entry["file"] in _WHOLE_TAKES
        ),
        disfluent=tuple(_clip(folder, entry["voice_id"], entry) for entry in about["disfluent"]),
        origin="shared recordings",
    )


def _clip(folder: Path, voice: str, entry: dict[str, Any]) -> Clip:
    samples, rate = _read(folder / entry["file"])
    return Clip(
        voice=voice,
        name=Path(entry["file"]).stem,
        samples=samples,
        sample_rate_hz=rate,
        start_s=float(entry["start"]),
        stop_s=float(entry["end"]),
        text=entry.get("transcript") or None,
        words=tuple((str(word), float(a), float(b)) for word, a, b in entry.get("words") or ()),
        stops_s=tuple((float(a), float(b)) for _, a, b in entry.get("stops") or () if a >= 0.0),
    )


def _noise(folder: Path, sort: str, entry: dict[str, Any]) -> Noise:
    samples, rate = _read(folder / entry["file"])
    first, stop = (round(edge * rate) for edge in entry["active"])
    return Noise(
        kind=KIND_OF_SORT[sort],
        sort=sort,
        name=Path(entry["file"]).stem,
        samples=samples[first:stop],
        sample_rate_hz=rate,
    )


def _bed(folder: Path, entry: dict[str, Any]) -> Bed:
    samples, rate = _read(folder / entry["file"])
    name = Path(entry["file"]).stem
    return Bed(
        kind=_BED_KINDS.get(name, "roomtone"), name=name, samples=samples, sample_rate_hz=rate
    )


def _room(folder: Path, entry: dict[str, Any]) -> Room:
    samples, rate = _read(folder / entry["file"])
    first = max(0, int(np.argmax(np.abs(samples))) - rate // 1000)
    return Room(name=Path(entry["file"]).stem, samples=samples[first:], sample_rate_hz=rate)


def _repeat(folder: Path, entry: dict[str, Any]) -> Repeat:
    samples, rate = _read(folder / entry["file"])
    return Repeat(
        voice=entry["voice_id"],
        key=Path(entry["file"]).stem,
        renditions=tuple(_rendition(samples, rate, said) for said in entry["renditions"]),
    )


def _rendition(samples: NDArray[np.float64], rate: int, said: dict[str, Any]) -> Rendition:
    start_s = float(said["start"])
    return Rendition(
        name=said["id"],
        samples=samples[round(start_s * rate) : round(said["end"] * rate)],
        sample_rate_hz=rate,
        words=tuple((str(word), a - start_s, b - start_s) for word, a, b in said["words"]),
    )


def _read(path: Path) -> tuple[NDArray[np.float64], int]:
    samples, rate = soundfile.read(path, always_2d=True)
    return samples.mean(axis=1), int(rate)
