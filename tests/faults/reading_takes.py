"""Three programs that are not ours open a take."""

from __future__ import annotations

import json
import subprocess
import wave
from pathlib import Path

import soundfile


def lengths(path: Path, ffprobe: Path) -> dict[str, int]:
    """Count the samples that libsndfile, Python's own reader and ffprobe find."""
    with soundfile.SoundFile(path) as file:
        by_libsndfile = len(file.read(dtype="int32"))
        assert by_libsndfile == file.frames
    with wave.open(str(path)) as file:
        by_wave = len(file.readframes(file.getnframes())) // 3
        assert by_wave == file.getnframes()
    return {"libsndfile": by_libsndfile, "wave": by_wave, "ffprobe": by_ffprobe(path, ffprobe)}


def by_ffprobe(path: Path, ffprobe: Path) -> int:
    """Count the samples of all packets that ffprobe reads."""
    done = subprocess.run(
        [ffprobe, "-v", "error", "-of", "json", "-show_entries", "packet=duration", path],
        check=True,
        capture_output=True,
    )
    packets = json.loads(done.stdout)["packets"]
    return sum(int(packet["duration"]) for packet in packets)


def by_ffprobe_duration(path: Path, ffprobe: Path) -> int:
    """Ask ffprobe for a file's length in samples without reading it to its end."""
    done = subprocess.run(
        [ffprobe, "-v", "error", "-of", "json", "-show_entries", "stream=duration_ts", path],
        check=True,
        capture_output=True,
    )
    return int(json.loads(done.stdout)["streams"][0]["duration_ts"])
