"""Frames of 10 ms: where they lie, and their powers as three filters hear them, in one loop.

The loop also counts, for each threshold of ITU-T P.56, the samples that are active speech.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.limits import LARGEST_SAMPLE
from quietleaf.sound.compiled import kernel
from quietleaf.sound.kweighting import KWeighting, high_pass_denominator, k_weighting

FRAMES_PER_S = 100
ROOM_S = 12 * 3600
"""Rows of frames have room for this long a recording at first."""
FULL_BAND_FROM_HZ = 20.0
"""ITU-T P.56 speaks of 20 Hz to 20 kHz as the full band."""
VOICE_BAND_FROM_HZ = 80.0
"""Below every voice that reads aloud; rumble and handling noise lie lower. Ours."""
_BUTTERWORTH_Q = 0.7071067811865476
P56_TIME_S = 0.03
P56_HANGOVER_S = 0.2
P56_THRESHOLDS = tuple(2.0**exponent for exponent in range(-15, 0))
"""ITU-T P.56, method B: time constant, hangover, thresholds relative to full scale."""
LOW_BAND_TO_HZ = 500.0
"""A voice has its power below; breath and paper have not. Ours."""
_MEMORY = 21
_TOO_SMALL = 1e-30
"""Filter memories below this are nothing, and would slow the arithmetic down 100-fold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameFilters:
    """The filters of the loop as plain numbers: shelf, high-passes, their gains, smoothing."""

    weighting: KWeighting
    numbers: NDArray[np.float64]
    full_band_gain: float
    hangover_samples: int


@dataclass(slots=True, kw_only=True)
class ChannelMemory:
    """What the loop keeps of one channel from block to block.

    Attributes
    ----------
    filters : ndarray
        Filter memories, the unfinished frame's sums, the sum of all samples, the sum of squares.
    level : ndarray, shape (1,)
        How many of the thresholds the envelope is at or above.
    active, entered, left : ndarray, shape (15,)
        Per threshold: samples counted as active; where the envelope last rose to it; where it
        last fell below it, -1 for never.
    """

    filters: NDArray[np.float64] = field(default_factory=lambda: np.zeros(_MEMORY))
    level: NDArray[np.int64] = field(default_factory=lambda: np.zeros(1, dtype=np.int64))
    active: NDArray[np.int64] = field(
        default_factory=lambda: np.zeros(len(P56_THRESHOLDS), dtype=np.int64)
    )
    entered: NDArray[np.int64] = field(
        default_factory=lambda: np.zeros(len(P56_THRESHOLDS), dtype=np.int64)
    )
    left: NDArray[np.int64] = field(
        default_factory=lambda: np.full(len(P56_THRESHOLDS), -1, dtype=np.int64)
    )

    @property
    def sum(self) -> float:
        """The sum of all samples."""
        return float(self.filters[16] + self.filters[15])

    @property
    def sum_of_squares(self) -> float:
        """The sum of the squares of all samples above 20 Hz, before the filter's gain."""
        return float(self.filters[17] + self.filters[13])


def frame_start(index: int, sample_rate_hz: int) -> int:
    """Give the first sample of a frame.

    Forty frames hold 0.4 s to the nearest sample at any place where the rate allows it.

    Examples
    --------
    >>> [frame_start(index, 22_050) for index in (0, 1, 2, 40)]
    [0, 221, 441, 8820]
    """
    return (2 * index * sample_rate_hz + FRAMES_PER_S) // (2 * FRAMES_PER_S)


def frame_starts(first: int, count: int, sample_rate_hz: int) -> NDArray[np.int64]:
    """Give the first samples of ``count`` frames from ``first`` on, shape (count,)."""
    index = np.arange(first, first + count, dtype=np.int64)
    return (2 * index * sample_rate_hz + FRAMES_PER_S) // (2 * FRAMES_PER_S)


def frame_filters(sample_rate_hz: int) -> FrameFilters:
    """Prepare the filters for one rate."""
    weighting = k_weighting(sample_rate_hz)
    full = high_pass_denominator(FULL_BAND_FROM_HZ, _BUTTERWORTH_Q, sample_rate_hz)
    voice = high_pass_denominator(VOICE_BAND_FROM_HZ, _BUTTERWORTH_Q, sample_rate_hz)
    full_gain = (full[0] - full[1] + full[2]) / 4.0
    voice_gain = (voice[0] - voice[1] + voice[2]) / 4.0
    smoothing = np.exp(-1.0 / (sample_rate_hz * P56_TIME_S))
    numbers = np.array(
        [
            *weighting.shelf,
            *weighting.high_pass,
            *full[1:],
            *voice[1:],
            full_gain,
            voice_gain,
            smoothing,
            *low_pass_numbers(sample_rate_hz),
        ]
    )
    hangover = int(P56_HANGOVER_S * sample_rate_hz + 0.5)
    return FrameFilters(
        weighting=weighting,
        numbers=numbers,
        full_band_gain=float(full_gain),
        hangover_samples=hangover,
    )


def low_pass_numbers(sample_rate_hz: int) -> tuple[float, float, float]:
    """Give gain, a1 and a2 of the 500 Hz low-pass: b is the gain times 1, 2, 1."""
    k = float(np.tan(np.pi * LOW_BAND_TO_HZ / sample_rate_hz))
    norm = 1.0 / (1.0 + k / _BUTTERWORTH_Q + k * k)
    return k * k * norm, 2.0 * (k * k - 1.0) * norm, (1.0 - k / _BUTTERWORTH_Q + k * k) * norm


