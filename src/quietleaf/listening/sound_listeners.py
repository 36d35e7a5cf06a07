"""Everybody who listens to chunks of frames: each takes a chunk in and keeps little of it."""

from __future__ import annotations

import copy
from dataclasses import dataclass

from quietleaf.listening.hum import HumMemory, step_hum
from quietleaf.listening.low_sound import low_sound, low_step
from quietleaf.listening.sound_frames import SoundFrames


@dataclass(slots=True, kw_only=True)
class SoundListeners:
    """What each of them keeps from chunk to chunk."""

    low_step: int
    hum: HumMemory


def start_listeners(sample_rate_hz: int) -> SoundListeners:
    """Begin before the first chunk."""
    step = low_step(sample_rate_hz)
    return SoundListeners(low_step=step, hum=HumMemory(rate_hz=sample_rate_hz / step))


def step_listeners(listeners: SoundListeners, chunk: SoundFrames) -> None:
    """Let all of them take the next chunk in."""
    low = low_sound(chunk.samples, listeners.low_step)
    step_hum(listeners.hum, low)


def with_rest(listeners: SoundListeners, rest: SoundFrames | None) -> SoundListeners:
    """Give a copy that has heard the last, shorter chunk as well; ``listeners`` stay."""
    last = copy.deepcopy(listeners)
    if rest is not None:
        step_listeners(last, rest)
    return last
