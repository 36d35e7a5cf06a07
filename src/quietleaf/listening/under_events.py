"""From windows that may hold a noise to noises under words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import FindingKind
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.sound_kind_names import NOISE_KINDS
from quietleaf.listening.sound_rows import NAMED_SHARE, Noise
from quietleaf.listening.under_words import WINDOW_FRAMES, DisturbedWindows

APART_FRAMES = 35
"""Windows that begin within so much of the one before are one noise."""
EDGE_FRAMES = 4
FRAMES_A_MINUTE = 60 * FRAMES_PER_S
ALONE_LIKELIHOOD = 0.92
OFTEN_A_MINUTE, OFTEN_MIN = 2.0, 4


def runs_of(
    start: NDArray[np.int64], likelihood: NDArray[np.float32], least: float
) -> list[NDArray[np.int64]]:
    """Put windows together that are likely enough and near each other; give their indices.

    Examples
    --------
    >>> start = np.array([0, 8, 16, 80, 88])
    >>> likelihood = np.array([0.9, 0.5, 0.95, 0.92, 0.2], dtype=np.float32)
    >>> [run.tolist() for run in runs_of(start, likelihood, 0.9)]
    [[0, 2], [3]]
    """
    kept = np.flatnonzero(likelihood >= np.float32(least))
    if kept.size == 0:
        return []
    far = np.flatnonzero(np.diff(start[kept]) > APART_FRAMES) + 1
    return np.split(kept, far)


def noises_under_words(
    windows: DisturbedWindows, length_frames: int, limits: HearingLimits
) -> list[Noise]:
    """Give the noises under words, in order of time; a breath under words is none.

    One window alone must be likelier than several. A voice in which more than two a minute are told
    sounds like that by itself: then what is sure alone counts.
    """
    runs = runs_of(windows.start, windows.likelihood, limits.noise_under_words_likelihood)
    sure = limits.noise_under_words_likelihood_fix
    if len(runs) * FRAMES_A_MINUTE > OFTEN_A_MINUTE * length_frames and len(runs) >= OFTEN_MIN:
        runs = runs_of(windows.start, windows.likelihood, sure)
    found = []
    for run in runs:
        shares = windows.likelihood[run] @ windows.shares[run] / windows.likelihood[run].sum()
        likeliest = int(shares.argmax())
        kind: FindingKind = NOISE_KINDS[likeliest]
        if kind == "breath":
            continue
        likelihood = float(windows.likelihood[run].max())
        if run.size == 1 and likelihood < ALONE_LIKELIHOOD:
            continue
        found.append(
            Noise(
                kind=kind if shares[likeliest] >= NAMED_SHARE else "noise",
                start=int(windows.start[run[0]]) + EDGE_FRAMES,
                stop=int(windows.start[run[-1]]) + WINDOW_FRAMES - EDGE_FRAMES,
                likelihood=likelihood,
                peak_db=float(windows.over_top_db[run].max()),
                covers_words=True,
                sure=likelihood >= sure,
            )
        )
    return found