@kernel
def hear_frames(
    samples: NDArray[np.float64],
    position: int,
    frame: int,
    sample_rate_hz: int,
    numbers: NDArray[np.float64],
    hangover: int,
    thresholds: NDArray[np.float64],
    memory: NDArray[np.float64],
    level: NDArray[np.int64],
    active: NDArray[np.int64],
    entered: NDArray[np.int64],
    left: NDArray[np.int64],
    k_energy: NDArray[np.float64],
    full_energy: NDArray[np.float64],
    voice_energy: NDArray[np.float64],
    low_energy: NDArray[np.float64],
) -> int:
    """Run one channel's block through the filters; give how many frames it completed.

    ``position`` is the block's first sample counted from the start, ``frame`` the frame it lies
    in. Energies are sums of squares over a frame: K-weighted, above 20 Hz, above 80 Hz, and from
    80 to 500 Hz. -1 says that a sample is beyond `LARGEST_SAMPLE`; all else is worthless then.
    """
    sb0, sb1, sb2, sa1, sa2 = numbers[0], numbers[1], numbers[2], numbers[3], numbers[4]
    ka1, ka2 = numbers[5], numbers[6]
    fa1, fa2 = numbers[7], numbers[8]
    va1, va2 = numbers[9], numbers[10]
    full_gain, voice_gain, keep = numbers[11], numbers[12], numbers[13]
    low_gain, la1, la2 = numbers[14], numbers[15], numbers[16]
    take_rectified = (1.0 - keep) * full_gain
    take_smooth = 1.0 - keep
    full_power_gain = full_gain * full_gain
    voice_power_gain = voice_gain * voice_gain

    x1, x2 = memory[0], memory[1]
    s1, s2 = memory[2], memory[3]
    k1, k2 = memory[4], memory[5]
    f1, f2 = memory[6], memory[7]
    v1, v2 = memory[8], memory[9]
    smooth, envelope = memory[10], memory[11]
    k_sum, full_sum, voice_sum, frame_sum = memory[12], memory[13], memory[14], memory[15]
    l1, l2, low_sum = memory[18], memory[19], memory[20]

    count = thresholds.size
    at = level[0]
    rise = thresholds[at] if at < count else np.inf
    fall = thresholds[at - 1] if at > 0 else -1.0

    done = 0
    start = 0
    largest = 0.0
    while start < samples.size:
        frame_stop = (2 * (frame + 1) * sample_rate_hz + 100) // 200
        stop = min(frame_stop - position, samples.size)
        for i in range(start, stop):
            x = samples[i]
            frame_sum += x
            largest = max(largest, abs(x))
            change = (x - (x1 + x1)) + x2

            s = (sb0 * x + sb1 * x1 + sb2 * x2 - sa2 * s2) - sa1 * s1
            k = ((s - (s1 + s1)) + s2 - ka2 * k2) - ka1 * k1
            s2, s1 = s1, s
            k2, k1 = k1, k
            k_sum += k * k

            f = (change - fa2 * f2) - fa1 * f1
            f2, f1 = f1, f
            full_sum += f * f

            v = (change - va2 * v2) - va1 * v1
            low = low_gain * ((v + (v1 + v1)) + v2) - la2 * l2 - la1 * l1
            l2, l1 = l1, low
            low_sum += low * low
            v2, v1 = v1, v
            voice_sum += v * v
            x2, x1 = x1, x

            smooth = keep * smooth + take_rectified * abs(f)
            envelope = keep * envelope + take_smooth * smooth
            if envelope >= rise or envelope < fall:
                n = position + i
                while at < count and envelope >= thresholds[at]:
                    if left[at] >= 0:
                        active[at] += min(n - left[at], hangover)
                    entered[at] = n
                    at += 1
                while at > 0 and envelope < thresholds[at - 1]:
                    at -= 1
                    active[at] += n - entered[at]
                    left[at] = n
                rise = thresholds[at] if at < count else np.inf
                fall = thresholds[at - 1] if at > 0 else -1.0
        start = stop
        if position + stop == frame_stop:
            k_energy[done] = k_sum
            full_energy[done] = full_sum * full_power_gain
            voice_energy[done] = voice_sum * voice_power_gain
            low_energy[done] = low_sum * voice_power_gain
            memory[16] += frame_sum
            memory[17] += full_sum
            k_sum, full_sum, voice_sum, low_sum, frame_sum = 0.0, 0.0, 0.0, 0.0, 0.0
            done += 1
            frame += 1
            if abs(s1) + abs(s2) + abs(k1) + abs(k2) < _TOO_SMALL:
                s1, s2, k1, k2 = 0.0, 0.0, 0.0, 0.0
            if abs(f1) + abs(f2) + abs(v1) + abs(v2) < _TOO_SMALL:
                f1, f2, v1, v2 = 0.0, 0.0, 0.0, 0.0
            if abs(l1) + abs(l2) < _TOO_SMALL:
                l1, l2 = 0.0, 0.0
            if smooth + envelope < _TOO_SMALL:
                smooth, envelope = 0.0, 0.0

    memory[0], memory[1] = x1, x2
    memory[2], memory[3] = s1, s2
    memory[4], memory[5] = k1, k2
    memory[6], memory[7] = f1, f2
    memory[8], memory[9] = v1, v2
    memory[10], memory[11] = smooth, envelope
    memory[12], memory[13], memory[14], memory[15] = k_sum, full_sum, voice_sum, frame_sum
    memory[18], memory[19], memory[20] = l1, l2, low_sum
    level[0] = at
    return done if largest <= LARGEST_SAMPLE else -1
