"""Where sentences begin: pauses as they end, a place in each to go back to, and how likely it is.

A fold over blocks; the answers do not depend on how the sound is cut.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.listening.frames import frame_start
from quietleaf.listening.sentence_frames import (
    BEGAN,
    FRAMES_PER_S,
    FrameMemory,
    band_frames,
    band_numbers,
    follow,
)
from quietleaf.listening.sentence_model import ReaderMemory, likelihood_of
from quietleaf.listening.sentence_pause import pause_before

RATE_HZ_MIN = 8_000
PAUSE_FRAMES_MIN = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class SentenceStart:
    """A place from which reading can go on: in samples.

    Attributes
    ----------
    place : int
        In the pause, in room tone: before a breath where one leads into the words.
    pause_start, pause_stop : int
        From the release of the word before to the onset of what follows (a breath that goes over
        into the words is a part of them). The first words of a sound have pause_start 0.
    likelihood : float
        That a sentence begins here, 0 to 1.
    """

    place: int
    pause_start: int
    pause_stop: int
    likelihood: float


@dataclass(slots=True, kw_only=True)
class SentenceMemory:
    """Sound heard up to some sample."""

    sample_rate_hz: int
    numbers: NDArray[np.float64]
    filters: NDArray[np.float64] = field(default_factory=lambda: np.zeros(8))
    frames: FrameMemory = field(default_factory=FrameMemory)
    reader: ReaderMemory = field(default_factory=ReaderMemory)
    samples: int = 0
    is_first: bool = True
    speech_start: int = 0


def sentence_starts(samples: NDArray[np.float64], sample_rate_hz: int) -> tuple[SentenceStart, ...]:
    """Find the pauses of a whole sound.

    Parameters
    ----------
    samples : ndarray, shape (n,), full scale 1.0
    sample_rate_hz : int
        At least 8000.

    Returns
    -------
    starts : tuple of SentenceStart
        One for each pause of 0.15 s or more and one for the first words, in order; those with a
        likelihood of `sentence_model.LIKELY` or more are sentence starts. Silence and noise have
        none.

    Raises
    ------
    AudioUnfit
        If the rate is lower, or a sample is not a number that can be squared.

    Examples
    --------
    >>> sentence_starts(np.zeros(16_000), 16_000)
    ()
    """
    memory = start_sentences(sample_rate_hz)
    return step_sentences(memory, samples)


def start_sentences(sample_rate_hz: int) -> SentenceMemory:
    """Begin before the first sample."""
    if sample_rate_hz < RATE_HZ_MIN:
        raise AudioUnfit(
            "hear/rate",
            f"Sentence starts need at least {RATE_HZ_MIN} samples a second; this sound has "
            f"{sample_rate_hz}. Export it at a higher rate.",
        )
    return SentenceMemory(sample_rate_hz=sample_rate_hz, numbers=band_numbers(sample_rate_hz))


def step_sentences(
    memory: SentenceMemory, samples: NDArray[np.float64]
) -> tuple[SentenceStart, ...]:
    """Hear the next block, shape (n,), of any length; give what became known, in order.

    At the end nothing else is known: a pause is over only when words have come.
    """
    room = samples.size * FRAMES_PER_S // memory.sample_rate_hz + 2
    power, low = np.empty(room), np.empty(room)
    done = band_frames(
        np.ascontiguousarray(samples),
        memory.samples,
        memory.frames.heard,
        memory.sample_rate_hz,
        memory.numbers,
        memory.filters,
        power,
        low,
    )
    if not np.isfinite(memory.filters).all():
        raise AudioUnfit(
            "hear/not-finite",
            "Sentence starts need samples near full scale; this sound holds numbers far beyond "
            "it. Export the recording again.",
        )
    memory.samples += samples.size
    return step_sentence_frames(memory, power[:done], low[:done])


def step_sentence_frames(
    memory: SentenceMemory, power: NDArray[np.float64], low: NDArray[np.float64]
) -> tuple[SentenceStart, ...]:
    """Take the next frames: mean squares above 80 Hz, and between 80 and 500 Hz."""
    found = []
    at = 0
    while at < power.size:
        frames = memory.frames
        at += follow(
            power[at:],
            low[at:],
            frames.power,
            frames.low,
            frames.steps,
            frames.histogram,
            frames.machine,
        )
        if frames.machine[BEGAN]:
            start = _start(memory)
            if start is not None:
                found.append(start)
    return tuple(found)


def _start(memory: SentenceMemory) -> SentenceStart | None:
    frames = memory.frames
    pause = pause_before(frames)
    rate = memory.sample_rate_hz
    if memory.is_first:
        likelihood = 1.0
        memory.is_first = False
    elif pause.stop - pause.start < PAUSE_FRAMES_MIN:
        return None
    else:
        likelihood = likelihood_of(
            memory.reader,
            (pause.stop - pause.start) / FRAMES_PER_S,
            (pause.start - memory.speech_start) / FRAMES_PER_S,
        )
    memory.speech_start = pause.stop
    return SentenceStart(
        place=frame_start(pause.place, rate),
        pause_start=frame_start(pause.start, rate),
        pause_stop=frame_start(pause.stop, rate),
        likelihood=likelihood,
    )
