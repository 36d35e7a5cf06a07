"""How much the pauses between sentences can give or take, and how a difference is spread over them.

One factor for all pauses of a kind: a pause keeps its rank among the others, which is what makes it
natural. Sums are whole samples, so that the length is met exactly.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from quietleaf.finishing.fit_entries import PAUSE_KINDS, PauseKind
from quietleaf.finishing.pauses import ARTICLE_PAUSE_S
from quietleaf.finishing.plan import RATE_HZ, Layout
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Structure,
    events_between,
    onset_frame,
    release_frame,
    smooth_level,
)

LONGEST_PAUSE_S = 2.0
_GUARD_FRAMES = 4
"""20 ms beyond where room tone has settled after a word, or before the next one or its breath."""
_PHRASE_PAUSE_S_MIN = 0.15
_BREATH_S = 1.0
_PARAGRAPH = 1.5
_ARTICLE_LATE_SAMPLES = RATE_HZ
"""An article may be marked so long after its first word."""
_WORTH_SAMPLES = RATE_HZ // 50
"""Pauses are changed by 20 ms and more: for a few samples in all, one is enough."""
_QUIETEST_FRAMES = 8
_HALVINGS = 60
_FREE_SAMPLES_MIN = RATE_HZ // 25


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """How far pauses may change. Between articles they may last 3 s in any case.

    Attributes
    ----------
    least, most : float
        Factors.
    shortest_s : float
        None becomes shorter.
    phrases_from_s : float
        Of pauses inside sentences those of this length and more may change.
    """

    least: float
    most: float
    shortest_s: float = 0.2
    phrases_from_s: float = math.inf


NATURAL = Bounds(least=0.65, most=1.5)
"""Of pauses of 0.35 s and more: readers themselves spread as far."""
WIDE = Bounds(least=0.5, most=1.8, phrases_from_s=0.25)
"""Where pauses and pace are not enough."""
LAST = Bounds(least=0.4, most=2.0, shortest_s=0.12, phrases_from_s=_PHRASE_PAUSE_S_MIN)
"""Where nothing else is left: hurried, or slow, and whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pause:
    """A pause that can be changed.

    Attributes
    ----------
    start, stop : int
        From where one word falls below the threshold of speech to where the next one crosses
        it, in samples of the sound.
    free : tuple of (int, int)
        Undisturbed room tone in it, away from words, breaths, noises and joins.
    """

    kind: PauseKind
    start: int
    stop: int
    free: tuple[int, int]

    @property
    def samples(self) -> int:
        """Its length."""
        return self.stop - self.start

    def least(self, bounds: Bounds) -> int:
        """Give the shortest that it may become."""
        if self._fixed(bounds):
            return self.samples
        wanted = max(round(self.samples * bounds.least), round(bounds.shortest_s * RATE_HZ))
        room = self.free[1] - self.free[0]
        return min(max(wanted, self.samples - room), self.samples)

    def most(self, bounds: Bounds) -> int:
        """Give the longest that it may become; between articles that is 3 s."""
        if self.kind == "article":
            return max(round(ARTICLE_PAUSE_S * RATE_HZ), self.samples)
        if self._fixed(bounds):
            return self.samples
        wanted = min(round(self.samples * bounds.most), round(LONGEST_PAUSE_S * RATE_HZ))
        return max(wanted, self.samples)

    def _fixed(self, bounds: Bounds) -> bool:
        return self.kind == "phrase" and self.samples < bounds.phrases_from_s * RATE_HZ


def pauses_to_fit(
    layout: Layout, structure: Structure, articles: Sequence[int], joins: Sequence[int]
) -> tuple[Pause, ...]:
    """Find the pauses that nothing has been done to yet.

    Parameters
    ----------
    articles : sequence of int
        Samples where articles begin.
    joins : sequence of int
        Samples where spans meet: they stay where they are.
    """
    gaps = [*_between_sentences(layout, structure), *_in_sentences(layout, structure)]
    cuts = [(cut.start, cut.stop) for cut in layout.cuts if cut.state == "made"]
    found = []
    for gap in sorted(gaps, key=lambda one: one.start):
        start, stop = gap.start * FRAME_SAMPLES, gap.stop * FRAME_SAMPLES
        if any(first < stop and start < last for first, last in cuts):
            continue
        free = _free_range(structure, gap, joins)
        if free[1] - free[0] >= _FREE_SAMPLES_MIN:
            kind: PauseKind = "phrase" if gap.inside else "sentence"
            found.append(Pause(kind=kind, start=start, stop=stop, free=free))
    usual = np.median([one.samples for one in found if one.kind == "sentence"] or [0])
    return tuple(_with_kind(one, articles, float(usual)) for one in found)


def room_of(pauses: Iterable[Pause], bounds: Bounds, *, longer: bool) -> int:
    """Give by how many samples all pauses together can become longer, or shorter."""
    if longer:
        return sum(one.most(bounds) - one.samples for one in pauses)
    return sum(one.samples - one.least(bounds) for one in pauses)


def spread(pauses: Sequence[Pause], change: int, bounds: Bounds) -> Mapping[Pause, int]:
    """Spread a change of length over pauses, sentences first.

    Parameters
    ----------
    change : int
        Samples, negative for shorter; at most what `room_of` gives.

    Returns
    -------
    lengths : mapping of Pause to int
        New lengths of those that change; together they differ by exactly ``change``.
    """
    left, lengths = change, {}
    for kind in PAUSE_KINDS:
        among = [one for one in pauses if one.kind == kind]
        here = min(abs(left), room_of(among, bounds, longer=left > 0))
        here = here if left > 0 else -here
        lengths.update(_spread_in_kind(among, here, bounds))
        left -= here
    assert left == 0, "no more is asked for than the pauses can give"
    return {one: length for one, length in lengths.items() if length != one.samples}


