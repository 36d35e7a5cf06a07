"""From what the survey found to what is done before the loudness is set."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from quietleaf.errors import AudioUnfit
from quietleaf.finishing.at_places import cuts_at_places, gains_at_places
from quietleaf.finishing.colours import ColouredSound
from quietleaf.finishing.decisions import UNDECIDED, Decisions, cuts_as_decided, gains_as_decided
from quietleaf.finishing.edges import Word, first_word, last_word
from quietleaf.finishing.evening import even_sentences
from quietleaf.finishing.high_pass import CORNER_HZ, ORDER
from quietleaf.finishing.match_again import match_again
from quietleaf.finishing.match_colour import plan_colours
from quietleaf.finishing.match_floor import plan_fills
from quietleaf.finishing.match_rooms import EvenedRooms
from quietleaf.finishing.pauses import dead_air_cuts, islands_of
from quietleaf.finishing.plan import RATE_HZ, Cut, HighPass, Layout, RoomTone
from quietleaf.finishing.ranges import Sound
from quietleaf.finishing.restart_cuts import without_cuts
from quietleaf.finishing.structure import quiet_ranges, quietest_places, structure_of
from quietleaf.finishing.survey import FRAME_SAMPLES, Survey
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Event,
    Structure,
    events_between,
    floor_near,
    smooth_level,
)
from quietleaf.units import db_of_power, samples_of_s

JOIN_SAMPLES = RATE_HZ // 100
"""10 ms: at equal power in room tone the level stays within 0.7 dB, and no click is heard."""
MOVE_SAMPLES = RATE_HZ // 4
END_FADE_SAMPLES = RATE_HZ // 100
_SHORTEST_TONE_SAMPLES = 2 * JOIN_SAMPLES
_TONE_OVER_FLOOR_DB = 6.0
_BREATH_NEAR_S = 1.0
_BREATH_UNDER_SPEECH_DB = 10.0
_QUIET_NEAR_FRAMES = 60 * FRAMES_PER_S
_QUIET_SHORTEST_SAMPLES = RATE_HZ // 20
_QUIET_ENOUGH_SAMPLES = 2 * RATE_HZ
_QUIET_KNOWN_SAMPLES = RATE_HZ // 5
"""From 0.2 s a room is known to 1.5 dB a band."""
_HEAD_SEED = 1
_TAIL_SEED = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """How a master begins and ends.

    Attributes
    ----------
    head_s, tail_s : float
        Room tone before the first syllable and after the last word.
    """

    head_s: float
    tail_s: float


def plan_layout(
    survey: Survey,
    sound: Sound,
    ends: Ends,
    articles: tuple[int, ...] = (),
    span_starts: tuple[int, ...] = (),
    dead_air_s: float = HEARING_LIMITS.dead_air_s,
    joins: tuple[int, ...] = (),
    *,
    one_reader: bool = True,
    restarts: tuple[Cut, ...] = (),
    decided: Decisions = UNDECIDED,
) -> Layout:
    """Plan the cuts, the room tone at both ends, and the even voice.

    Parameters
    ----------
    survey : Survey
        Of the whole sound.
    sound : Sound
        The same sound, to listen closer to a few places.
    articles : tuple of int
        Samples where articles begin.
    span_starts : tuple of int
        Samples where another take or reader begins.
    dead_air_s : float
        Longer pauses are shortened; the same number makes them a finding.
    joins : tuple of int
        Samples where spans of a reading meet.
    one_reader : bool
        The voice has one colour; two readers keep their own.
    restarts : tuple of Cut
        What was begun and read again, and what comes after the place where it stops.
    decided : Decisions
        What the desk decided of cuts and gains: the rest is planned around it.

    Raises
    ------
    AudioUnfit
        If the sound is silent, or holds no voice.
    """
    structure = structure_of(survey)
    if structure is None:
        raise _no_speech(survey)
    known_cuts = cuts_as_decided(restarts, decided.cuts)
    # What goes is neither a word to begin on nor a sentence to be even with.
    left = replace(structure, runs=without_cuts(structure, known_cuts))
    first, last = first_word(left, sound), last_word(left, sound)
    if first is None or last is None:
        raise _no_speech(survey)
    islands = islands_of(left, sound, first, last)
    head_samples = samples_of_s(ends.head_s, RATE_HZ)
    tail_samples = samples_of_s(ends.tail_s, RATE_HZ)
    head_cuts, head_tone = _head(structure, first, head_samples, joins)
    tail_cuts, tail_tone = _tail(structure, last, tail_samples, survey.samples, joins)
    evened = gains_at_places(even_sentences(survey, islands, span_starts, joins), decided.at_places)
    sentences = gains_as_decided(evened, decided.sentences)
    kept = (
        head_cuts[-1].stop if head_cuts else 0,
        tail_cuts[0].start if tail_cuts else survey.samples,
    )
    colours = plan_colours(structure, sound, joins, kept) if one_reader else ()
    coloured = ColouredSound(sound, colours, JOIN_SAMPLES) if colours else sound
    rooms = EvenedRooms(survey.power, structure, sentences, coloured, MOVE_SAMPLES)
    layout = Layout(
        sound_samples=survey.samples,
        join_samples=JOIN_SAMPLES,
        move_samples=MOVE_SAMPLES,
        end_fade_samples=END_FADE_SAMPLES,
        head_samples=head_samples,
        tail_samples=tail_samples,
        high_pass=_high_pass(survey),
        cuts=cuts_as_decided(
            (
                *restarts,
                *cuts_at_places(
                    (
                        *head_cuts,
                        *dead_air_cuts(structure, islands, articles, dead_air_s, known_cuts),
                        *tail_cuts,
                    ),
                    decided.at_places,
                ),
            ),
            decided.cuts,
        ),
        room_tone=head_tone + tail_tone,
        sentences=sentences,
        fills=plan_fills(rooms, joins, kept, JOIN_SAMPLES),
        colours=colours,
    )
    return match_again(layout, rooms, sound, joins)


def _no_speech(survey: Survey) -> AudioUnfit:
    if not survey.power.any():
        return AudioUnfit(
            "finish/silent",
            "A programme is made of speech; this recording is silent from end to end. Check that "
            "the microphone was connected, and record it again.",
        )
    return AudioUnfit(
        "finish/no-speech",
        "A programme is made of speech; in this recording of "
        f"{survey.samples / RATE_HZ:.1f} s no voice stands out. Listen to it, and bring in the "
        "right file.",
    )


def _high_pass(survey: Survey) -> HighPass:
    removed = db_of_power(max(survey.raw_power - survey.high_passed_power, 1e-15))
    return HighPass(
        corner_hz=CORNER_HZ,
        order=ORDER,
        reason=f"DC and rumble below {CORNER_HZ:g} Hz are no voice: a corner at which the level "
        "of speech moves by at most 0.06 dB",
        measured={"dc": round(survey.dc, 6), "removed_dbov": round(removed, 1)},
    )


def _head(
    structure: Structure, first: Word, wanted: int, joins: tuple[int, ...]
) -> tuple[tuple[Cut, ...], tuple[RoomTone, ...]]:
    onset = first.frame * FRAME_SAMPLES
    natural = min(_clean_frames(structure, first.frame, -1) * FRAME_SAMPLES, wanted, onset)
    natural, laid = _shares(natural, wanted)
    start = onset - natural
    before = [
        event
        for event in events_between(structure, 0, first.frame)
        if event.stop * FRAME_SAMPLES <= start + JOIN_SAMPLES
    ]
    cuts = []
    reached = 0
    breath = _breath(structure, before, first.frame)
    if breath is not None and breath.start * FRAME_SAMPLES < start:
        reached = breath.start * FRAME_SAMPLES
        length_s = (breath.stop - breath.start) / FRAMES_PER_S
        cuts.append(
            Cut(
                kind="breath",
                start=reached,
                stop=start,
                reason=f"a breath of {length_s:.2f} s before the first word goes",
                measured={
                    "length_s": round(length_s, 3),
                    "peak_dbov": round(breath.peak_dbov, 1),
                    "under_speech_db": round(structure.speech_dbov - breath.peak_dbov, 1),
                },
            )
        )
    trimmed = reached if breath is not None and cuts else start
    if trimmed > 0:
        heard = _with_noises(event for event in before if event.start * FRAME_SAMPLES < trimmed)
        cuts.insert(
            0,
            Cut(
                kind="head",
                start=0,
                stop=trimmed,
                reason=f"the head{heard} goes: the first syllable comes at {onset / RATE_HZ:.2f} s",
                measured={
                    "first_syllable_s": round(onset / RATE_HZ, 3),
                    "voiced_s": round(first.voiced_s, 2),
                    "speech_dbov": round(structure.speech_dbov, 1),
                    "floor_dbov": round(structure.floor_dbov, 1),
                },
            ),
        )
    return tuple(cuts), _tone(structure, "head", laid, natural, first.frame, joins)


def _tail(
    structure: Structure, last: Word, wanted: int, samples: int, joins: tuple[int, ...]
) -> tuple[tuple[Cut, ...], tuple[RoomTone, ...]]:
    end = min(last.frame * FRAME_SAMPLES, samples)
    natural = min(_clean_frames(structure, last.frame, 1) * FRAME_SAMPLES, wanted, samples - end)
    natural, laid = _shares(natural, wanted)
    stop = end + natural
    tone = _tone(structure, "tail", laid, natural, last.frame, joins)
    if stop >= samples:
        return (), tone
    heard = _with_noises(events_between(structure, last.frame, structure.level.size))
    cut = Cut(
        kind="tail",
        start=stop,
        stop=samples,
        reason=f"the tail{heard} goes: the last word ends at {end / RATE_HZ:.2f} s",
        measured={
            "last_word_s": round(end / RATE_HZ, 3),
            "voiced_s": round(last.voiced_s, 2),
            "floor_dbov": round(floor_near(structure, last.frame, structure.level.size), 1),
        },
    )
    return (cut,), tone


def _with_noises(events: Iterable[Event]) -> str:
    count = sum(event.loud for event in events)
    return f", with {count} noise{'s' * (count > 1)} in it," if count else ""


def _shares(natural: int, wanted: int) -> tuple[int, int]:
    """Split the room tone that is wanted into the recording's own and what is laid before it.

    What is laid is never so short that cross-fades would meet in it.
    """
    laid = wanted - natural
    if 0 < laid < _SHORTEST_TONE_SAMPLES:
        laid = min(_SHORTEST_TONE_SAMPLES, wanted)
    return wanted - laid, laid


def _clean_frames(structure: Structure, edge: int, direction: int) -> int:
    """Count the frames of undisturbed room tone before an onset, or after a release."""
    if direction < 0:
        first, stop = max(0, edge - 4 * FRAMES_PER_S), edge
    else:
        first, stop = edge, min(structure.level.size, edge + 6 * FRAMES_PER_S)
    if stop - first < 8:
        return 0
    limit = floor_near(structure, first, stop) + _TONE_OVER_FLOOR_DB
    loud = np.flatnonzero(smooth_level(structure, first, stop) >= limit)
    # The slope of the word itself, in the 30 ms next to it, is not the room's.
    size = stop - first
    if direction < 0:
        loud = loud[loud < size - 6]
        return size - 1 - int(loud[-1]) - 4 if loud.size else size
    loud = loud[loud >= 6]
    return max(int(loud[0]) - 4, 0) if loud.size else size + 1


def _breath(structure: Structure, events: list[Event], onset: int) -> Event | None:
    """Give the breath before the first word, if the last thing heard before it is one."""
    if not events:
        return None
    event = events[-1]
    near = onset - event.stop <= _BREATH_NEAR_S * FRAMES_PER_S
    soft = event.peak_dbov <= structure.speech_dbov - _BREATH_UNDER_SPEECH_DB
    return event if near and soft else None


def _tone(
    structure: Structure, place: str, laid: int, natural: int, near: int, joins: tuple[int, ...]
) -> tuple[RoomTone, ...]:
    if laid == 0:
        return ()
    first, stop = near - _QUIET_NEAR_FRAMES, near + _QUIET_NEAR_FRAMES
    # Beyond a join the room may be another.
    frames = [join // FRAME_SAMPLES for join in joins]
    same_first = max([first, *(frame for frame in frames if frame <= near)])
    same_stop = min([stop, *(frame for frame in frames if frame > near)])
    for begin, end, least in (
        (same_first, same_stop, _QUIET_KNOWN_SAMPLES),
        (first, stop, 1),
        (0, structure.level.size, 1),
    ):
        quiet = quiet_ranges(structure, begin, end, _QUIET_SHORTEST_SAMPLES)
        if sum(last - one for one, last in quiet) >= least:
            break
    else:
        quiet = quietest_places(structure, _QUIET_SHORTEST_SAMPLES)
    chosen: list[tuple[int, int]] = []
    for start, stop in quiet:
        if sum(b - a for a, b in chosen) >= _QUIET_ENOUGH_SAMPLES:
            break
        chosen.append((int(start), int(min(stop, start + _QUIET_ENOUGH_SAMPLES))))
    total = int(sum(stop - start for start, stop in chosen))
    where = "before the first syllable" if place == "head" else "after the last word"
    return (
        RoomTone(
            place="head" if place == "head" else "tail",
            samples=laid,
            seed=_HEAD_SEED if place == "head" else _TAIL_SEED,
            quiet=tuple(sorted(chosen)),
            reason=f"the recording has {natural / RATE_HZ:.2f} s of undisturbed room {where}: "
            f"{laid / RATE_HZ:.2f} s of its own room tone are laid",
            measured={
                "own_s": round(natural / RATE_HZ, 3),
                "quiet_found_s": round(total / RATE_HZ, 2),
                "floor_dbov": round(structure.floor_dbov, 1),
            },
        ),
    )
