"""Joins that anybody would hear, made of a reading on purpose: one thing wrong with each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from quietleaf.listening.structure import Structure, frame_starts, structure_of_sound

Kind = Literal[
    "hard cut", "clipped consonant", "doubled breath", "floor step", "pause short", "pause long"
]
KINDS: tuple[Kind, ...] = (
    "hard cut",
    "clipped consonant",
    "doubled breath",
    "floor step",
    "pause short",
    "pause long",
)
FLOOR_UNDER_DB = 44.0
CONTEXT_S = 13.0
FADE_S = 0.010


@dataclass(frozen=True, kw_only=True, eq=False)
class Reading:
    """A reading in a booth that is quiet and not gated, and the pauses in it.

    Attributes
    ----------
    pauses : list of (int, int)
        Between runs of speech, 0.25 s and longer, in samples.
    """

    samples: NDArray[np.float64]
    sample_rate_hz: int
    structure: Structure
    pauses: list[tuple[int, int]]


@dataclass(frozen=True, kw_only=True)
class BadJoin:
    """A sound with one join in it."""

    kind: Kind
    samples: NDArray[np.float64]
    splice: int
    fade_samples: int


def in_a_booth(samples: NDArray[np.float64], sample_rate_hz: int, seed: int) -> Reading | None:
    """Put the sound of a booth under a recording, 44 dB under the voice; None without speech."""
    heard = structure_of_sound(samples, sample_rate_hz)
    if heard is None:
        return None
    samples = samples + _booth(samples.size, sample_rate_hz, heard.speech_dbov, seed)
    structure = structure_of_sound(samples, sample_rate_hz)
    if structure is None:
        return None
    starts = frame_starts(structure.level.size, sample_rate_hz)
    runs = structure.runs
    pauses = [
        (int(starts[stop]), int(starts[start]))
        for stop, start in zip(runs[:-1, 1], runs[1:, 0], strict=True)
        if start - stop >= 50
    ]
    return Reading(
        samples=samples, sample_rate_hz=sample_rate_hz, structure=structure, pauses=pauses
    )


def around(reading: Reading, pause: tuple[int, int]) -> tuple[NDArray[np.float64], int]:
    """Give a pause in its context, and where its middle lies in that."""
    middle = sum(pause) // 2
    reach = round(CONTEXT_S * reading.sample_rate_hz)
    first = max(0, middle - reach)
    return reading.samples[first : middle + reach], middle - first


def bad_join(reading: Reading, pause: tuple[int, int], kind: Kind, seed: int) -> BadJoin:
    """Make one at a pause."""
    draw = np.random.default_rng(seed)
    rate = reading.sample_rate_hz
    part, middle = around(reading, pause)
    end, onset = (at - sum(pause) // 2 + middle for at in pause)
    fade = round(FADE_S * rate)

    def ms(low: float, high: float) -> int:
        return round(draw.uniform(low, high) * rate / 1000)

    def joined(left: NDArray[np.float64], right: NDArray[np.float64], length: int) -> BadJoin:
        return BadJoin(
            kind=kind,
            samples=_joined(left, right, length),
            splice=left.size - length // 2,
            fade_samples=length,
        )

    match kind:
        case "hard cut":
            return joined(part[: end - ms(20, 60)], part[onset + ms(20, 60) :], 0)
        case "clipped consonant":
            return joined(part[:middle], part[onset + ms(15, 30) :], fade)
        case "pause short":
            return joined(part[: end + ms(15, 45)], part[onset - ms(15, 45) :], 0)
        case "pause long":
            room = _booth(ms(2_200, 4_000), rate, reading.structure.speech_dbov, seed)
            more = _joined(part[:middle], room, fade)
            return joined(more, part[middle:], fade)
        case "doubled breath":
            breath = _breath(rate, reading.structure.speech_dbov, draw)
            gap = _booth(ms(60, 250), rate, reading.structure.speech_dbov, seed)
            breathed = np.concatenate([gap, breath[: breath.size] + gap_of(gap, breath.size), gap])
            left = _joined(part[: end + ms(60, 120)], breathed, fade)
            right = _joined(breathed, part[onset - ms(60, 120) :], fade)
            return joined(left, right, fade)
        case "floor step":
            more = _booth(part.size, rate, reading.structure.speech_dbov, seed)
            # Twice the power on one side: 3 dB.
            louder = part + more
            if draw.random() < 0.5:
                return joined(part[: middle + fade // 2], louder[middle - fade // 2 :], fade)
            return joined(louder[: middle + fade // 2], part[middle - fade // 2 :], fade)


def gap_of(room: NDArray[np.float64], samples: int) -> NDArray[np.float64]:
    """Give so much of a room, over and over."""
    return np.resize(room, samples)


def _joined(
    left: NDArray[np.float64], right: NDArray[np.float64], fade: int
) -> NDArray[np.float64]:
    if fade == 0:
        return np.concatenate([left, right])
    angle = (np.arange(fade) + 0.5) / fade * (np.pi / 2)
    both = left[-fade:] * np.cos(angle) + right[:fade] * np.sin(angle)
    return np.concatenate([left[:-fade], both, right[fade:]])


def _booth(samples: int, sample_rate_hz: int, speech_dbov: float, seed: int) -> NDArray[np.float64]:
    band = butter(1, [80.0, 0.35 * sample_rate_hz], "bandpass", fs=sample_rate_hz, output="sos")
    room = sosfilt(band, np.random.default_rng(seed + 1).normal(size=samples + 1_000))[1_000:]
    level = 10.0 ** ((speech_dbov - FLOOR_UNDER_DB) / 20.0)
    booth: NDArray[np.float64] = room * level / np.sqrt(np.mean(room**2))
    return booth


def _breath(
    sample_rate_hz: int, speech_dbov: float, draw: np.random.Generator
) -> NDArray[np.float64]:
    count = round(draw.uniform(0.16, 0.35) * sample_rate_hz)
    high = min(4_000.0, 0.4 * sample_rate_hz)
    band = butter(2, [900.0, high], "bandpass", fs=sample_rate_hz, output="sos")
    sound = sosfilt(band, draw.normal(size=count)) * np.hanning(count) ** 0.5
    level = 10.0 ** ((speech_dbov - draw.uniform(31.0, 36.0)) / 20.0)
    breath: NDArray[np.float64] = sound * level / np.sqrt(np.mean(sound**2))
    return breath
