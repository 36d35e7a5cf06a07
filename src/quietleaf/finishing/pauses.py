"""What the reading is made of: islands of speech, the pauses between them, and dead air.

Dead air is shortened to a length that this reader's own pauses have; the cut lies in the quietest
places of the pause, away from speech, and a breath stays with what follows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from quietleaf.finishing.edges import Word, is_voiced
from quietleaf.finishing.plan import Cut
from quietleaf.finishing.ranges import Sound
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Event,
    Structure,
    events_between,
    onset_frame,
    release_frame,
    smooth_level,
)
from quietleaf.units import clock

SENTENCE_PAUSE_S = 0.35
"""From this length on a pause separates sentences; shorter ones lie inside."""
LONG_PAUSE_S = 3.0
"""Longer ones are no measure of how a reader pauses. Pauses between articles run to about this."""
NATURAL_S_MIN = 1.2
NATURAL_S_MAX = 2.0
NATURAL_S_UNKNOWN = 1.5
NATURAL_PERCENTILE = 95.0
ARTICLE_PAUSE_S = 3.0
_PAUSES_MIN = 12
_COUNTED_PAUSE_S = 0.25
GUARD_S = 0.06
"""No cut lies nearer to speech."""
_BREATH_S = 1.0
_NOISE_ALONE_S = 0.3
_NOISE_S = 1.5
_ROOM_AROUND_NOISE_S = 1.0
_LEFT_DB = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Island:
    """A stretch of speech between pauses, in frames, from its onset to the end of its release."""

    start: int
    stop: int


def islands_of(structure: Structure, sound: Sound, first: Word, last: Word) -> tuple[Island, ...]:
    """Find the stretches of speech between pauses of 0.35 s and more.

    A noise alone in a long pause (a page, a chair: no voice in it, at most 1.5 s, silence around
    it that with it makes dead air) is no island.
    """
    runs = structure.runs[first.run : last.run + 1]
    gaps = (runs[1:, 0] - runs[:-1, 1]) / FRAMES_PER_S
    parted = np.flatnonzero(gaps >= _NOISE_ALONE_S)
    starts = np.concatenate([[0], parted + 1])
    stops = np.concatenate([parted, [runs.shape[0] - 1]])
    groups = [(int(runs[a, 0]), int(runs[b, 1])) for a, b in zip(starts, stops, strict=True)]
    spoken = [group for index, group in enumerate(groups) if not _is_noise(sound, groups, index)]
    joined = [spoken[0]]
    for start, stop in spoken[1:]:
        if (start - joined[-1][1]) / FRAMES_PER_S < SENTENCE_PAUSE_S:
            joined[-1] = (joined[-1][0], stop)
        else:
            joined.append((start, stop))
    return tuple(_with_edges(structure, joined, first, last))


def natural_pause_s(islands: tuple[Island, ...]) -> tuple[float, bool]:
    """Give the length that dead air is shortened to, and whether it is this reader's own.

    The 95th percentile of the pauses of 0.25 s and more that are no dead air, within 1.2 to
    2.0 s; 1.5 s where there are fewer than twelve.
    """
    lengths = np.array([(b.start - a.stop) / FRAMES_PER_S for a, b in pairwise(islands)])
    lengths = lengths[(lengths >= _COUNTED_PAUSE_S) & (lengths <= LONG_PAUSE_S)]
    if lengths.size < _PAUSES_MIN:
        return NATURAL_S_UNKNOWN, False
    own = float(np.percentile(lengths, NATURAL_PERCENTILE))
    return min(max(own, NATURAL_S_MIN), NATURAL_S_MAX), True


def dead_air_cuts(
    structure: Structure,
    islands: tuple[Island, ...],
    articles: tuple[int, ...],
    dead_air_s: float,
    others: Sequence[Cut] = (),
) -> tuple[Cut, ...]:
    """Propose a cut in each pause that is dead air.

    Parameters
    ----------
    articles : tuple of int
        Samples where articles begin: the pause before one may last 3 s.
    dead_air_s : float
        A longer pause is dead air.
    others : sequence of Cut
        What they take of a pause does not count.
    """
    natural, own = natural_pause_s(islands)
    cuts = []
    for before, after in pairwise(islands):
        if _left_by(before.stop, after.start, others) <= dead_air_s * FRAMES_PER_S:
            continue
        at_article = any(
            before.stop <= mark / FRAME_SAMPLES <= after.start + FRAMES_PER_S for mark in articles
        )
        wanted_s = ARTICLE_PAUSE_S if at_article else natural
        why = (
            "an article begins"
            if at_article
            else "a long pause of this reader's own"
            if own
            else "a natural pause"
        )
        cut = _cut_in(structure, before.stop, after.start, round(wanted_s * FRAMES_PER_S), why)
        if cut is not None:
            cuts.append(cut)
    return tuple(cuts)


def _left_by(stop: int, start: int, others: Sequence[Cut]) -> int:
    """Give how many frames of a pause other cuts leave."""
    first, last = stop * FRAME_SAMPLES, start * FRAME_SAMPLES
    gone = [
        min(cut.stop, last) - max(cut.start, first)
        for cut in others
        if cut.state == "made" and cut.start < last and cut.stop > first
    ]
    return (last - first - sum(gone)) // FRAME_SAMPLES if gone else start - stop


def _is_noise(sound: Sound, groups: list[tuple[int, int]], index: int) -> bool:
    if index in (0, len(groups) - 1):
        return False
    start, stop = groups[index]
    before, after = start - groups[index - 1][1], groups[index + 1][0] - stop
    if stop - start > _NOISE_S * FRAMES_PER_S:
        return False
    if max(before, after) < _ROOM_AROUND_NOISE_S * FRAMES_PER_S:
        return False
    if before + after + stop - start <= LONG_PAUSE_S * FRAMES_PER_S:
        return False
    return not is_voiced(sound, start, stop)


def _with_edges(
    structure: Structure, spoken: list[tuple[int, int]], first: Word, last: Word
) -> list[Island]:
    islands = []
    reached = 0
    for index, (start, stop) in enumerate(spoken):
        latest = spoken[index + 1][0] if index + 1 < len(spoken) else structure.level.size
        begin = first.frame if index == 0 else onset_frame(structure, start, reached)
        end = last.frame if index + 1 == len(spoken) else release_frame(structure, stop, latest)
        islands.append(Island(start=begin, stop=end))
        reached = end
    return islands


def _cut_in(structure: Structure, start: int, stop: int, wanted: int, why: str) -> Cut | None:
    """Choose where to cut a pause down to a wanted number of frames."""
    guard = round(GUARD_S * FRAMES_PER_S)
    events = events_between(structure, start, stop)
    edge = stop
    for event in reversed(events):
        if stop - event.start <= _BREATH_S * FRAMES_PER_S:
            edge = event.start
    first, last = start + guard, edge - guard
    removed = min(stop - start - wanted, last - first)
    if removed < FRAMES_PER_S // 2:
        return None
    smooth = smooth_level(structure, start, stop)
    places = np.arange(first, last - removed + 1)
    edges = np.maximum(smooth[places - start], smooth[places + removed - start])
    left = np.array([_frames_left(events, int(place), removed, edge) for place in places])
    middle = np.abs(places - places.mean()) / FRAMES_PER_S
    cost = edges + _LEFT_DB * left + 0.1 * middle
    place = int(places[int(np.argmin(cost))])
    begin, end = place * FRAME_SAMPLES, (place + removed) * FRAME_SAMPLES
    was_s, is_s = (stop - start) / FRAMES_PER_S, (stop - start - removed) / FRAMES_PER_S
    measured = {
        "pause_s": round(was_s, 3),
        "becomes_s": round(is_s, 3),
        "level_at_cut_dbov": round(float(edges[place - first]), 1),
    }
    gone = sum(
        event.loud and place <= event.start and event.stop <= place + removed for event in events
    )
    noise = f", and {gone} noise{'s' * (gone > 1)} in it with them" if gone else ""
    at = clock(start / FRAMES_PER_S)
    return Cut(
        kind="dead-air",
        start=begin,
        stop=end,
        reason=f"{was_s:.1f} s without speech at {at} become {is_s:.1f} s{noise}: {why}",
        measured=measured,
    )


def _frames_left(events: list[Event], place: int, removed: int, edge: int) -> int:
    """Count frames of noise that would stay in the pause; what belongs to the next word is none."""
    left = 0
    for event in events:
        if event.start >= edge:
            continue
        inside = min(event.stop, place + removed) - max(event.start, place)
        left += event.stop - event.start - max(inside, 0)
    return left
