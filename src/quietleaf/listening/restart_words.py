"""Were the words of a first try those that were read again? From what a recogniser makes of both.

The two texts say little: a recogniser makes whole words of half ones, and others the second time.
So the words heard in each of two stretches are looked for in the sound of the other, and the two
are laid along each other as the recogniser sees them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.recognised import ROWS_PER_S, Stretch
from quietleaf.listening.restart_alignment import columns_for, laid_along, path_back

WORD_NUMBERS = (
    "lost_mean",
    "lost_whole",
    "kept_sum",
    "pieces",
    "said_sum",
    "said_pieces",
    "rows_02",
    "rows_03",
    "rows_05",
    "rows_08",
    "rows_whole",
    "rows",
    "worst_03",
    "last_03",
    "matched_mean",
    "rest_s",
    "matched_sum",
    "bends",
)
_NO_WORDS_NATS = -5.0
_EVEN_NATS = 2.5
"""A piece that is so much less likely in the other sound speaks neither for nor against."""
_KEPT_NATS = (-4.0, 9.0)
_SAID_PIECES_MOST = 40
_LOOKS = (10, 15, 25, 40)
_SHORT_ROWS = 15
_ROWS_MIN, _SAID_ROWS_MIN = 4, 8
_EVEN_GAIN = np.float32(1.0)
_UNREACHED = -1e6
_AXES = 96
_PAIRS = 20_000
_NOTHING = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """How a recogniser's rows of one recording are spread.

    Attributes
    ----------
    mean : ndarray, shape (d,), float32
    axes : ndarray, shape (d, a), float32
        The main axes of the rows, each divided by the root of the deviation along it: what differs
        much between any two rows must not drown what differs between words.
    alike_mean, alike_deviation : float
        Of the cosines of two rows at random.
    """

    mean: NDArray[np.float32]
    axes: NDArray[np.float32]
    alike_mean: float
    alike_deviation: float


def voice_of(rows: NDArray[np.float32]) -> Voice:
    """Learn a voice from some of its rows, shape (k, d), k >= 1."""
    mean = rows.mean(axis=0)
    around = (rows - mean).astype(np.float64)
    variances, axes = np.linalg.eigh(around.T @ around / rows.shape[0])
    deviations = np.sqrt(np.maximum(variances[-_AXES:], _NOTHING))
    scaled = (axes[:, -_AXES:] / np.sqrt(deviations)).astype(np.float32)
    first, second = np.random.default_rng(0).integers(rows.shape[0], size=(2, _PAIRS))
    directions = _directions(rows, mean, scaled)
    alike = (directions[first] * directions[second]).sum(axis=1, dtype=np.float64)
    return Voice(
        mean=mean,
        axes=scaled,
        alike_mean=float(alike.mean()),
        alike_deviation=max(float(alike.std()), _NOTHING),
    )


def word_numbers(
    tried: Stretch,
    said: Stretch,
    tried_in_said: NDArray[np.float64],
    said_in_tried: NDArray[np.float64],
    voice: Voice,
) -> NDArray[np.float64]:
    """Measure how well a first try is the beginning of what was read again.

    Parameters
    ----------
    tried_in_said, said_in_tried : ndarray, shape (n,), (m,), nats
        How likely the pieces of each are in the sound of the other.

    Returns
    -------
    numbers : ndarray, shape (18,)
        In the order of `WORD_NUMBERS`.
    """
    return np.array(
        [
            *_of_tried(tried.likelihoods, tried_in_said),
            *_of_said(said.likelihoods, said_in_tried),
            *_of_rows(tried.rows, said.rows, voice),
        ]
    )


def _of_tried(own: NDArray[np.float64], other: NDArray[np.float64]) -> list[float]:
    """Look for what was tried in what was said: all of it must be there."""
    if not own.size:
        return [_NO_WORDS_NATS] * 4
    lost = other - own
    # The last piece is broken off.
    whole = lost[: max(1, lost.size - 1)]
    kept = np.cumsum(np.clip(lost + _EVEN_NATS, *_KEPT_NATS))
    return [float(lost.mean()), float(whole.mean()), float(kept.max()), float(own.size)]


def _of_said(own: NDArray[np.float64], other: NDArray[np.float64]) -> list[float]:
    """Look for what was said in the first try: its beginning alone must be there."""
    if not own.size:
        return [_NO_WORDS_NATS, 0.0]
    kept = np.cumsum((other - own)[:_SAID_PIECES_MOST] + _EVEN_NATS)
    best = int(np.argmax(kept))
    return [float(kept[best]), best + 1.0]


def _of_rows(tried: NDArray[np.float32], said: NDArray[np.float32], voice: Voice) -> list[float]:
    """Lay the sounds along each other, as `restart_pairs` does with likely phones."""
    count = tried.shape[0]
    if count < _ROWS_MIN or said.shape[0] < _SAID_ROWS_MIN:
        return [0.0] * 12
    alike = (
        _directions(tried, voice.mean, voice.axes)
        @ _directions(said, voice.mean, voice.axes)[: columns_for(count)].T
    )
    gains = ((alike - voice.alike_mean) / voice.alike_deviation).astype(np.float32)
    curve = np.empty(count, dtype=np.float32)
    ends = np.empty(count, dtype=np.int64)
    steps = np.empty(gains.shape, dtype=np.int8)
    laid_along(gains, curve, ends, steps)
    if curve[-1] < _UNREACHED:
        # Too little was said to lie along.
        return [0.0] * 12
    path = np.empty(count, dtype=np.float32)
    bends = path_back(gains, steps, count - 1, int(ends[-1]), path, np.empty(count, np.int64))
    short = min(_SHORT_ROWS, count)
    sums = np.convolve(path, np.ones(short, dtype=np.float32), mode="valid")
    over = curve - _EVEN_GAIN * np.arange(1, count + 1, dtype=np.float32)
    matched = int(np.argmax(over)) + 1
    return [
        *(float(curve[min(look, count) - 1]) / min(look, count) for look in (*_LOOKS, count)),
        float(count),
        float(sums.min()) / short,
        float(path[-short:].mean()),
        float(curve[matched - 1]) / matched,
        (count - matched) / ROWS_PER_S,
        float(over.max()),
        bends / count,
    ]


def _directions(
    rows: NDArray[np.float32], mean: NDArray[np.float32], axes: NDArray[np.float32]
) -> NDArray[np.float32]:
    along = (rows - mean) @ axes
    length = np.linalg.norm(along, axis=1, keepdims=True)
    directions: NDArray[np.float32] = along / np.maximum(length, np.float32(_NOTHING))
    return directions
