"""Which phones the public model of English hears in a recording: what the small net learns from.

Its Gaussians are read from the aligner's package of the tests and asked frame by frame, without
words and without its search: how likely each phone is, softened.
"""

from __future__ import annotations

import importlib.util
import struct
from dataclasses import dataclass
from math import gcd
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

RATE_HZ = 16_000
FRAME_S = 0.01
MIDDLE_S = 0.0128
"""The middle of the first frame."""
SOFTENING = 0.2
"""Likelihoods of the Gaussians to this power: they take frames for independent, which they are
not. Of 0.2 and 0.35 the first told second renditions apart better."""
SILENT = ("SIL", "+NSN+", "+SPN+")
_WINDOW = 410
_HOP = 160
_TRANSFORM = 512
_FILTERS = 25
_FILTER_HZ = (130.0, 6800.0)
_CEPSTRA = 13
_LIFTER = 22
_EMPHASIS = 0.97
_CEPSTRAL_FULL_SCALE = 32_768.0
_WEIGHT_STEP = 1024.0 * float(np.log(1.0001))
_BLOCK = 64
_MAGIC = 0x11223344


@dataclass(frozen=True, slots=True, kw_only=True)
class Teacher:
    """Gaussians of 42 phones in three streams, shared by the three states of each phone.

    Attributes
    ----------
    factors : tuple of ndarray, shape (26, 42 * 128), float32
        Of a stream's 13 numbers and their squares.
    constants : tuple of ndarray, shape (42 * 128,), float32
    weights : tuple of ndarray, shape (42, 128, 3), float32
    names : tuple of str
    """

    factors: tuple[NDArray[np.float32], ...]
    constants: tuple[NDArray[np.float32], ...]
    weights: tuple[NDArray[np.float32], ...]
    names: tuple[str, ...]


def load_teacher() -> Teacher:
    """Read the model that lies in the aligner's package."""
    found = importlib.util.find_spec("pocketsphinx")
    assert found is not None, "the aligner is not installed"
    assert found.origin is not None
    folder = Path(found.origin).parent / "model" / "en-us" / "en-us"
    means, variances = _gaussians(folder / "means"), _gaussians(folder / "variances")
    phones, streams, densities, _ = means.shape
    names, senones = _definition(folder / "mdef")
    held = (folder / "sendump").read_bytes()
    raw = np.frombuffer(held[-streams * densities * senones :], dtype=np.uint8)
    steps = raw.reshape(streams, densities, senones)[:, :, : 3 * phones].astype(np.float64)
    factors, constants, weights = [], [], []
    for stream in range(streams):
        mean = means[:, stream].astype(np.float64)
        variance = np.maximum(variances[:, stream], 1e-4).astype(np.float64)
        sharp = 1.0 / variance
        width = mean.shape[2]
        factors.append(
            np.concatenate(
                [(mean * sharp).reshape(-1, width).T, (-0.5 * sharp).reshape(-1, width).T]
            )
        )
        constants.append(
            -0.5 * ((mean**2 * sharp).sum(axis=2) + np.log(2.0 * np.pi * variance).sum(axis=2))
        )
        of_states = np.exp(-_WEIGHT_STEP * steps[stream]).T.reshape(phones, 3, densities)
        weights.append(of_states.transpose(0, 2, 1))
    return Teacher(
        factors=tuple(factor.astype(np.float32) for factor in factors),
        constants=tuple(constant.ravel().astype(np.float32) for constant in constants),
        weights=tuple(np.ascontiguousarray(weight, dtype=np.float32) for weight in weights),
        names=names,
    )


