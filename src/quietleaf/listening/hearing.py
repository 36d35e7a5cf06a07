"""What was heard: the record of one pass over a recording."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding

Verdict = Literal["ready", "needs an ear", "read again"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loudness:
    """Loudness of the whole; None where there is no measurement (silence, too short)."""

    integrated_lufs: float | None
    range_lu: float | None
    momentary_max_lufs: float | None
    short_term_max_lufs: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """Greatest magnitudes; None for digital silence."""

    sample_dbfs: float | None
    true_dbtp: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """Levels relative to RMS 1.0 (dBov), and the mean sample value of full scale 1.0."""

    active_speech_dbov: float | None
    noise_floor_dbov: float | None
    dc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Loudness over time, one value each 100 ms.

    Attributes
    ----------
    time_s : ndarray, shape (k,)
        The end of each window.
    momentary_lufs, short_term_lufs : ndarray, shape (k,), LUFS
        -inf for silence; short-term is -inf too until 3 s have passed.
    """

    time_s: NDArray[np.float64]
    momentary_lufs: NDArray[np.float64]
    short_term_lufs: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """Everything one pass says about a recording.

    Attributes
    ----------
    speech_s : ndarray, shape (k, 2), seconds
        Stretches of speech, sorted, apart; from the first syllable to the last.
    pauses_s : ndarray, shape (j, 2), seconds
        Pauses between stretches of speech (not the head, not the tail).
    words_per_minute : float or None
        None until it is measured.
    sentence_starts_s : tuple of float or None
        None until they are measured.
    findings : tuple of Finding
        In order of time.
    """

    duration_s: float
    sample_rate_hz: int
    channels: int
    loudness: Loudness
    peak: Peak
    level: Level
    speech_s: NDArray[np.float64]
    pauses_s: NDArray[np.float64]
    words_per_minute: float | None
    sentence_starts_s: tuple[float, ...] | None
    findings: tuple[Finding, ...]
    verdict: Verdict
    reasons: tuple[str, ...]
    curve: Curve
