"""Speech as it is held against other speech: phrases between pauses, and rows of 20 ms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.phones import STEP

ROW_S = 0.01 * STEP


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """Speech between two pauses.

    Attributes
    ----------
    first, stop : int
        Frames of the recording.
    pause : int
        Frames without speech before it.
    likelihood : float
        That a sentence begins here.
    noise_db : float
        The loudest of the pause before it, against the level of the speech.
    """

    first: int
    stop: int
    pause: int
    likelihood: float
    noise_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechRows:
    """The speech that is remembered, pauses left out.

    Attributes
    ----------
    roots : ndarray, shape (n, 40), float32
    centred : ndarray, shape (n, 40), float32
        The same less their mean, of a length of nearly 1: what is seldom said weighs more.
    frame : ndarray, shape (n,), int64
        The frame of each row, ascending.
    pitch_st : ndarray, shape (n,), float32
        In semitones over 1 Hz; nan where nothing is voiced.
    level_db : ndarray, shape (n,), float32
    shapes : ndarray, shape (n, 24), float32
        How the spectrum differs from the voice's own, its level aside; of length 1.
    mean, deviation : float
        Of the products of two rows at random.
    """

    roots: NDArray[np.float32]
    centred: NDArray[np.float32]
    frame: NDArray[np.int64]
    pitch_st: NDArray[np.float32]
    level_db: NDArray[np.float32]
    shapes: NDArray[np.float32]
    mean: float
    deviation: float

    def row_at(self, frame: int) -> int:
        """Give the first row from a frame on."""
        return int(self.frame.searchsorted(frame))

    def gains(self, first: slice, second: slice) -> NDArray[np.float32]:
        """Say how alike rows are, in deviations over the mean."""
        gains: NDArray[np.float32] = self.roots[first] @ self.roots[second].T
        gains -= np.float32(self.mean)
        gains *= np.float32(1.0 / self.deviation)
        return gains