def quietest_place(structure: Structure, pause: Pause, gone: int) -> int:
    """Give where a range of ``gone`` samples leaves the quietest edges; for 0, what is quietest."""
    first, stop = pause.free[0] // FRAME_SAMPLES, pause.free[1] // FRAME_SAMPLES
    frames = -(-gone // FRAME_SAMPLES)
    smooth = smooth_level(structure, first, stop + 1)
    around = np.convolve(np.pad(smooth, _QUIETEST_FRAMES // 2, mode="edge"), np.ones(8) / 8, "same")
    around = around[_QUIETEST_FRAMES // 2 :][: smooth.size]
    count = max(1, smooth.size - frames)
    places = np.arange(count)
    edges = np.maximum(around[places], around[np.minimum(places + frames, smooth.size - 1)])
    middle = np.abs(places - (count - 1) / 2.0) / FRAMES_PER_S
    place = (first + int(np.argmin(edges + middle))) * FRAME_SAMPLES
    return min(max(place, pause.free[0]), pause.free[1] - gone)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gap:
    """A pause in frames: between crossings of the threshold, and settled room tone inside them."""

    start: int
    stop: int
    settled: tuple[int, int]
    inside: bool


def _between_sentences(layout: Layout, structure: Structure) -> Iterator[_Gap]:
    for before, after in pairwise(layout.sentences):
        settled = before.stop // FRAME_SAMPLES, after.start // FRAME_SAMPLES
        run_before = int(np.searchsorted(structure.runs[:, 1], settled[0], side="right")) - 1
        run_after = int(np.searchsorted(structure.runs[:, 0], settled[1]))
        if 0 <= run_before < run_after < structure.runs.shape[0]:
            yield _Gap(
                start=int(structure.runs[run_before, 1]),
                stop=int(structure.runs[run_after, 0]),
                settled=settled,
                inside=False,
            )


def _in_sentences(layout: Layout, structure: Structure) -> Iterator[_Gap]:
    least = round(_PHRASE_PAUSE_S_MIN * FRAMES_PER_S)
    starts = [one.start // FRAME_SAMPLES for one in layout.sentences]
    for stop, start in zip(structure.runs[:-1, 1], structure.runs[1:, 0], strict=True):
        stop, start = int(stop), int(start)
        if start - stop < least:
            continue
        index = bisect_right(starts, stop) - 1
        if index < 0 or start * FRAME_SAMPLES >= layout.sentences[index].stop:
            continue
        released = release_frame(structure, stop, start)
        settled = released, onset_frame(structure, start, released)
        yield _Gap(start=stop, stop=start, settled=settled, inside=True)


def _with_kind(pause: Pause, articles: Sequence[int], usual: float) -> Pause:
    if pause.kind == "phrase":
        return pause
    if any(pause.start <= mark <= pause.stop + _ARTICLE_LATE_SAMPLES for mark in articles):
        return replace(pause, kind="article")
    return replace(pause, kind="paragraph") if pause.samples > _PARAGRAPH * usual else pause


def _free_range(structure: Structure, gap: _Gap, joins: Sequence[int]) -> tuple[int, int]:
    first, last = gap.settled
    events = events_between(structure, first, last)
    # A breath stays with the word that follows it, and so does the room between the two.
    near = [event.start for event in events if last - event.start <= _BREATH_S * FRAMES_PER_S]
    begin, end = first + _GUARD_FRAMES, min([last, *near]) - _GUARD_FRAMES
    taken = [(event.start - _GUARD_FRAMES, event.stop + _GUARD_FRAMES) for event in events]
    taken += [
        (join // FRAME_SAMPLES - _GUARD_FRAMES, join // FRAME_SAMPLES + _GUARD_FRAMES)
        for join in joins
    ]
    taken = sorted(pair for pair in taken if pair[1] > begin and pair[0] < end)
    reached, best = begin, (begin, begin)
    for begun, ended in [*taken, (end, end)]:
        if begun - reached > best[1] - best[0]:
            best = (reached, begun)
        reached = max(reached, ended)
    return best[0] * FRAME_SAMPLES, best[1] * FRAME_SAMPLES


def _spread_in_kind(pauses: list[Pause], change: int, bounds: Bounds) -> dict[Pause, int]:
    if change == 0:
        return {}
    longest = sorted(pauses, key=lambda one: (-one.samples, one.start))
    count = max(1, abs(change) // _WORTH_SAMPLES)
    while room_of(longest[:count], bounds, longer=change > 0) < abs(change):
        count += max(1, count // 4)
    chosen = longest[:count]

    def sized(factor: float) -> list[int]:
        return [
            min(max(round(one.samples * factor), one.least(bounds)), one.most(bounds))
            for one in chosen
        ]

    wanted = sum(one.samples for one in chosen) + change
    low, high = (1.0, _factor_most(chosen, bounds)) if change > 0 else (0.0, 1.0)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if sum(sized(middle)) <= wanted else (low, middle)
    lengths = sized(low)
    rest = wanted - sum(lengths)
    # What rounding leaves goes to the longest that have room for it.
    for index, one in enumerate(chosen):
        given = min(
            max(rest, one.least(bounds) - lengths[index]), one.most(bounds) - lengths[index]
        )
        lengths[index] += given
        rest -= given
    assert rest == 0, "the pauses have room for what they are given"
    return dict(zip(chosen, lengths, strict=True))


def _factor_most(pauses: list[Pause], bounds: Bounds) -> float:
    return max(one.most(bounds) / one.samples for one in pauses) + 1.0
