"""One pass over a recording, block by block: everything that is measured, at once.

The fold's law: any cutting of the recording into blocks gives the same hearing, to rounding.
Memory grows by some 25 bytes for each 100 ms of sound, whatever its rate.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.listening.faults import clip_findings, dead_air_findings, dropout_findings
from quietleaf.listening.findings import Finding
from quietleaf.listening.frames import (
    FRAMES_PER_S,
    P56_THRESHOLDS,
    ChannelMemory,
    FrameFilters,
    frame_filters,
    frame_start,
    frame_starts,
    hear_frames,
)
from quietleaf.listening.hearing import (
    SILENT_CDB,
    Curve,
    Hearing,
    Level,
    LevelTrack,
    Loudness,
    Peak,
)
from quietleaf.listening.limits import HEARING_LIMITS, HearingLimits
from quietleaf.listening.loudness import (
    channel_weights,
    integrated_loudness_lufs,
    loudness_range_lu,
    lufs_of_power,
)
from quietleaf.listening.sample_runs import (
    RunMemory,
    RunSettings,
    end_runs,
    run_settings,
    start_runs,
    step_runs,
)
from quietleaf.listening.speech import speech_frames
from quietleaf.listening.speech_level import active_speech_level_dbov, counted_samples
from quietleaf.listening.verdict import verdict_of
from quietleaf.units import db_of_ratio

_HOP_FRAMES = 10
_MOMENTARY_FRAMES = 40
_SHORT_TERM_FRAMES = 300
_FLOOR_FRAMES = 5
_FLOOR_PERCENTILE = 10.0
_FLOOR_FRAMES_MIN = 25


@dataclass(slots=True, kw_only=True)
class ListenState:
    """What is kept of a recording while it is heard.

    Attributes
    ----------
    recent : ndarray
        Weighted K-energies of the last frames, as far as windows still reach back.
    power : array of float
        Mean weighted K-power of successive 100 ms.
    full_cdb, voice_cdb : array of int16
        Frame levels above 20 and above 80 Hz.
    """

    sample_rate_hz: int
    channels: int
    limits: HearingLimits
    filters: FrameFilters
    weights: NDArray[np.float64]
    run_settings: RunSettings
    runs: RunMemory
    memory: list[ChannelMemory]
    position: int = 0
    frame: int = 0
    recent: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    momentary_max: float = 0.0
    short_term_max: float = 0.0
    power: array[float] = field(default_factory=lambda: array("d"))
    full_cdb: array[int] = field(default_factory=lambda: array("h"))
    voice_cdb: array[int] = field(default_factory=lambda: array("h"))


def hear(
    blocks: Iterable[NDArray[np.float64]],
    sample_rate_hz: int,
    channels: int,
    limits: HearingLimits = HEARING_LIMITS,
) -> Hearing:
    """Hear a whole recording.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n, c), float64, full scale = 1.0
        Successive blocks of any length.
    sample_rate_hz : int
        At least 8000.
    channels : int
        At least 1; see `channel_weights` for their weights in the loudness.

    Returns
    -------
    hearing : Hearing
        Silence has no loudness, no level and no peak (None), no speech, and is to be read again.

    Raises
    ------
    AudioUnfit
        If the rate is too low or a sample is not finite.

    Notes
    -----
    Loudness by BS.1770-5 [1]_; momentary and short-term maxima on windows that move by 10 ms,
    range and ballistics by EBU Tech 3341 and 3342 [2]_ [3]_. True peak by Annex 2 of [1]_.
    Active speech level by P.56, method B [4]_, above 20 Hz, of the channel where it is highest.
    The noise floor is unweighted above 20 Hz: the 10th percentile of means of 50 ms outside
    speech, of the loudest channel, without exact silence.

    References
    ----------
    .. [1] ITU-R BS.1770-5 (11/2023).
    .. [2] EBU Tech 3341 v4 (2023).
    .. [3] EBU Tech 3342 v4 (2023).
    .. [4] ITU-T P.56 (2011).

    Examples
    --------
    >>> t = np.arange(5 * 48_000) / 48_000
    >>> tone = 10 ** (-20 / 20) * np.sin(2 * np.pi * 997 * t)
    >>> heard = hear([tone[:, np.newaxis]], 48_000, 1)
    >>> round(heard.loudness.integrated_lufs, 1), round(heard.peak.true_dbtp, 1)
    (-23.0, -20.0)
    """
    state = start(sample_rate_hz, channels, limits)
    for block in blocks:
        step(state, block)
    return result(state)


def start(
    sample_rate_hz: int, channels: int, limits: HearingLimits = HEARING_LIMITS
) -> ListenState:
    """Begin a hearing."""
    settings = run_settings(sample_rate_hz, limits.dropout_s)
    return ListenState(
        sample_rate_hz=sample_rate_hz,
        channels=channels,
        limits=limits,
        filters=frame_filters(sample_rate_hz),
        weights=channel_weights(channels),
        run_settings=settings,
        runs=start_runs(settings, channels),
        memory=[ChannelMemory() for _ in range(channels)],
    )


def step(state: ListenState, block: NDArray[np.float64]) -> None:
    """Hear one more block, shape (n, c), full scale 1.0.

    Raises
    ------
    AudioUnfit
        If a sample is not finite.
    """
    channels = [np.ascontiguousarray(block[:, index]) for index in range(state.channels)]
    frames = _frames_in(state, block.shape[0])
    k_energy = np.empty((state.channels, frames))
    full_energy, voice_energy = np.empty_like(k_energy), np.empty_like(k_energy)
    for index, samples in enumerate(channels):
        memory = state.memory[index]
        hear_frames(
            samples,
            state.position,
            state.frame,
            state.sample_rate_hz,
            state.filters.numbers,
            state.filters.hangover_samples,
            np.array(P56_THRESHOLDS),
            memory.filters,
            memory.level,
            memory.active,
            memory.entered,
            memory.left,
            k_energy[index],
            full_energy[index],
            voice_energy[index],
        )
        if not (np.isfinite(full_energy[index]).all() and np.isfinite(memory.filters).all()):
            raise AudioUnfit(
                "hear/not-finite",
                "Listening needs numbers for samples; this sound holds some that are none. "
                "Export the recording again.",
            )
    step_runs(state.run_settings, state.runs, channels)
    lengths = np.diff(frame_starts(state.frame, frames + 1, state.sample_rate_hz))
    state.full_cdb.frombytes(_level_cdb(full_energy.max(axis=0) / lengths).tobytes())
    state.voice_cdb.frombytes(_level_cdb(voice_energy.max(axis=0) / lengths).tobytes())
    _step_loudness(state, state.weights @ k_energy)
    state.position += block.shape[0]
    state.frame += frames


def result(state: ListenState) -> Hearing:
    """Say what was heard so far; the hearing may go on afterwards."""
    rate = state.sample_rate_hz
    power = np.array(state.power)
    full_cdb = np.array(state.full_cdb, dtype=np.int16)
    runs = end_runs(state.run_settings, state.runs)
    sample_peak = float(runs.sample_peak.max(initial=0.0))
    true_peak = max(sample_peak, float(runs.true_peak.max(initial=0.0)))
    active_dbov = _active_speech_dbov(state)
    spoken = speech_frames(np.array(state.voice_cdb, dtype=np.int16))
    speech_s = spoken / FRAMES_PER_S
    pauses_s = np.stack([speech_s[:-1, 1], speech_s[1:, 0]], axis=1)
    level = Level(
        active_speech_dbov=active_dbov,
        noise_floor_dbov=_noise_floor_dbov(full_cdb, spoken),
        dc=_dc(state),
    )
    findings: list[Finding] = [
        *clip_findings(runs.flat_tops, sample_peak, rate, state.limits),
        *dropout_findings(runs.zero_runs, speech_s, rate, state.limits),
        *dead_air_findings(pauses_s, state.limits),
    ]
    findings.sort(key=lambda finding: finding.start_s)
    verdict, reasons = verdict_of(
        findings, level, float((speech_s[:, 1] - speech_s[:, 0]).sum()), state.limits
    )
    return Hearing(
        duration_s=state.position / rate,
        sample_rate_hz=rate,
        channels=state.channels,
        loudness=Loudness(
            integrated_lufs=integrated_loudness_lufs(power),
            range_lu=loudness_range_lu(power),
            momentary_max_lufs=_measured(lufs_of_power(state.momentary_max)),
            short_term_max_lufs=_measured(lufs_of_power(state.short_term_max)),
        ),
        peak=Peak(
            sample_dbfs=_measured(db_of_ratio(sample_peak)),
            true_dbtp=_measured(db_of_ratio(true_peak)),
        ),
        level=level,
        speech_s=speech_s,
        pauses_s=pauses_s,
        words_per_minute=None,
        sentence_starts_s=None,
        findings=tuple(findings),
        verdict=verdict,
        reasons=reasons,
        curve=Curve(power=power),
        track=LevelTrack(level_cdb=full_cdb, speech_frames=spoken),
    )


def _frames_in(state: ListenState, samples: int) -> int:
    """Count the frames that the next so many samples complete."""
    end = state.position + samples
    frames = end * FRAMES_PER_S // state.sample_rate_hz - state.frame + 1
    while frame_start(state.frame + frames, state.sample_rate_hz) > end:
        frames -= 1
    return frames


def _step_loudness(state: ListenState, energy: NDArray[np.float64]) -> None:
    """Move the windows over new frames; each is summed from its own frames alone."""
    energies = np.concatenate([state.recent, energy])
    first = state.frame - state.recent.size
    starts = frame_starts(first, energies.size + 1, state.sample_rate_hz)
    tens = _sums(energies, _HOP_FRAMES, 1)
    ten_lengths = starts[_HOP_FRAMES:] - starts[:-_HOP_FRAMES]
    new = slice(-first % _HOP_FRAMES, None, _HOP_FRAMES)
    done = max(0, len(state.power) - (first + _HOP_FRAMES - 1) // _HOP_FRAMES)
    state.power.extend((tens[new] / ten_lengths[: tens.size][new])[done:].tolist())
    for frames, name in (
        (_MOMENTARY_FRAMES, "momentary_max"),
        (_SHORT_TERM_FRAMES, "short_term_max"),
    ):
        windows = _sums(tens, frames // _HOP_FRAMES, _HOP_FRAMES)
        if windows.size:
            lengths = starts[frames:] - starts[:-frames]
            greatest = float((windows / lengths).max())
            setattr(state, name, max(getattr(state, name), greatest))
    state.recent = energies[max(0, energies.size - _SHORT_TERM_FRAMES + 1) :].copy()


def _sums(values: NDArray[np.float64], count: int, step: int) -> NDArray[np.float64]:
    """Sum ``count`` values that lie ``step`` apart, from every place where all of them exist."""
    size = values.size - (count - 1) * step
    if size <= 0:
        return np.empty(0)
    total = values[:size].copy()
    for index in range(1, count):
        total += values[index * step : index * step + size]
    return total


def _level_cdb(power: NDArray[np.float64]) -> NDArray[np.int16]:
    level = np.full(power.shape, SILENT_CDB, dtype=np.int16)
    heard = power > 0.0
    hundredths = np.rint(1000.0 * np.log10(power[heard]))
    level[heard] = np.clip(hundredths, SILENT_CDB + 1, -SILENT_CDB - 1).astype(np.int16)
    return level


def _active_speech_dbov(state: ListenState) -> float | None:
    levels = []
    for memory in state.memory:
        counts = counted_samples(
            int(memory.level[0]),
            memory.active,
            memory.entered,
            memory.left,
            state.position,
            state.filters.hangover_samples,
        )
        squares = memory.sum_of_squares * state.filters.full_band_gain**2
        levels.append(active_speech_level_dbov(squares, counts))
    return max((level for level in levels if level is not None), default=None)


def _noise_floor_dbov(full_cdb: NDArray[np.int16], spoken: NDArray[np.int64]) -> float | None:
    quiet = np.ones(full_cdb.size, dtype=np.bool_)
    for first, stop in spoken:
        quiet[first:stop] = False
    quiet &= full_cdb != SILENT_CDB
    if np.count_nonzero(quiet) < _FLOOR_FRAMES_MIN:
        quiet = full_cdb != SILENT_CDB
    frames = np.flatnonzero(quiet)
    frames = frames[: frames.size - frames.size % _FLOOR_FRAMES]
    if frames.size == 0:
        return None
    power = 10.0 ** (full_cdb[frames].astype(np.float32) * np.float32(0.001))
    means = power.reshape(-1, _FLOOR_FRAMES).mean(axis=1)
    return 10.0 * math.log10(float(np.percentile(means, _FLOOR_PERCENTILE)))


def _dc(state: ListenState) -> float:
    if state.position == 0:
        return 0.0
    return max((memory.sum / state.position for memory in state.memory), key=abs)


def _measured(value: float) -> float | None:
    return value if math.isfinite(value) else None
