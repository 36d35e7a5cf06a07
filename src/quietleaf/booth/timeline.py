"""The reading as it stands: spans of takes, in order, and the articles marked in them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A half-open range of one take, in that take's own samples."""

    take: int
    start: int
    stop: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ArticleMark:
    """Where an article begins: a sample of a take."""

    take: int
    sample: int
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """The edits applied.

    Attributes
    ----------
    spans : tuple of Span
        In programme order; never empty, touching or overlapping, never outside their take.
    articles : tuple of ArticleMark
        In programme order, each inside a span. An article whose first words were taken again
        or cut begins with what follows them; one that was cut whole is not here.
    """

    spans: tuple[Span, ...]
    articles: tuple[ArticleMark, ...]


Place = tuple[int, int]
"""A take's number and a sample of it; places compare in programme order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """A range of places that is not in the programme; it may reach over several takes."""

    start: Place
    stop: Place


def lay_out(
    take_samples: dict[int, int], outside: tuple[Outside, ...], marks: tuple[ArticleMark, ...]
) -> Timeline:
    """Give what is left of the takes when all that is outside is taken away.

    Parameters
    ----------
    take_samples : dict
        Length of each take that is in the programme, by its number.
    outside : tuple of Outside
        In any order; may overlap, and may reach past the end of a take.
    marks : tuple of ArticleMark
        In the order they were made; of two at one place the later stands.

    Examples
    --------
    A sentence of take 1 is taken again from sample 300 on; the lead-in ended at 900.

    >>> sentence = Outside(start=(1, 300), stop=(1, 900))
    >>> for span in lay_out({1: 2_000}, (sentence,), ()).spans:
    ...     print(span)
    Span(take=1, start=0, stop=300)
    Span(take=1, start=900, stop=2000)
    """
    spans = tuple(
        span for take in sorted(take_samples) for span in _kept(take, take_samples[take], outside)
    )
    return Timeline(spans=spans, articles=_placed(spans, marks))


def _kept(take: int, samples: int, outside: tuple[Outside, ...]) -> list[Span]:
    bounds = (
        (_sample_in(take, samples, away.start), _sample_in(take, samples, away.stop))
        for away in outside
    )
    ranges = sorted((start, stop) for start, stop in bounds if start < stop)
    kept: list[Span] = []
    reached = 0
    for start, stop in [*ranges, (samples, samples)]:
        if start > reached:
            kept.append(Span(take=take, start=reached, stop=start))
        reached = max(reached, stop)
    return kept


def _sample_in(take: int, samples: int, place: Place) -> int:
    """Turn a place into a sample of this take: its start if before it, its end if after."""
    place_take, sample = place
    if place_take != take:
        return 0 if place_take < take else samples
    return min(max(sample, 0), samples)


def _placed(spans: tuple[Span, ...], marks: tuple[ArticleMark, ...]) -> tuple[ArticleMark, ...]:
    by_place = {(mark.take, mark.sample): mark for mark in marks}
    places = sorted(by_place)
    placed: list[ArticleMark] = []
    for here, following in zip_longest(places, places[1:]):
        mark = by_place[here]
        there = _next_kept(spans, here)
        if there is None:
            continue
        # It moved: if the next article begins there or before, nothing of this one is left; if
        # the next has its title, the reader marked it anew on reading it again.
        if (
            following is not None
            and there != here
            and (there >= following or by_place[following].title == mark.title)
        ):
            continue
        placed.append(ArticleMark(take=there[0], sample=there[1], title=mark.title))
    return tuple(placed)


def _next_kept(spans: tuple[Span, ...], place: Place) -> Place | None:
    for span in spans:
        if place < (span.take, span.stop):
            return max(place, (span.take, span.start))
    return None