def cepstra(samples: NDArray[np.float64], sample_rate_hz: int) -> NDArray[np.float64]:
    """Give the 13 numbers a frame that the model was made for, shape (k, 13)."""
    shared = gcd(RATE_HZ, sample_rate_hz)
    heard = resample_poly(samples, RATE_HZ // shared, sample_rate_hz // shared)
    heard = heard / max(1e-9, float(np.abs(heard).max())) * 0.6 * _CEPSTRAL_FULL_SCALE
    heard = np.append(heard[:1], heard[1:] - _EMPHASIS * heard[:-1])
    heard = np.pad(heard, (0, max(0, _WINDOW - heard.size)))
    frames = np.lib.stride_tricks.sliding_window_view(heard, _WINDOW)[::_HOP]
    power = np.abs(np.fft.rfft(frames * np.hamming(_WINDOW), _TRANSFORM)) ** 2
    log_power = np.log(np.maximum(power @ _mel_filters().T, 1e-5))
    order = np.arange(_CEPSTRA)[:, np.newaxis]
    waves = np.cos(np.pi * order * (np.arange(_FILTERS) + 0.5) / _FILTERS) * np.sqrt(2 / _FILTERS)
    waves[0] *= np.sqrt(0.5)
    lift = 1.0 + _LIFTER / 2 * np.sin(np.pi * np.arange(_CEPSTRA) / _LIFTER)
    found: NDArray[np.float64] = (log_power @ waves.T) * lift
    return found


def phone_shares(
    of_clip: NDArray[np.float64], of_voice: NDArray[np.float64], teacher: Teacher
) -> NDArray[np.float32]:
    """Say how likely each phone is.

    Parameters
    ----------
    of_clip : ndarray, shape (k, 13)
        From `cepstra`.
    of_voice : ndarray, shape (13,)
        Their mean over all clips of the voice.

    Returns
    -------
    shares : ndarray, shape (k, 40)
        39 phones in the model's order, and silence with all other noise last.
    """
    streams = _streams(of_clip - of_voice)
    count = of_clip.shape[0]
    phones = len(teacher.names)
    scores = np.zeros((count, phones, 3), dtype=np.float32)
    for at in range(0, count, _BLOCK):
        for stream, factors, constants, weights in zip(
            streams, teacher.factors, teacher.constants, teacher.weights, strict=True
        ):
            some = stream[at : at + _BLOCK].astype(np.float32)
            logs = np.concatenate([some, some**2], axis=1) @ factors + constants
            logs = logs.reshape(some.shape[0], phones, -1)
            most = logs.max(axis=2, keepdims=True)
            sums = np.exp(logs - most).transpose(1, 0, 2) @ weights
            scores[at : at + _BLOCK] += np.log(np.maximum(sums.transpose(1, 0, 2), 1e-30)) + most
    scores *= SOFTENING
    powers = np.exp(scores - scores.max(axis=(1, 2), keepdims=True)).sum(axis=2)
    powers /= powers.sum(axis=1, keepdims=True)
    is_silent = np.array([name in SILENT for name in teacher.names])
    silence = powers[:, is_silent].sum(axis=1, keepdims=True)
    shares: NDArray[np.float32] = np.concatenate([powers[:, ~is_silent], silence], axis=1)
    return shares


def _streams(numbers: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Give the numbers, their differences over 40 ms, and those of the differences over 20 ms."""
    padded = np.pad(numbers, ((3, 3), (0, 0)), mode="edge")
    count = numbers.shape[0]

    def at(by: int) -> NDArray[np.float64]:
        return padded[3 + by : 3 + by + count]

    return numbers, at(2) - at(-2), (at(3) - at(-1)) - (at(1) - at(-3))


def _mel_filters() -> NDArray[np.float64]:
    """Give triangles of area 1 between whole bins, shape (25, 257)."""
    low, high = (2595.0 * np.log10(1.0 + edge / 700.0) for edge in _FILTER_HZ)
    edges = 700.0 * (10.0 ** (np.linspace(low, high, _FILTERS + 2) / 2595.0) - 1.0)
    bin_hz = RATE_HZ / _TRANSFORM
    edges = np.round(edges / bin_hz) * bin_hz
    hz = np.arange(_TRANSFORM // 2 + 1) * bin_hz
    rise = (hz - edges[:-2, np.newaxis]) / (edges[1:-1] - edges[:-2])[:, np.newaxis]
    fall = (edges[2:, np.newaxis] - hz) / (edges[2:] - edges[1:-1])[:, np.newaxis]
    area = (2.0 / (edges[2:] - edges[:-2]))[:, np.newaxis]
    filters: NDArray[np.float64] = np.maximum(0.0, np.minimum(rise, fall)) * area
    return filters


def _gaussians(path: Path) -> NDArray[np.float32]:
    """Read means or variances, shape (phones, streams, densities, 13)."""
    held = path.read_bytes()
    at = held.index(b"endhdr\n") + len(b"endhdr\n")
    magic, phones, streams, densities = struct.unpack_from("<I3i", held, at)
    assert magic == _MAGIC
    at += 16
    widths = struct.unpack_from(f"<{streams}i", held, at)
    at += 4 * streams
    (count,) = struct.unpack_from("<i", held, at)
    numbers = np.frombuffer(held, dtype="<f4", count=count, offset=at + 4)
    return numbers.reshape(phones, streams, densities, widths[0])


def _definition(path: Path) -> tuple[tuple[str, ...], int]:
    """Read the names of the phones, and how many states there are in all."""
    held = path.read_bytes()
    (text,) = struct.unpack_from("<i", held, 8)
    phones, _, _, _, senones = struct.unpack_from("<5i", held, 12 + text)
    names = held[12 + text + 40 :].split(b"\0", phones)[:phones]
    return tuple(name.decode() for name in names), senones
