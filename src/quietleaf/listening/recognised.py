"""What a recogniser made of a few seconds of speech, and which of its rows sound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding

ROWS_PER_S = 50
_TOP_PERCENT = 92.0
_UNDER_TOP_DB = 28.0
_LEAST_POWER = 1e-10


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A few seconds as a recogniser heard them.

    Attributes
    ----------
    pieces : tuple of str
        Words as the recogniser's own list of pieces cuts them, without marks at the end; a piece
        that begins a word begins with a blank.
    likelihoods : ndarray, shape (n,), nats
        Of each piece in this sound, after the pieces before it.
    rows : ndarray, shape (k, d), float32
        The sound as the recogniser sees it, `ROWS_PER_S`; rows without sound are left out.
    """

    pieces: tuple[str, ...]
    likelihoods: NDArray[np.float64]
    rows: NDArray[np.float32]

    @property
    def text(self) -> str:
        """The words."""
        return "".join(self.pieces).strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardWords:
    """What a recogniser says of a recording.

    Attributes
    ----------
    restarts : tuple of Finding
        In place of what the sound alone tells.
    places_s : ndarray, shape (k, 2), seconds
        Where words were counted; sorted, apart.
    words : int
        How many in all.
    """

    restarts: tuple[Finding, ...]
    places_s: NDArray[np.float64]
    words: int


def sounding_rows(samples: NDArray[np.floating], sample_rate_hz: int) -> NDArray[np.int64]:
    """Say which rows of a stretch are at most 28 dB under its loudest tenth, shape (k,).

    Examples
    --------
    >>> loud_then_quiet = np.repeat([0.1, 0.001], 800)
    >>> sounding_rows(loud_then_quiet, 16_000)
    array([0, 1, 2])
    """
    length = sample_rate_hz // ROWS_PER_S
    count = samples.shape[0] // length
    power = (samples[: count * length].reshape(count, length) ** 2).mean(axis=1)
    level_db = 10.0 * np.log10(power + _LEAST_POWER)
    if not count:
        return np.zeros(0, dtype=np.int64)
    return np.flatnonzero(level_db > np.percentile(level_db, _TOP_PERCENT) - _UNDER_TOP_DB)
