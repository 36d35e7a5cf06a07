"""Active speech level: how loud somebody speaks while speaking."""

from __future__ import annotations

import math

import numpy as np

from quietleaf.listening.frames import P56_THRESHOLDS, ChannelMemory, FrameFilters

MARGIN_DB = 15.9
"""ITU-T P.56, method B: the active level lies this far above the threshold that defines it."""


def active_speech_level_dbov(
    filters: FrameFilters, memory: ChannelMemory, samples: int
) -> float | None:
    """Measure the active speech level of a channel.

    Parameters
    ----------
    filters, memory
        As the frames' loop left them after the whole recording.
    samples : int
        Length of the recording.

    Returns
    -------
    level : float or None, dBov
        RMS while speech is active; a full-scale sine that does not pause reads -3.01. None for
        silence, and for sound whose envelope never reaches -90 dB.

    Notes
    -----
    Method B [1]_ on the band above 20 Hz: envelope by two exponential averages of 30 ms, hangover
    200 ms, thresholds from 2**-15 to 2**-1, margin 15.9 dB; between two thresholds level and
    threshold are interpolated (there within 0.5 dB, here exactly). Where single clicks leave no
    threshold within the margin, the highest that was reached decides; where the lowest lies
    within it already, that one.

    References
    ----------
    .. [1] ITU-T P.56 (12/2011), method B; ITU-T G.191.

    Examples
    --------
    >>> from quietleaf.listening.listen import hear
    >>> t = np.arange(80_000) / 8_000
    >>> tone = 0.1 * np.sin(2 * np.pi * 997 * t)
    >>> round(hear([tone[:, np.newaxis]], 8_000, 1).level.active_speech_dbov, 1)
    -23.0
    """
    power_sum = memory.sum_of_squares * filters.full_band_gain**2
    before: tuple[float, float] | None = None
    for index, threshold in enumerate(P56_THRESHOLDS):
        active = int(memory.active[index])
        if index < memory.level[0]:
            active += samples - int(memory.entered[index])
        elif memory.left[index] >= 0:
            active += min(samples - int(memory.left[index]), filters.hangover_samples)
        if active == 0 or power_sum == 0.0:
            break
        level = 10.0 * math.log10(power_sum / active)
        margin = level - 20.0 * math.log10(threshold)
        if margin <= MARGIN_DB:
            if before is None:
                return level
            level_before, margin_before = before
            share = (margin_before - MARGIN_DB) / (margin_before - margin)
            return level_before + share * (level - level_before)
        before = (level, margin)
    return None if before is None else before[0]


def loudest(levels: list[float | None]) -> float | None:
    """Give the greatest of some levels; None if there is none."""
    heard = [level for level in levels if level is not None]
    return max(heard) if heard else None


def mean_sample(memories: list[ChannelMemory], samples: int) -> float:
    """Give the mean sample value (DC) of the channel where it is furthest from zero."""
    if samples == 0:
        return 0.0
    means = np.array([memory.sum for memory in memories]) / samples
    return float(means[np.argmax(np.abs(means))])
