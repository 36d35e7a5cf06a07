"""Levels of a recording's channels, 100 ms at a time, in the band of speech; and what they tell.

One pass, block by block. What is kept are powers, and of two channels their product: at most
1.5 MB for ten hours of each channel.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from quietleaf.errors import AudioUnfit
from quietleaf.listening.limits import LARGEST_SAMPLE

BAND_HZ = (150.0, 4000.0)
"""Where speech is strongest; most of a hum lies below and most of a hiss above."""
FRAMES_PER_S = 10
_LOUD_PERCENTILE = 98.0
_QUIET_PERCENTILE = 10.0
_SPEECH_RANGE_DB = 20.0
_STEADY_DB = 3.0
_STEADY_SPREAD_DB = 1.0


@dataclass(slots=True, kw_only=True)
class ChannelState:
    """What the pass keeps.

    Attributes
    ----------
    moves : ndarray, shape (c,)
        Whether a channel has ever left its first value.
    peaks : ndarray, shape (c,)
        Greatest magnitudes.
    sum_peak : float
        Greatest magnitude of the sum of two channels.
    rest : ndarray
        Filtered samples that do not fill a frame yet.
    """

    sample_rate_hz: int
    sections: NDArray[np.float64]
    memory: NDArray[np.float64]
    first: NDArray[np.float64] | None = None
    moves: NDArray[np.bool_]
    peaks: NDArray[np.float64]
    sum_peak: float = 0.0
    rest: NDArray[np.float64]
    powers: list[NDArray[np.float32]] = field(default_factory=list)
    products: list[NDArray[np.float32]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelLevels:
    """What was heard, in decibels.

    Attributes
    ----------
    levels : ndarray, shape (k, c)
        Of each frame and channel, re RMS 1.0; silence is about -379.
    loud, quiet : ndarray, shape (c,)
        Of loud frames (2 % are louder) and quiet ones (10 % are quieter).
    products : ndarray, shape (k,)
        Of two channels: the mean product of their samples in each frame; else empty.
    """

    levels: NDArray[np.float64]
    loud: NDArray[np.float64]
    quiet: NDArray[np.float64]
    products: NDArray[np.float64]

    def of(self, channels: NDArray[np.intp]) -> ChannelLevels:
        """Give some of the channels alone."""
        return ChannelLevels(
            levels=self.levels[:, channels],
            loud=self.loud[channels],
            quiet=self.quiet[channels],
            products=self.products,
        )


def start(sample_rate_hz: int, channels: int) -> ChannelState:
    """Begin a pass over a recording."""
    highest_hz = min(BAND_HZ[1], 0.45 * sample_rate_hz)
    sections = np.concatenate(
        [
            butter(2, BAND_HZ[0], "highpass", fs=sample_rate_hz, output="sos"),
            butter(2, highest_hz, "lowpass", fs=sample_rate_hz, output="sos"),
        ]
    )
    return ChannelState(
        sample_rate_hz=sample_rate_hz,
        sections=sections,
        memory=np.zeros((len(sections), channels, 2)),
        moves=np.zeros(channels, dtype=np.bool_),
        peaks=np.zeros(channels),
        rest=np.zeros((channels, 0)),
    )


def step(state: ChannelState, block: NDArray[np.float64]) -> ChannelState:
    """Take the next block of shape (n, c), full scale 1.0, finite; any cutting gives the same.

    Raises
    ------
    AudioUnfit
        If a sample is so large that it cannot be meant.
    """
    if not len(block):
        return state
    # One channel after the other in memory: everything below is ten times faster for it.
    sides = np.ascontiguousarray(block.T)
    if state.first is None:
        state.first = sides[:, :1].copy()
    peaks = np.maximum(sides.max(axis=1), -sides.min(axis=1))
    if peaks.max() > LARGEST_SAMPLE:
        raise AudioUnfit(
            "channels/level",
            "A recording's samples lie between -1 and 1 or not far beyond; this one has some past "
            "ten thousand million. Export it again as 24-bit WAV.",
        )
    np.maximum(state.peaks, peaks, out=state.peaks)
    state.moves |= (sides != state.first).any(axis=1)
    if len(sides) == 1:
        return state
    if len(sides) == 2:
        state.sum_peak = max(state.sum_peak, float(np.abs(sides[0] + sides[1]).max()))
    filtered, state.memory = sosfilt(state.sections, sides, axis=1, zi=state.memory)
    frame = state.sample_rate_hz // FRAMES_PER_S
    waiting = np.concatenate([state.rest, filtered], axis=1)
    whole = waiting.shape[1] // frame * frame
    if whole:
        powers, products = _measured(waiting[:, :whole].reshape(len(sides), -1, frame))
        state.powers.append(powers)
        state.products.append(products)
    state.rest = waiting[:, whole:].copy()
    return state


def heard(state: ChannelState) -> ChannelLevels:
    """Sum up, when all blocks were taken; at least one sample of two channels or more."""
    if state.powers:
        powers, products = np.concatenate(state.powers), np.concatenate(state.products)
    else:
        # Shorter than a frame: what there is must do.
        powers, products = _measured(state.rest[:, np.newaxis])
    levels = 10.0 * np.log10(np.maximum(powers, np.finfo(np.float32).tiny).astype(np.float64))
    loud, quiet = np.percentile(
        levels, (_LOUD_PERCENTILE, _QUIET_PERCENTILE), axis=0, method="nearest"
    )
    return ChannelLevels(
        levels=levels, loud=loud, quiet=quiet, products=products.astype(np.float64)
    )


def speaking(channels: ChannelLevels) -> NDArray[np.bool_]:
    """Tell the frames in which any channel is nearer to its loud frames than to its quiet."""
    return _speaking(channels.levels, channels)


def correlation(channels: ChannelLevels) -> float:
    """Correlate two channels in the band of speech, while somebody speaks; 0 for silence."""
    frames = speaking(channels)
    powers = np.sum(10.0 ** (channels.levels[frames] / 10.0), axis=0)
    scale = float(np.sqrt(powers.prod()))
    return float(channels.products[frames].sum()) / scale if scale > 0.0 else 0.0


def lead_shares(channels: ChannelLevels, lead_db: float) -> tuple[NDArray[np.float64], int]:
    """Tell in what share of the speech each of two channels leads, each against its loud frames.

    By whole seconds: a word's gap, or a room that goes on sounding, is nobody's turn. The second
    answer is how many seconds of speech there are.
    """
    whole = len(channels.levels) // FRAMES_PER_S * FRAMES_PER_S
    powers = 10.0 ** (channels.levels[:whole].reshape(-1, FRAMES_PER_S, 2) / 10.0)
    levels = 10.0 * np.log10(np.mean(powers, axis=1))
    relative = (levels - channels.loud)[_speaking(levels, channels)]
    difference_db = relative[:, 0] - relative[:, 1]
    leads = np.array([np.sum(difference_db > lead_db), np.sum(difference_db < -lead_db)])
    return leads / max(1, len(difference_db)), len(difference_db)


def following(channels: ChannelLevels) -> float:
    """Correlate the levels of two channels while somebody speaks; 0 if one is steady."""
    relative = (channels.levels - channels.loud)[speaking(channels)]
    spread = relative.std(axis=0)
    if spread.min() < _STEADY_SPREAD_DB:
        return 0.0
    moved = relative - relative.mean(axis=0)
    return float(np.mean(moved[:, 0] * moved[:, 1]) / spread.prod())


def _measured(frames: NDArray[np.float64]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Measure frames of shape (c, k, n): powers (k, c), and of two channels products (k,)."""
    length = frames.shape[2]
    powers = (np.einsum("ckn,ckn->kc", frames, frames) / length).astype(np.float32)
    if len(frames) != 2:
        return powers, np.zeros(0, np.float32)
    return powers, (np.einsum("kn,kn->k", frames[0], frames[1]) / length).astype(np.float32)


def _speaking(levels: NDArray[np.float64], channels: ChannelLevels) -> NDArray[np.bool_]:
    middle = np.minimum((channels.loud + channels.quiet) / 2.0, channels.loud - _STEADY_DB)
    lowest = np.maximum(middle, channels.loud - _SPEECH_RANGE_DB)
    return np.asarray((levels >= lowest).any(axis=1))
