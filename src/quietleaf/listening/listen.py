"""Hear a recording in one pass, block by block, in memory that hardly grows with its length."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.clipping import clip_findings
from quietleaf.listening.dead_air import dead_air_findings
from quietleaf.listening.dropouts import block_findings, dropout_findings
from quietleaf.listening.echo import echo_findings
from quietleaf.listening.hearing import Hearing, Measured
from quietleaf.listening.hum import hum_findings
from quietleaf.listening.jumps import jump_findings
from quietleaf.listening.limits import HEARING_LIMITS, HearingLimits
from quietleaf.listening.measuring import (
    FramePowers,
    MeasureState,
    measured,
    start_measuring,
    step_measuring,
)
from quietleaf.listening.pace import SYLLABLES_A_WORD, pace_of, syllables_a_word
from quietleaf.listening.pops import pop_findings, with_pops
from quietleaf.listening.recognised import HeardWords
from quietleaf.listening.restart_choice import Proposal
from quietleaf.listening.restarts import asked_proposals, restart_findings
from quietleaf.listening.room_swells import swell_findings
from quietleaf.listening.sample_runs import end_runs
from quietleaf.listening.sentence_model import LIKELY
from quietleaf.listening.sentence_starts import (
    SentenceMemory,
    SentenceStart,
    start_sentences,
    step_sentence_frames,
)
from quietleaf.listening.sound_events import joined
from quietleaf.listening.sound_findings import sound_findings
from quietleaf.listening.sound_frames import (
    SoundFrames,
    SoundMemory,
    rest_of_sound,
    start_sound,
    step_sound,
)
from quietleaf.listening.sound_listeners import (
    SoundListeners,
    start_listeners,
    step_listeners,
    with_rest,
)
from quietleaf.listening.under_words import joined_windows
from quietleaf.listening.verdict import verdict_of
from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth


@dataclass(slots=True, kw_only=True)
class FrameState:
    """Where sentences begin, and the chunk that is not whole yet."""

    sentences: SentenceMemory
    starts: list[SentenceStart]
    sound: SoundMemory


@dataclass(slots=True, kw_only=True)
class ListenState:
    """A recording heard up to some sample.

    Its three parts may be stepped on three threads, each with what the one before it gave:
    `step_measuring` on ``measures``, `step_frames` on ``frames``, `step_sounds` on ``sounds``.
    """

    limits: HearingLimits
    measures: MeasureState
    frames: FrameState
    sounds: SoundListeners


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
    return ListenState(
        limits=limits,
        measures=start_measuring(sample_rate_hz, channels, limits),
        frames=FrameState(
            sentences=start_sentences(sample_rate_hz),
            starts=[],
            sound=start_sound(sample_rate_hz, channels),
        ),
        sounds=start_listeners(sample_rate_hz),
    )


def step(state: ListenState, block: NDArray[np.float64]) -> None:
    """Hear the next block, shape (n, c); ``state`` is changed."""
    powers = step_measuring(state.measures, block)
    step_sounds(state.sounds, step_frames(state.frames, block, powers))


def step_frames(
    frames: FrameState, block: NDArray[np.float64], powers: FramePowers
) -> list[SoundFrames]:
    """Look at the next block closely, once it was measured; give the chunks that became whole."""
    if powers.voice.size:
        frames.starts.extend(step_sentence_frames(frames.sentences, powers.voice, powers.low))
    return step_sound(frames.sound, block, powers.voice, powers.low)


def step_sounds(sounds: SoundListeners, chunks: list[SoundFrames]) -> None:
    """Tell what the sounds of the next chunks are."""
    for chunk in chunks:
        step_listeners(sounds, chunk)


def asked_restarts(state: ListenState) -> tuple[Proposal, ...]:
    """Give what may be restarts, so far, for somebody who knows words to decide."""
    return asked_proposals(_heard_out(state).restarts)


def result(
    state: ListenState,
    review: ReviewDepth = USUAL_REVIEW,
    words: HeardWords | None = None,
) -> Hearing:
    """Say what was heard so far, judged by a review depth.

    ``state`` stays as it is and can be stepped further.

    Parameters
    ----------
    words : HeardWords or None
        What a recogniser says, of `asked_restarts` too; None: the sound alone says it.
    """
    found = measured(state.measures)
    runs = end_runs(state.measures.settings, state.measures.runs)
    rate, limits = found.sample_rate_hz, state.limits
    listeners = _heard_out(state)
    clips = clip_findings(runs.flat_tops, rate, limits)
    echoes = echo_findings(listeners.echo, limits)
    noises = sound_findings(
        joined(listeners.sounds), joined_windows(listeners.disturbed), [*clips, *echoes], limits
    )
    findings = [
        *clips,
        *dropout_findings(runs.zero_runs, found.pauses_s, state.measures.samples, rate, limits),
        *dead_air_findings(found.pauses_s, limits),
        *hum_findings(listeners.hum, found.level, limits),
        *noises,
    ]
    rooms_cdb = listeners.rooms_cdb.values().astype(np.int16, copy=False)
    findings += swell_findings(rooms_cdb, findings, limits)
    findings += block_findings(listeners.repeats.found, listeners.splices.found, findings, rate)
    findings += echoes
    findings += jump_findings(
        listeners.tones, found.track.steps, found.track.speech_frames, findings, limits
    )
    findings = with_pops(findings, pop_findings(listeners.pops, found.level, findings, limits))
    findings += words.restarts if words else restart_findings(listeners.restarts)
    findings.sort(key=lambda finding: finding.start_s)
    verdict, reasons = verdict_of(
        found.level, found.spoken_s, found.duration_s, findings, limits, review
    )
    nuclei = listeners.pace.nuclei.values()
    of_word = syllables_a_word(nuclei, words.places_s, words.words) if words else SYLLABLES_A_WORD
    return Hearing(
        **{field.name: getattr(found, field.name) for field in fields(Measured)},
        pace=pace_of(nuclei, found.speech_s, limits.dead_air_s, of_word),
        sentences=tuple(start for start in state.frames.starts if start.likelihood >= LIKELY),
        findings=tuple(findings),
        verdict=verdict,
        reasons=reasons,
    )


def _heard_out(state: ListenState) -> SoundListeners:
    """Give the listeners as they are if nothing follows."""
    return with_rest(state.sounds, rest_of_sound(state.frames.sound))
