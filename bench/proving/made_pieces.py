"""Pieces without shared recordings: sentences and sounds by formula, from fixed seeds.

Enough to run everything; figures reached on these say nothing of real readings.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

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
)
from bench.proving.shaping import resampled
from tests.voices import RATE_HZ as VOICE_HZ
from tests.voices import Made

RATE_HZ = 16_000
_CLIPS = 16
_HIGHER = 1.2
_SYLLABLE_S = 0.2
_EDGE_S = 0.06
_BANDS_HZ = {
    "cough": (250.0, 3_500.0),
    "rustle": (1_500.0, 7_500.0),
    "noise": (80.0, 1_200.0),
    "breath": (800.0, 5_000.0),
    "breath-natural": (900.0, 4_000.0),
    "click": (1_500.0, 7_000.0),
}
_LENGTHS_S = {
    "cough": 0.4,
    "rustle": 0.7,
    "noise": 0.5,
    "breath": 0.9,
    "breath-natural": 0.4,
    "click": 0.012,
}
_OF_EACH_KIND = 4


def made_pieces() -> Pieces:
    """Make two voices, one more that repeats itself, and a few sounds of each kind."""
    draw = np.random.default_rng(11)
    noises = [
        Noise(
            kind=kind,
            sort=kind,
            name=f"{kind}-{index}",
            samples=_burst(draw, _LENGTHS_S[kind] * draw.uniform(0.8, 1.3), band_hz),
            sample_rate_hz=RATE_HZ,
        )
        for kind, band_hz in _BANDS_HZ.items()
        for index in range(_OF_EACH_KIND)
    ]
    decay = np.exp(-np.arange(round(0.5 * RATE_HZ)) / (0.09 * RATE_HZ))
    response = 0.25 * decay * draw.normal(size=decay.size)
    response[0] = 1.0
    clips = _clips("made-1")
    fan = _filtered(draw, 4 * RATE_HZ, (60.0, 2_000.0))
    return Pieces(
        clips={"made-1": clips, "made-2": tuple(_higher(clip, "made-2") for clip in clips)},
        noises=grouped(halved(noises), lambda noise: noise.kind),
        beds={"fan": (Bed(kind="fan", name="fan-0", samples=fan, sample_rate_hz=RATE_HZ),)},
        rooms=(Room(name="room-0", samples=response, sample_rate_hz=RATE_HZ),),
        repeats={"made-3": _repeats("made-3")},
        takes=(),
        disfluent=(),
        origin="made by formula",
    )


def _clips(voice: str) -> tuple[Clip, ...]:
    lengths_s = 2.4 + 2.5 * np.random.default_rng(40).random(_CLIPS)
    return tuple(
        _clip(voice, f"{voice}-{index}", 100 + index, float(length_s))
        for index, length_s in enumerate(lengths_s)
    )


def _higher(clip: Clip, voice: str) -> Clip:
    """Give the clip to another voice, quicker and higher."""
    return replace(
        clip,
        voice=voice,
        name=clip.name.replace(clip.voice, voice),
        samples=resampled(clip.samples, RATE_HZ * _HIGHER, RATE_HZ),
        start_s=clip.start_s / _HIGHER,
        stop_s=clip.stop_s / _HIGHER,
        words=tuple((word, a / _HIGHER, b / _HIGHER) for word, a, b in clip.words),
    )


def _clip(voice: str, name: str, seed: int, length_s: float) -> Clip:
    made = Made(seed=seed, room_dbov=-90.0)
    made.pause(0.1)
    start_s, stop_s = made.speech(length_s)
    made.pause(0.1)
    count = round(length_s / _SYLLABLE_S)
    edges = np.linspace(start_s, stop_s, count + 1)
    words = tuple(
        (f"la{index}", float(edges[index]), float(edges[index + 1])) for index in range(count)
    )
    return Clip(
        voice=voice,
        name=name,
        samples=resampled(made.samples(), VOICE_HZ, RATE_HZ),
        sample_rate_hz=RATE_HZ,
        start_s=start_s,
        stop_s=stop_s,
        text=" ".join(word for word, _, _ in words),
        words=words,
    )


def _repeats(voice: str) -> tuple[Repeat, ...]:
    """Make words whose renditions differ by level, length and a little noise."""
    repeats = []
    for index in range(10):
        base = _clip(voice, "", 900 + index, 0.55)
        first = round((base.start_s - _EDGE_S) * RATE_HZ)
        sound = base.samples[first : round((base.stop_s + _EDGE_S) * RATE_HZ)]
        renditions = []
        for variant in range(8):
            draw = np.random.default_rng([index, variant])
            tempo = draw.uniform(0.93, 1.07)
            stretched = resampled(sound, RATE_HZ * tempo, RATE_HZ)
            said = stretched + 1e-4 * draw.normal(size=stretched.size)
            edge_s = _EDGE_S / tempo
            renditions.append(
                Rendition(
                    name=f"{index}-{variant}",
                    samples=said,
                    sample_rate_hz=RATE_HZ,
                    words=((f"lo{index}", edge_s, said.size / RATE_HZ - edge_s),),
                )
            )
        repeats.append(Repeat(voice=voice, key=f"lo{index}", renditions=tuple(renditions)))
    return tuple(repeats)


def _burst(
    draw: np.random.Generator, length_s: float, band_hz: tuple[float, float]
) -> NDArray[np.float64]:
    count = round(length_s * RATE_HZ)
    swell = np.hanning(count) * (1.0 + 0.5 * np.sin(np.arange(count) * draw.uniform(5, 40) / count))
    return 0.3 * swell * _filtered(draw, count, band_hz)


def _filtered(
    draw: np.random.Generator, count: int, band_hz: tuple[float, float]
) -> NDArray[np.float64]:
    band = butter(2, band_hz, "bandpass", fs=RATE_HZ, output="sos")
    sound: NDArray[np.float64] = sosfilt(band, draw.normal(size=count))
    sound /= np.sqrt(np.mean(sound**2))
    return sound
