"""A voice made by formula, so that tests know where every syllable, breath and pause lies.

Voiced syllables are a buzz of harmonics under three resonances; consonants and breaths are
filtered noise; the room is quiet noise. Nothing of it is recorded.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

RATE_HZ = 48_000
ROOM_DBOV = -66.0
SPEECH_DBOV = -24.0
_HISS = butter(2, [4_000.0, 9_000.0], "bandpass", fs=RATE_HZ, output="sos")


class Made:
    """A sound in the making, 48 kHz mono: what was laid is known by its place in seconds."""

    def __init__(self, *, seed: int = 1, room_dbov: float = ROOM_DBOV) -> None:
        self.room_dbov = room_dbov
        self.seed = seed
        self.length_s = 0.0
        self._draw = np.random.default_rng(seed)
        self._parts: list[NDArray[np.float64]] = []

    def pause(self, length_s: float) -> None:
        """Lay room tone alone."""
        self._lay(np.zeros(round(length_s * RATE_HZ)))

    def speech(self, length_s: float, level_dbov: float = SPEECH_DBOV) -> tuple[float, float]:
        """Lay a sentence of syllables; give where it begins and ends, in seconds."""
        parts: list[NDArray[np.float64]] = []
        while sum(part.size for part in parts) < length_s * RATE_HZ:
            parts.append(self._syllable(0.14 + 0.1 * self._draw.random()))
        sound = np.concatenate(parts)[: round(length_s * RATE_HZ)]
        edge = round(0.02 * RATE_HZ)
        sound[-edge:] *= np.linspace(1.0, 0.0, edge)
        return self._lay(sound * 10 ** (level_dbov / 20) / np.sqrt(np.mean(sound**2)))

    def noise(
        self, length_s: float, level_dbov: float, low_hz: float = 900.0, high_hz: float = 4_000.0
    ) -> tuple[float, float]:
        """Lay a breath (the default band) or a rustle, swelling and fading."""
        count = round(length_s * RATE_HZ)
        band = butter(2, [low_hz, high_hz], "bandpass", fs=RATE_HZ, output="sos")
        sound = sosfilt(band, self._draw.normal(size=count)) * np.hanning(count) ** 0.5
        return self._lay(sound * 10 ** (level_dbov / 20) / np.sqrt(np.mean(sound**2)))

    def samples(self) -> NDArray[np.float64]:
        """Give all that was laid, over the sound of the room."""
        laid = np.concatenate(self._parts)
        band = butter(1, [80.0, 6_000.0], "bandpass", fs=RATE_HZ, output="sos")
        room = sosfilt(band, np.random.default_rng(self.seed + 1).normal(size=laid.size))
        room *= 10 ** (self.room_dbov / 20) / np.sqrt(np.mean(room**2))
        both: NDArray[np.float64] = laid + room
        return both

    def _lay(self, sound: NDArray[np.float64]) -> tuple[float, float]:
        start = self.length_s
        self._parts.append(sound)
        self.length_s += sound.size / RATE_HZ
        return start, self.length_s

    def _syllable(self, length_s: float) -> NDArray[np.float64]:
        count = round(length_s * RATE_HZ)
        pitch_hz = 105.0 * (1.0 + 0.15 * self._draw.normal())
        phase = 2 * np.pi * np.cumsum(np.linspace(pitch_hz, 0.92 * pitch_hz, count)) / RATE_HZ
        centres_hz = (350 + 400 * self._draw.random(), 900 + 900 * self._draw.random(), 2_600.0)
        voiced = np.zeros(count)
        for harmonic in range(1, 30):
            away = [(harmonic * pitch_hz - centre) / (0.2 * centre) for centre in centres_hz]
            strength = sum(1.0 / (1.0 + one * one) for one in away)
            # Spread phases: in step they would make a click of each period.
            voiced += strength * np.cos(harmonic * phase + np.pi * harmonic**2 / 30)
        onset = round(0.012 * RATE_HZ)
        voiced[:onset] *= np.linspace(0.0, 1.0, onset)
        fall = round(0.03 * RATE_HZ)
        voiced[-fall:] *= np.linspace(1.0, 0.0, fall)
        if self._draw.random() < 0.4:
            consonant = sosfilt(_HISS, self._draw.normal(size=round(0.05 * RATE_HZ)))
            voiced = np.concatenate([voiced, 4.0 * consonant])
        return voiced


class Held:
    """Samples in memory as a sound that can be read."""

    def __init__(self, samples: NDArray[np.float64]) -> None:
        self.samples = samples
        self.reads: list[tuple[int, int]] = []
        self.info = HeldFacts(frames=samples.size)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a range, shape (n, 1)."""
        assert 0 <= start <= stop <= self.samples.size
        self.reads.append((start, stop))
        return self.samples[start:stop, np.newaxis]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldFacts:
    """48 kHz mono."""

    frames: int
    sample_rate_hz: int = RATE_HZ
    channels: int = 1


def reading(seed: int = 1, sentences: int = 8, room_dbov: float = ROOM_DBOV) -> Made:
    """Make an ordinary short reading: room tone, sentences with pauses, room tone."""
    made = Made(seed=seed, room_dbov=room_dbov)
    draw = np.random.default_rng(seed + 100)
    made.pause(0.9)
    for _ in range(sentences):
        made.speech(1.5 + draw.random())
        made.pause(0.5 + 0.4 * draw.random())
    made.pause(1.2)
    return made
