"""Measure a recording in one pass: loudness, peaks, levels, speech; not what its sounds are.

What is heard of it besides, `listen` adds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit, Invalid
from quietleaf.listening.frames import (
    FRAMES_PER_S,
    P56_THRESHOLDS,
    ROOM_S,
    ChannelMemory,
    FrameFilters,
    frame_filters,
    frame_starts,
    hear_frames,
)
from quietleaf.listening.hearing import Curve, Level, LevelTrack, Measured, Peak
from quietleaf.listening.level_steps import steps_of_power
from quietleaf.listening.limits import HEARING_LIMITS, HearingLimits
from quietleaf.listening.loudness_windows import (
    LoudnessMemory,
    hop_powers,
    loudness_of,
    start_loudness,
    step_loudness,
)
from quietleaf.listening.noise_floor import FRAMES_A_SLOT, SILENT_CDB, noise_floor_dbov
from quietleaf.listening.sample_runs import (
    RunMemory,
    RunSettings,
    end_runs,
    run_settings,
    start_runs,
    step_runs,
)
from quietleaf.listening.series import Series
from quietleaf.listening.speech import pauses_between, speech_frames
from quietleaf.listening.speech_level import active_speech_level_dbov, loudest, mean_sample

_THRESHOLDS = np.array(P56_THRESHOLDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class FramePowers:
    """What the frames hold that a block completed.

    Attributes
    ----------
    voice, low : ndarray, shape (k,)
        Mean squares above 80 Hz, and from 80 to 500 Hz, of the louder channel.
    """

    voice: NDArray[np.float64]
    low: NDArray[np.float64]


@dataclass(slots=True, kw_only=True)
class MeasureState:
    """A recording measured up to some sample."""

    sample_rate_hz: int
    channels: int
    filters: FrameFilters
    settings: RunSettings
    memories: list[ChannelMemory]
    runs: RunMemory
    loudness: LoudnessMemory
    steps: Series
    slot_cdb: Series
    slot_rest: NDArray[np.float64]
    samples: int
    frames: int


def start_measuring(
    sample_rate_hz: int, channels: int, limits: HearingLimits = HEARING_LIMITS
) -> MeasureState:
    """Begin before the first sample; refusals as in `listen.hear`."""
    if channels < 1:
        raise Invalid(
            "hear/no-channels", f"A recording has at least one channel; this one has {channels}."
        )
    settings = run_settings(sample_rate_hz, limits.dropout_s_min, limits.clip_samples_min)
    return MeasureState(
        sample_rate_hz=sample_rate_hz,
        channels=channels,
        filters=frame_filters(sample_rate_hz),
        settings=settings,
        memories=[ChannelMemory() for _ in range(channels)],
        runs=start_runs(settings, channels),
        loudness=start_loudness(sample_rate_hz, channels),
        steps=Series(np.uint8, ROOM_S * FRAMES_PER_S),
        slot_cdb=Series(np.int16, ROOM_S * FRAMES_PER_S // FRAMES_A_SLOT),
        slot_rest=np.empty(0),
        samples=0,
        frames=0,
    )


def step_measuring(state: MeasureState, block: NDArray[np.float64]) -> FramePowers:
    """Measure the next block, shape (n, c); ``state`` is changed."""
    if block.ndim != 2 or block.shape[1] != state.channels:
        raise Invalid(
            "hear/shape",
            f"A block has the shape (samples, {state.channels}) here; this one has {block.shape}.",
        )
    if block.shape[0] == 0:
        return FramePowers(voice=np.empty(0), low=np.empty(0))
    channels = [np.ascontiguousarray(block[:, index]) for index in range(state.channels)]

    # One frame more than fits: the block may complete one that was begun before.
    room = block.shape[0] * FRAMES_PER_S // state.sample_rate_hz + 2
    energies = np.empty((4, state.channels, room))
    done = 0
    for index, (memory, samples) in enumerate(zip(state.memories, channels, strict=True)):
        done = hear_frames(
            samples,
            state.samples,
            state.frames,
            state.sample_rate_hz,
            state.filters.numbers,
            state.filters.hangover_samples,
            _THRESHOLDS,
            memory.filters,
            memory.level,
            memory.active,
            memory.entered,
            memory.left,
            energies[0, index],
            energies[1, index],
            energies[2, index],
            energies[3, index],
        )
        if done < 0:
            raise _far_beyond()
    step_runs(state.settings, state.runs, block)
    memories_finite = all(np.isfinite(memory.filters).all() for memory in state.memories)
    if not (memories_finite and np.isfinite(energies[:, :, :done]).all()):
        raise _far_beyond()
    state.samples += block.shape[0]
    state.frames += done
    return _take_frames(state, energies[:, :, :done], state.frames - done)


def _far_beyond() -> AudioUnfit:
    return AudioUnfit(
        "hear/not-finite",
        "A measurement needs samples near full scale; this sound holds numbers far beyond it. "
        "Export the recording again.",
    )


def measured(state: MeasureState) -> Measured:
    """Say what was measured so far; ``state`` stays as it is and can be stepped further."""
    runs = end_runs(state.settings, state.runs)
    steps = state.steps.values().astype(np.uint8, copy=False)
    frames = speech_frames(steps)
    speech_s = frames.astype(np.float64) / FRAMES_PER_S
    return Measured(
        duration_s=state.samples / state.sample_rate_hz,
        sample_rate_hz=state.sample_rate_hz,
        channels=state.channels,
        loudness=loudness_of(state.loudness),
        peak=Peak(
            sample_dbfs=_db_or_none(float(runs.sample_peak.max())),
            true_dbtp=_db_or_none(float(runs.true_peak.max())),
        ),
        level=Level(
            active_speech_dbov=loudest(
                [
                    active_speech_level_dbov(state.filters, memory, state.samples)
                    for memory in state.memories
                ]
            ),
            noise_floor_dbov=noise_floor_dbov(
                state.slot_cdb.values().astype(np.int16, copy=False), frames
            ),
            dc=mean_sample(state.memories, state.samples),
        ),
        speech_s=speech_s,
        pauses_s=pauses_between(speech_s),
        curve=Curve(power=hop_powers(state.loudness)),
        track=LevelTrack(steps=steps, speech_frames=frames),
    )


def _take_frames(state: MeasureState, energies: NDArray[np.float64], first: int) -> FramePowers:
    k_energy, full_energy, voice_energy, low_energy = energies
    count = k_energy.shape[1]
    if count == 0:
        return FramePowers(voice=np.empty(0), low=np.empty(0))
    step_loudness(state.loudness, k_energy)
    lengths = np.diff(frame_starts(first, count + 1, state.sample_rate_hz))
    voice = voice_energy.max(axis=0) / lengths
    state.steps.extend(steps_of_power(voice))

    power = np.concatenate([state.slot_rest, full_energy.max(axis=0) / lengths])
    slots = power.size // FRAMES_A_SLOT
    whole = power[: slots * FRAMES_A_SLOT].reshape(slots, FRAMES_A_SLOT)
    state.slot_cdb.extend(_cdb(whole.mean(axis=1)))
    state.slot_rest = power[slots * FRAMES_A_SLOT :].copy()
    return FramePowers(voice=voice, low=low_energy.max(axis=0) / lengths)


def _cdb(power: NDArray[np.float64]) -> NDArray[np.int16]:
    """Turn powers into hundredths of a decibel."""
    with np.errstate(divide="ignore"):
        cdb = np.rint(1000.0 * np.log10(power))
    return np.where(
        power > 0.0, np.clip(cdb, SILENT_CDB + 1, -(SILENT_CDB + 1)), SILENT_CDB
    ).astype(np.int16)


def _db_or_none(magnitude: float) -> float | None:
    return 20.0 * float(np.log10(magnitude)) if magnitude > 0.0 else None
