"""Everybody who listens to chunks of frames: each takes a chunk in and keeps little of it."""

from __future__ import annotations

import copy
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from quietleaf.listening.echo import EchoMemory, step_echo
from quietleaf.listening.frames import ROOM_S
from quietleaf.listening.hum import HumMemory, step_hum
from quietleaf.listening.jumps import ToneMemory, step_tone
from quietleaf.listening.low_sound import low_sound, low_step
from quietleaf.listening.pace import PaceMemory, step_pace
from quietleaf.listening.pops import PopMemory, step_pops
from quietleaf.listening.repeats import RepeatMemory, step_repeats
from quietleaf.listening.restarts import RestartMemory, lasting, step_restarts
from quietleaf.listening.room_swells import SLOTS_PER_S, quiet_cdb
from quietleaf.listening.series import Series
from quietleaf.listening.sound_frames import SoundFrames
from quietleaf.listening.sound_kinds import (
    KindsChunk,
    KindsMemory,
    KnownSounds,
    end_kinds,
    start_kinds,
    step_kinds,
)
from quietleaf.listening.splices import SpliceMemory, step_splices
from quietleaf.listening.under_words import DisturbedWindows


@dataclass(slots=True, kw_only=True)
class SoundListeners:
    """What each of them keeps from chunk to chunk."""

    low_step: int
    hum: HumMemory
    pops: PopMemory
    tones: ToneMemory
    echo: EchoMemory
    repeats: RepeatMemory
    splices: SpliceMemory
    kinds: KindsMemory
    pace: PaceMemory
    restarts: RestartMemory
    sounds: list[KnownSounds] = field(default_factory=list)
    disturbed: list[DisturbedWindows] = field(default_factory=list)
    rooms_cdb: Series = field(default_factory=lambda: Series(np.int16, ROOM_S * SLOTS_PER_S))


def start_listeners(sample_rate_hz: int) -> SoundListeners:
    """Begin before the first chunk."""
    step = low_step(sample_rate_hz)
    low_rate_hz = sample_rate_hz / step
    return SoundListeners(
        low_step=step,
        hum=HumMemory(rate_hz=low_rate_hz),
        pops=PopMemory(rate_hz=low_rate_hz),
        tones=ToneMemory(),
        echo=EchoMemory(),
        repeats=RepeatMemory(),
        splices=SpliceMemory(sample_rate_hz=sample_rate_hz),
        kinds=start_kinds(),
        pace=PaceMemory(),
        restarts=RestartMemory(),
    )


def step_listeners(listeners: SoundListeners, chunk: SoundFrames) -> None:
    """Let all of them take the next chunk in."""
    low = low_sound(chunk.samples, listeners.low_step)
    step_hum(listeners.hum, low)
    step_pops(listeners.pops, low, chunk.level_dbov)
    step_tone(listeners.tones, chunk)
    step_echo(listeners.echo, chunk)
    step_repeats(listeners.repeats, chunk.samples)
    step_splices(listeners.splices, chunk.samples)
    told = step_kinds(listeners.kinds, chunk)
    if told is not None:
        _step_voice(listeners, told)


def with_rest(listeners: SoundListeners, rest: SoundFrames | None) -> SoundListeners:
    """Give a copy that has heard the last, shorter chunk as well; ``listeners`` stay."""
    # What is never changed again is not copied: hours of it weigh.
    kept: tuple[list[Any], ...] = (
        listeners.sounds,
        listeners.disturbed,
        *lasting(listeners.restarts),
    )
    last = copy.deepcopy(listeners, {id(known): list(known) for known in kept})
    if rest is not None:
        step_listeners(last, rest)
    told = end_kinds(last.kinds)
    if told is not None:
        _step_voice(last, told)
    return last


def _step_voice(listeners: SoundListeners, told: KindsChunk) -> None:
    """Let those take a chunk in who ask what in it is a voice; it is known one chunk later."""
    step_pace(listeners.pace, told.frames, told.speech)
    step_restarts(listeners.restarts, told.frames, told.speech)
    listeners.sounds.append(told.sounds)
    listeners.disturbed.append(told.disturbed)
    listeners.rooms_cdb.extend(quiet_cdb(told.frames.level_dbov, told.speech))
