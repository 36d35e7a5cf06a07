"""Hear a recording in one pass, block by block, in memory that hardly grows with its length."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit, Invalid
from quietleaf.listening.clipping import clip_findings
from quietleaf.listening.dead_air import dead_air_findings
from quietleaf.listening.dropouts import dropout_findings
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
from quietleaf.listening.hearing import (
    Curve,
    Hearing,
    Level,
    LevelTrack,
    Peak,
)
from quietleaf.listening.hum import hum_findings
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
from quietleaf.listening.sentence_model import LIKELY
from quietleaf.listening.sentence_starts import (
    SentenceMemory,
    SentenceStart,
    start_sentences,
    step_frames,
)
from quietleaf.listening.series import Series
from quietleaf.listening.sound_frames import SoundMemory, rest_of_sound, start_sound, step_sound
from quietleaf.listening.sound_listeners import (
    SoundListeners,
    start_listeners,
    step_listeners,
    with_rest,
)
from quietleaf.listening.speech import pauses_between, speech_frames
from quietleaf.listening.speech_level import active_speech_level_dbov, loudest, mean_sample
from quietleaf.listening.verdict import verdict_of

_THRESHOLDS = np.array(P56_THRESHOLDS)


@dataclass(slots=True, kw_only=True)
class ListenState:
    """A recording heard up to some sample."""

    sample_rate_hz: int
    channels: int
    limits: HearingLimits
    filters: FrameFilters
    settings: RunSettings
    memories: list[ChannelMemory]
    runs: RunMemory
    loudness: LoudnessMemory
    steps: Series
    slot_cdb: Series
    slot_rest: NDArray[np.float64]
    sentences: SentenceMemory
    starts: list[SentenceStart]
    sound: SoundMemory
    listeners: SoundListeners
    samples: int
    frames: int


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
        In order; any lengths: how the recording is cut does not matter.
    sample_rate_hz : int
        At least 8000.
    channels : int
        In the order of WAVE files.
    limits : HearingLimits
        What findings and verdict are held against.

    Returns
    -------
    hearing : Hearing
        Silence has no loudness, no peak and no level (None), and nobody speaks in it.

    Raises
    ------
    AudioUnfit
        If the rate is lower than 8 kHz, or a sample is not a number that can be squared.

    Notes
    -----
    Measurements and their sources: `loudness` (ITU-R BS.1770-5, EBU Tech 3341 and 3342 v4),
    `sound.true_peak` (BS.1770-5, Annex 2), `speech_level` (ITU-T P.56, method B), `noise_floor`,
    `speech`, `sentence_starts`, `clipping`, `dropouts`, `dead_air`, `verdict`. Speech level and
    noise floor are those of the louder channel, and DC is that of the channel where it is furthest
    from zero.

    Examples
    --------
    >>> t = np.arange(5 * 48_000) / 48_000
    >>> tone = 10 ** (-23 / 20) * np.sin(2 * np.pi * 1000 * t)
    >>> hearing = hear([np.column_stack([tone, tone])], 48_000, 2)
    >>> round(hearing.loudness.integrated_lufs, 1), round(hearing.peak.sample_dbfs, 1)
    (-23.0, -23.0)
    """
    state = start(sample_rate_hz, channels, limits)
    for block in blocks:
        step(state, block)
    return result(state)


