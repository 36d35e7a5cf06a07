"""What single samples tell: peaks, true peak, flat tops, and stretches of exact zeros.

The sound is looked at in chunks of a few samples that lie on fixed places. Each is judged once
what follows it within 20 ms is known, so that the way the sound was cut into blocks cannot show.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.sound.compiled import kernel
from quietleaf.sound.true_peak import (
    chunk_peaks,
    interpolated_peak,
    interpolation_phases,
    phase_bound,
)

_CHUNK_MOST = 64
_NEAR_S = 0.02
FLAT_WITHIN = 1.5 / 32768
"""Samples of a flat top differ by no more than this: 16-bit rounding either way."""
_TOP_SHARE = 0.999
_CORNER = 6.0
"""A flat top ends in corners. A round one that looks flat over three samples falls by at most
four times their difference in the next."""
_CORNER_STEPS = 3.0
_COARSEST_STEP = 1.01 / 128
_COARSEST_SHARE = 1 / 16
"""Steps of 8-bit sound, and of the upper half of a telephone code's segment (ITU-T G.711)."""
_LOWEST_TOP = 0.01
_FLAT_GAP_S = 0.4
_ZERO_GAP_S = 0.05
_BESIDE_ZEROS_S = 0.001
_BESIDE_ZEROS_MIN = 8 / 32768
"""Quieter sound, of a few steps of 16 bits, may round to zeros by itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatTop:
    """Flat tops at the peaks of the sound, close together.

    Attributes
    ----------
    start, stop : int
        Half-open range of samples from the first to the last.
    runs : int
        How many.
    longest : int
        Samples of the longest.
    value : float
        Their greatest magnitude.
    """

    start: int
    stop: int
    runs: int
    longest: int
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroRun:
    """Stretches where all channels are exactly zero beside sound, close together.

    Attributes
    ----------
    start, stop : int
        Half-open range of samples from the first to the last.
    zeros : int
        Samples that are zero.
    """

    start: int
    stop: int
    zeros: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSettings:
    """What stays the same from block to block."""

    sample_rate_hz: int
    chunk: int
    near: int
    keep: int
    zero_samples_min: int
    flat_samples_min: int
    phases: NDArray[np.float64]
    bound: float


@dataclass(slots=True, kw_only=True)
class RunMemory:
    """What is kept from block to block.

    Attributes
    ----------
    samples : ndarray, shape (c, room)
        The last samples, as far back as they are still needed; the first is sample ``base``.
    held : int
        How many of them there are.
    sample_peak, true_peak : ndarray, shape (c,)
        Greatest magnitudes so far.
    flat : ndarray, shape (c, 5)
        The flat tops still open in each channel: start, stop, runs, longest, value; runs 0 for
        none.
    zero : ndarray, shape (5,)
        Start of the open run or -1; whether it began beside sound; then the open group's start,
        stop and zeros.
    """

    samples: NDArray[np.float64]
    held: int
    base: int
    sample_peak: NDArray[np.float64]
    true_peak: NDArray[np.float64]
    flat: NDArray[np.float64]
    zero: NDArray[np.int64]
    flat_tops: list[FlatTop]
    zero_runs: list[ZeroRun]


def run_settings(sample_rate_hz: int, zero_s_min: float, flat_samples_min: int) -> RunSettings:
    """Prepare for one rate; zeros and flat tops count from these lengths on."""
    zero_samples_min = max(2, round(zero_s_min * sample_rate_hz))
    # A run of zeros that counts holds at least one whole chunk.
    chunk = min(_CHUNK_MOST, zero_samples_min // 2)
    phases = interpolation_phases(sample_rate_hz)
    near = math.ceil(_NEAR_S * sample_rate_hz / chunk)
    return RunSettings(
        sample_rate_hz=sample_rate_hz,
        chunk=chunk,
        near=near,
        keep=near + math.ceil(phases.shape[1] / chunk) + 1,
        zero_samples_min=zero_samples_min,
        flat_samples_min=flat_samples_min,
        phases=phases,
        bound=phase_bound(phases),
    )


def start_runs(settings: RunSettings, channels: int) -> RunMemory:
    """Begin with silence before the first sample."""
    lead = settings.keep * settings.chunk
    return RunMemory(
        samples=np.zeros((channels, lead)),
        held=lead,
        base=-lead,
        sample_peak=np.zeros(channels),
        true_peak=np.zeros(channels),
        flat=np.zeros((channels, 5)),
        zero=np.array([-1, 0, 0, 0, 0], dtype=np.int64),
        flat_tops=[],
        zero_runs=[],
    )


def step_runs(settings: RunSettings, memory: RunMemory, block: NDArray[np.float64]) -> None:
    """Take one block, shape (n, c)."""
    chunk, near, keep = settings.chunk, settings.near, settings.keep
    _append(memory, block)
    count = memory.held // chunk
    peaks = np.stack([chunk_peaks(row[: count * chunk], chunk) for row in memory.samples])
    if not np.isfinite(peaks).all():
        raise AudioUnfit(
            "hear/not-finite",
            "A measurement needs numbers for samples; this sound holds some that are none. "
            "Export the recording again.",
        )
    stop = count - near
    if stop <= keep:
        return
    _take_peaks(settings, memory, peaks, stop)
    _take_zeros(settings, memory, peaks.max(axis=0), stop)
    gone = (stop - keep) * chunk
    rest = memory.held - gone
    memory.samples[:, :rest] = memory.samples[:, gone : memory.held].copy()
    memory.held = rest
    memory.base += gone


def end_runs(settings: RunSettings, memory: RunMemory) -> RunMemory:
    """Give the memory as it is once silence has followed the last sample; ``memory`` stays.

    A run of zeros that reaches the end is left out.
    """
    last = RunMemory(
        samples=memory.samples[:, : memory.held].copy(),
        held=memory.held,
        base=memory.base,
        sample_peak=memory.sample_peak.copy(),
        true_peak=memory.true_peak.copy(),
        flat=memory.flat.copy(),
        zero=memory.zero.copy(),
        flat_tops=list(memory.flat_tops),
        zero_runs=list(memory.zero_runs),
    )
    lasting = (settings.near + settings.keep + 1) * settings.chunk
    step_runs(settings, last, np.zeros((lasting, memory.samples.shape[0])))
    last.flat_tops += [_flat_top(flat) for flat in last.flat if flat[2] > 0]
    last.flat_tops.sort(key=lambda top: top.start)
    if last.zero[4] > 0:
        last.zero_runs.append(_zero_run(last.zero[2:]))
    return last


def _append(memory: RunMemory, block: NDArray[np.float64]) -> None:
    stop = memory.held + block.shape[0]
    if stop > memory.samples.shape[1]:
        room = np.empty((memory.samples.shape[0], stop))
        room[:, : memory.held] = memory.samples[:, : memory.held]
        memory.samples = room
    memory.samples[:, memory.held : stop] = block.T
    memory.held = stop


def _take_peaks(
    settings: RunSettings, memory: RunMemory, peaks: NDArray[np.float64], stop: int
) -> None:
    first, chunk = settings.keep, settings.chunk
    gap = round(_FLAT_GAP_S * settings.sample_rate_hz)
    for channel, samples in enumerate(memory.samples):
        greatest = peaks[channel, first:stop].max()
        memory.sample_peak[channel] = max(memory.sample_peak[channel], greatest)
        memory.true_peak[channel] = interpolated_peak(
            samples,
            peaks[channel, :stop],
            first,
            chunk,
            settings.phases,
            settings.bound,
            max(memory.true_peak[channel], greatest),
        )
        events = np.empty(((stop - first) * chunk // gap + 2, 5))
        count = _flat_tops(
            samples,
            peaks[channel],
            first,
            stop,
            chunk,
            settings.near,
            memory.base,
            settings.flat_samples_min,
            gap,
            memory.flat[channel],
            events,
        )
        memory.flat_tops += [_flat_top(event) for event in events[:count]]


def _take_zeros(
    settings: RunSettings, memory: RunMemory, loudest: NDArray[np.float64], stop: int
) -> None:
    first = settings.keep
    if memory.zero[0] < 0 and loudest[first:stop].all():
        return
    gap = round(_ZERO_GAP_S * settings.sample_rate_hz)
    groups = np.empty(((stop - first) * settings.chunk // gap + 2, 3), dtype=np.int64)
    count = _zero_runs(
        memory.samples,
        loudest,
        first,
        stop,
        settings.chunk,
        memory.base,
        settings.zero_samples_min,
        max(1, round(_BESIDE_ZEROS_S * settings.sample_rate_hz)),
        gap,
        memory.zero,
        groups,
    )
    memory.zero_runs += [_zero_run(group) for group in groups[:count]]


def _flat_top(event: NDArray[np.float64]) -> FlatTop:
    return FlatTop(
        start=int(event[0]),
        stop=int(event[1]),
        runs=int(event[2]),
        longest=int(event[3]),
        value=float(event[4]),
    )


def _zero_run(group: NDArray[np.int64]) -> ZeroRun:
    return ZeroRun(start=int(group[0]), stop=int(group[1]), zeros=int(group[2]))


@kernel
def _flat_tops(
    samples: NDArray[np.float64],
    peaks: NDArray[np.float64],
    first: int,
    stop: int,
    chunk: int,
    near: int,
    base: int,
    shortest: int,
    gap: int,
    flat: NDArray[np.float64],
    events: NDArray[np.float64],
) -> int:
    count = 0
    longest_run = near * chunk - 1
    for index in range(first, stop):
        if peaks[index] < _LOWEST_TOP:
            continue
        top = 0.0
        for other in range(index - near, index + near + 1):
            top = max(top, peaks[other])
        least = top * _TOP_SHARE
        if peaks[index] < least:
            continue
        for i in range(index * chunk, (index + 1) * chunk):
            value = abs(samples[i])
            if value < least:
                continue
            sign = 1.0 if samples[i] > 0.0 else -1.0
            if value - sign * samples[i - 1] <= _CORNER * FLAT_WITHIN:
                continue
            low, high = value, value
            end = i + 1
            while end - i < longest_run:
                value = sign * samples[end]
                low, high = min(low, value), max(high, value)
                if high - low > FLAT_WITHIN:
                    break
                end += 1
            if end - i < shortest or end - i >= longest_run:
                continue
            value = sign * samples[i]
            fall = min(value - sign * samples[i - 1], value - sign * samples[end])
            if fall <= _CORNER * FLAT_WITHIN:
                continue
            # Coarse steps (8-bit sound, telephone codes) make flat tops of round ones; where
            # changes are larger than such steps are, the sound is one flat top after another.
            step = 2.0
            for j in range(max(1, i - longest_run), min(samples.size, i + longest_run)):
                change = abs(samples[j] - samples[j - 1])
                if change > 0.0 and abs(samples[j]) >= 0.5 * top:
                    step = min(step, change)
            if step <= max(_COARSEST_STEP, _COARSEST_SHARE * top) and fall <= _CORNER_STEPS * step:
                continue
            place = base + i
            if flat[2] > 0 and place - flat[1] > gap:
                for column in range(5):
                    events[count, column] = flat[column]
                count += 1
                flat[2] = 0
            if flat[2] == 0:
                flat[0], flat[3], flat[4] = place, 0, 0
            flat[1] = place + (end - i)
            flat[2] += 1
            flat[3] = max(flat[3], end - i)
            flat[4] = max(flat[4], abs(samples[i]))
    return count


@kernel
def _zero_runs(
    samples: NDArray[np.float64],
    peaks: NDArray[np.float64],
    first: int,
    stop: int,
    chunk: int,
    base: int,
    shortest: int,
    beside: int,
    gap: int,
    zero: NDArray[np.int64],
    groups: NDArray[np.int64],
) -> int:
    count = 0
    for index in range(first, stop):
        silent = peaks[index] == 0.0
        if silent and zero[0] < 0:
            i = index * chunk
            while i > 0 and _loudest(samples, i - 1, i) == 0.0:
                i -= 1
            zero[0] = max(0, base + i)
            zero[1] = _loudest(samples, max(0, i - beside), i) >= _BESIDE_ZEROS_MIN
        elif not silent and zero[0] >= 0:
            i = index * chunk
            while _loudest(samples, i, i + 1) == 0.0:
                i += 1
            start, end = zero[0], base + i
            zero[0] = -1
            sound = zero[1] > 0 and _loudest(samples, i, i + beside) >= _BESIDE_ZEROS_MIN
            if end - start < shortest or not sound:
                continue
            if zero[4] > 0 and start - zero[3] > gap:
                groups[count, 0], groups[count, 1], groups[count, 2] = zero[2], zero[3], zero[4]
                count += 1
                zero[4] = 0
            if zero[4] == 0:
                zero[2] = start
            zero[3] = end
            zero[4] += end - start
    return count


@kernel
def _loudest(samples: NDArray[np.float64], start: int, stop: int) -> float:
    loudest = 0.0
    for channel in range(samples.shape[0]):
        for i in range(start, stop):
            loudest = max(loudest, abs(samples[channel, i]))
    return loudest
