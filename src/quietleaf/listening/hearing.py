"""What was heard: the record of one pass over a recording."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.level_steps import dbov_of_steps
from quietleaf.listening.pace import Pace
from quietleaf.listening.sentence_starts import SentenceStart

Verdict = Literal["ready", "needs an ear", "read again"]

FRAME_S = 0.01
CURVE_HOP_S = 0.1
MOMENTARY_HOPS = 4
SHORT_TERM_HOPS = 30
LOUDNESS_OFFSET_DB = -0.691
"""ITU-R BS.1770-5, Annex 1, equation 2."""


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

    Ten hours must not weigh more than a few megabytes, so the powers are kept and the values are
    worked out when asked for.

    Attributes
    ----------
    power : ndarray, shape (k,)
        Mean square of the K-weighted sound, summed over channels by their weights, of successive
        100 ms; an incomplete last one is left out.
    """

    power: NDArray[np.float64]

    @property
    def time_s(self) -> NDArray[np.float64]:
        """The end of each window in seconds, shape (k,)."""
        return np.arange(1, self.power.size + 1, dtype=np.float64) * CURVE_HOP_S

    @property
    def momentary_lufs(self) -> NDArray[np.float64]:
        """Loudness of the last 400 ms, shape (k,); -inf for silence and until they have passed."""
        return _window_lufs(self.power, MOMENTARY_HOPS)

    @property
    def short_term_lufs(self) -> NDArray[np.float64]:
        """Loudness of the last 3 s, shape (k,); -inf for silence and until they have passed."""
        return _window_lufs(self.power, SHORT_TERM_HOPS)


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTrack:
    """Level and speech in frames of 10 ms, for whoever finishes the recording.

    Frame ``i`` covers the samples from ``floor(i * rate / 100 + 1/2)`` up to the start of the
    next; an incomplete last frame is left out.

    Attributes
    ----------
    steps : ndarray, shape (k,), uint8
        Level relative to RMS 1.0, above 80 Hz, of the louder channel, in half decibels from
        -127.5; 0 stands for digital silence, 255 for 0 dBov and above.
    speech_frames : ndarray, shape (j, 2), int64
        Half-open ranges of frames that are speech, sorted, apart.
    """

    steps: NDArray[np.uint8]
    speech_frames: NDArray[np.int64]

    @property
    def hop_s(self) -> float:
        """Length of a frame in seconds."""
        return FRAME_S

    @property
    def level_dbov(self) -> NDArray[np.float32]:
        """Level of each frame, shape (k,), dBov, within 0.25 dB; -inf for digital silence."""
        return dbov_of_steps(self.steps)

    @property
    def speech(self) -> NDArray[np.bool_]:
        """Whether each frame lies in a stretch of speech, shape (k,)."""
        mask = np.zeros(self.steps.size, dtype=np.bool_)
        for start, stop in self.speech_frames:
            mask[start:stop] = True
        return mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What is measured of a recording, whatever its sounds are.

    Attributes
    ----------
    speech_s : ndarray, shape (k, 2), seconds
        Stretches of speech, sorted, apart; from the first syllable to the last.
    pauses_s : ndarray, shape (j, 2), seconds
        Pauses between stretches of speech (not the head, not the tail).
    """

    duration_s: float
    sample_rate_hz: int
    channels: int
    loudness: Loudness
    peak: Peak
    level: Level
    speech_s: NDArray[np.float64]
    pauses_s: NDArray[np.float64]
    curve: Curve
    track: LevelTrack

    @property
    def spoken_s(self) -> float:
        """How long somebody speaks in all."""
        return float((self.speech_s[:, 1] - self.speech_s[:, 0]).sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing(Measured):
    """Everything one pass says about a recording.

    Attributes
    ----------
    pace : Pace
        How fast it was read; from syllables, since the words are not known.
    sentences : tuple of SentenceStart
        Where sentences begin, in order of time: those that are likely to.
    findings : tuple of Finding
        In order of time.
    """

    pace: Pace
    sentences: tuple[SentenceStart, ...]
    findings: tuple[Finding, ...]
    verdict: Verdict
    reasons: tuple[str, ...]


def _window_lufs(power: NDArray[np.float64], hops: int) -> NDArray[np.float64]:
    lufs = np.full(power.size, -np.inf)
    if power.size < hops:
        return lufs
    mean = np.lib.stride_tricks.sliding_window_view(power, hops).mean(axis=1)
    heard = mean > 0.0
    lufs[hops - 1 :][heard] = LOUDNESS_OFFSET_DB + 10.0 * np.log10(mean[heard])
    return lufs
