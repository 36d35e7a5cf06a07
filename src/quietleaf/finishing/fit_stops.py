"""Where a programme that is too long could stop: ends of articles, and what that leaves out.

What comes after such an end leaves the programme, but for the closing words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from quietleaf.finishing.assembly import laid_place, master_samples
from quietleaf.finishing.at_places import PlaceDecision
from quietleaf.finishing.fit_entries import StopPlace
from quietleaf.finishing.plan import RATE_HZ, Cut, Layout
from quietleaf.finishing.ranges import Sound
from quietleaf.finishing.restart_cuts import cut_place, pause_before
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.listening.reader_pauses import ReaderPauses
from quietleaf.listening.structure import FRAMES_PER_S, Structure

Articles = Sequence[tuple[int, str]]
_STOPS_TOLD = 3
NEAR_SAMPLES = RATE_HZ // 4
"""Where a sentence ends comes out a little otherwise when something else is repaired."""
_LATE_SAMPLES = RATE_HZ
"""An article or the closing words may be marked so long after their first word."""
_PAUSE_FRAMES = FRAMES_PER_S // 4
"""A gap of a quarter of a second between two words is a pause. Ours."""


def stops_of(
    layout: Layout, wanted: int, articles: Articles, could_s: float, closing: int | None = None
) -> tuple[StopPlace, ...]:
    """Name the last ends of articles at which it would fit, fitted or as it is.

    Parameters
    ----------
    closing : int or None
        Sample of the sound where the closing words begin.
    """
    found = []
    for number in range(len(articles)):
        stop = _stop_at(layout, articles, number, closing)
        if stop is None:
            continue
        if stop.length_s - could_s > wanted / RATE_HZ:
            break
        found.append(stop)
    return tuple(reversed(found[-_STOPS_TOLD:]))


def chosen_stop(
    layout: Layout,
    articles: Articles,
    decided: Sequence[StopPlace],
    at_places: Sequence[PlaceDecision],
    closing: int | None,
) -> StopPlace | None:
    """Give the stop that the desk chose, as it is in this layout; the last choice holds.

    Parameters
    ----------
    layout : Layout
        With nothing stopped.
    """
    chosen: int | None = None
    for one in decided:
        chosen = one.sample if one.state == "made" else chosen
    for place in at_places:
        if place.of == "stop":
            chosen = place.start if place.wanted == "made" else None
    if chosen is None:
        return None
    ends = (_stop_at(layout, articles, number, closing) for number in range(len(articles)))
    there = [one for one in ends if one is not None and abs(one.sample - chosen) < NEAR_SAMPLES]
    # Of two articles with nothing read between them, the programme stops before the first.
    return replace(there[0], state="made", by="desk") if there else None


def with_chosen(stops: Sequence[StopPlace], chosen: StopPlace) -> tuple[StopPlace, ...]:
    """Put the chosen stop among the others, the latest first."""
    others = [one for one in stops if one.sample != chosen.sample]
    return tuple(sorted((*others, chosen), key=lambda one: -one.sample))


def stop_cut(
    stop: StopPlace,
    structure: Structure,
    sound: Sound,
    pauses: ReaderPauses,
    closing: int | None,
) -> Cut | None:
    """Cut what comes after a stop: up to the closing words, in a pause, or to the end.

    Parameters
    ----------
    closing : int or None
        Where the closing words begin, as `closing_word` gives it.

    Returns
    -------
    cut : Cut or None
        None where nothing comes after it. It is left where there is no quiet place to join.
    """
    starts = structure.runs[:, 0] * FRAME_SAMPLES
    after = starts[starts >= stop.sample - FRAME_SAMPLES]
    if not after.size:
        return None
    first = int(after[0])
    left_out = ", ".join(stop.leaves_out)
    measured = {"leaves_out_s": stop.leaves_out_s, "length_s": stop.length_s}
    if closing is None or closing <= first:
        reason = f"the programme stops at the end of an article, without: {left_out}"
        return _cut(first, structure.level.size * FRAME_SAMPLES, sound, reason, measured)
    place = cut_place(pause_before(structure, first), closing, structure, sound, pauses)
    if place is None:
        reason = "the programme was to stop here, and there is no quiet place to join: it goes on"
        return replace(_cut(first, closing, sound, reason, measured), state="left")
    measured |= {"pause_s": round(place.pause_s, 3), "wanted_s": round(place.wanted_s, 3)}
    reason = (
        f"the programme stops at the end of an article, without: {left_out}; the closing words "
        f"follow after {place.pause_s:.2f} s"
    )
    return _cut(place.back, place.resume, sound, reason, measured)


def closing_word(structure: Structure, mark: int | None) -> int | None:
    """Give where the first of the closing words begins, of the place at which they were marked.

    That is the first word after the mark that a pause comes before; somebody who is already
    speaking at the mark began them up to a second earlier.
    """
    if mark is None or not structure.runs.size:
        return None
    starts, stops = structure.runs[:, 0], structure.runs[:, 1]
    paused = np.concatenate([[True], starts[1:] - stops[:-1] >= _PAUSE_FRAMES])
    begins = starts[paused] * FRAME_SAMPLES
    spoken = int(np.searchsorted(begins, mark, side="right")) - 1
    ends = np.concatenate([stops[:-1][paused[1:]], stops[-1:]]) * FRAME_SAMPLES
    if spoken >= 0 and mark < ends[spoken] and mark - begins[spoken] <= _LATE_SAMPLES:
        return int(begins[spoken])
    following = begins[begins >= mark]
    return int(following[0]) if following.size else None


def _stop_at(
    layout: Layout, articles: Articles, number: int, closing: int | None
) -> StopPlace | None:
    """Give the end of the article before another."""
    place = articles[number][0]
    # A mark that comes later than a second after a word was set while the last one was spoken.
    ends = [
        one.stop
        for one in layout.sentences
        if one.stop <= place or one.start < place - _LATE_SAMPLES
    ]
    if not ends:
        return None
    end, whole = ends[-1], master_samples(layout)
    length = laid_place(layout, end) + layout.tail_samples
    if closing is not None and closing > end:
        goes_on = min(one.start for one in layout.sentences if one.start >= end)
        length = laid_place(layout, goes_on) + whole - laid_place(layout, closing)
    return StopPlace(
        sample=end,
        length_s=round(length / RATE_HZ, 3),
        leaves_out_s=round((whole - length) / RATE_HZ, 3),
        leaves_out=tuple(
            title or f"Article {other}"
            for other, (_, title) in enumerate(articles[number:], start=number + 1)
        ),
    )


def _cut(start: int, stop: int, sound: Sound, reason: str, measured: dict[str, float]) -> Cut:
    return Cut(
        kind="stop",
        start=start,
        stop=min(stop, sound.info.frames),
        reason=reason,
        measured=measured,
        by="desk",
    )