def start(
    sample_rate_hz: int, channels: int, limits: HearingLimits = HEARING_LIMITS
) -> ListenState:
    """Begin before the first sample; refusals as in `hear`."""
    if channels < 1:
        raise Invalid(
            "hear/no-channels", f"A recording has at least one channel; this one has {channels}."
        )
    settings = run_settings(sample_rate_hz, limits.dropout_s_min, limits.clip_samples_min)
    return ListenState(
        sample_rate_hz=sample_rate_hz,
        channels=channels,
        limits=limits,
        filters=frame_filters(sample_rate_hz),
        settings=settings,
        memories=[ChannelMemory() for _ in range(channels)],
        runs=start_runs(settings, channels),
        loudness=start_loudness(sample_rate_hz, channels),
        steps=Series(np.uint8, ROOM_S * FRAMES_PER_S),
        slot_cdb=Series(np.int16, ROOM_S * FRAMES_PER_S // FRAMES_A_SLOT),
        slot_rest=np.empty(0),
        sentences=start_sentences(sample_rate_hz),
        starts=[],
        sound=start_sound(sample_rate_hz, channels),
        listeners=start_listeners(sample_rate_hz),
        samples=0,
        frames=0,
    )


def step(state: ListenState, block: NDArray[np.float64]) -> None:
    """Hear the next block, shape (n, c); ``state`` is changed."""
    if block.ndim != 2 or block.shape[1] != state.channels:
        raise Invalid(
            "hear/shape",
            f"A block has the shape (samples, {state.channels}) here; this one has {block.shape}.",
        )
    if block.shape[0] == 0:
        return
    step_runs(state.settings, state.runs, block)
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
    memories_finite = all(np.isfinite(memory.filters).all() for memory in state.memories)
    if not (memories_finite and np.isfinite(energies[:, :, :done]).all()):
        raise AudioUnfit(
            "hear/not-finite",
            "A measurement needs samples near full scale; this sound holds numbers far beyond it. "
            "Export the recording again.",
        )
    voice_power = low_power = np.empty(0)
    if done:
        voice_power, low_power = _take_frames(state, energies[:, :, :done])
    for chunk in step_sound(state.sound, block, voice_power, low_power):
        step_listeners(state.listeners, chunk)
    state.samples += block.shape[0]
    state.frames += done


def result(state: ListenState) -> Hearing:
    """Say what was heard so far; ``state`` stays as it is and can be stepped further."""
    rate = state.sample_rate_hz
    runs = end_runs(state.settings, state.runs)
    steps = state.steps.values().astype(np.uint8, copy=False)
    frames = speech_frames(steps)
    speech_s = frames.astype(np.float64) / FRAMES_PER_S
    pauses_s = pauses_between(speech_s)
    level = Level(
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
    )
    sample_peak = float(runs.sample_peak.max())
    listeners = with_rest(state.listeners, rest_of_sound(state.sound))
    findings = [
        *clip_findings(runs.flat_tops, sample_peak, rate, state.limits),
        *dropout_findings(runs.zero_runs, pauses_s, state.samples, rate, state.limits),
        *dead_air_findings(pauses_s, state.limits),
        *hum_findings(listeners.hum, level, state.limits),
    ]
    findings.sort(key=lambda found: found.start_s)
    duration_s = state.samples / rate
    verdict, reasons = verdict_of(
        level, float((speech_s[:, 1] - speech_s[:, 0]).sum()), duration_s, findings, state.limits
    )
    return Hearing(
        duration_s=duration_s,
        sample_rate_hz=rate,
        channels=state.channels,
        loudness=loudness_of(state.loudness),
        peak=Peak(
            sample_dbfs=_db_or_none(sample_peak),
            true_dbtp=_db_or_none(float(runs.true_peak.max())),
        ),
        level=level,
        speech_s=speech_s,
        pauses_s=pauses_s,
        words_per_minute=None,
        sentences=tuple(start for start in state.starts if start.likelihood >= LIKELY),
        findings=tuple(findings),
        verdict=verdict,
        reasons=reasons,
        curve=Curve(power=hop_powers(state.loudness)),
        track=LevelTrack(steps=steps, speech_frames=frames),
    )


def _take_frames(
    state: ListenState, energies: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Take in what frames hold; give their powers above 80 Hz, and from 80 to 500 Hz."""
    k_energy, full_energy, voice_energy, low_energy = energies
    count = k_energy.shape[1]
    step_loudness(state.loudness, k_energy)
    lengths = np.diff(frame_starts(state.frames, count + 1, state.sample_rate_hz))
    voice_power = voice_energy.max(axis=0) / lengths
    state.steps.extend(steps_of_power(voice_power))
    low_power = low_energy.max(axis=0) / lengths
    found = step_frames(state.sentences, voice_power, low_power)
    state.starts.extend(found)

    power = np.concatenate([state.slot_rest, full_energy.max(axis=0) / lengths])
    slots = power.size // FRAMES_A_SLOT
    whole = power[: slots * FRAMES_A_SLOT].reshape(slots, FRAMES_A_SLOT)
    state.slot_cdb.extend(_cdb(whole.mean(axis=1)))
    state.slot_rest = power[slots * FRAMES_A_SLOT :].copy()
    return voice_power, low_power


def _cdb(power: NDArray[np.float64]) -> NDArray[np.int16]:
    """Turn powers into hundredths of a decibel."""
    with np.errstate(divide="ignore"):
        cdb = np.rint(1000.0 * np.log10(power))
    return np.where(
        power > 0.0, np.clip(cdb, SILENT_CDB + 1, -(SILENT_CDB + 1)), SILENT_CDB
    ).astype(np.int16)


def _db_or_none(magnitude: float) -> float | None:
    return 20.0 * float(np.log10(magnitude)) if magnitude > 0.0 else None
