"""The reading as it stands: spans of takes, in order, and the articles marked in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
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


Place = tuple[int, int]
"""A take's number and a sample of it. Without takes that stand apart, places compare in order."""
Rank = tuple[int, int]
"""A stretch of the order, by its index, and a sample of its take: ranks compare in order."""


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
    order : tuple of Span
        All that has a place in the order of the programme, inside of it or not.
    """

    spans: tuple[Span, ...]
    articles: tuple[ArticleMark, ...]
    order: tuple[Span, ...] = field(default=(), compare=False, repr=False)

    def rank(self, place: Place) -> Rank:
        """Give what a place is compared by; what is not in the order comes after all that is."""
        found = _rank_from(self.order, place)
        return (len(self.order) + place[0], place[1]) if found is None else found

    def spans_before(self, place: Place) -> tuple[Span, ...]:
        """Give what of the programme comes before a place; that may be outside of it."""
        at = self.rank(place)
        return tuple(
            replace(span, stop=place[1]) if _is_inside(span, place) else span
            for span in self.spans
            if self.rank((span.take, span.start)) < at
        )

    def spans_after(self, place: Place) -> tuple[Span, ...]:
        """Give what of the programme comes at a place and after it."""
        at = self.rank(place)
        return tuple(
            replace(span, start=place[1]) if _is_inside(span, place) else span
            for span in self.spans
            if _is_inside(span, place) or self.rank((span.take, span.start)) >= at
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """A range of places that is not in the programme; it may reach over several takes."""

    start: Place
    stop: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchPlaces:
    """What was read later, and the range of the programme that it stands in place of.

    Attributes
    ----------
    begin, until : Place
        Of takes that stand apart. What is outside between them stays so, but for ranges that
        begin before ``begin``: the patch itself says where its sound begins.
    start, stop : Place
        Of earlier takes.
    """

    begin: Place
    until: Place
    start: Place
    stop: Place


def lay_out(
    take_samples: dict[int, int],
    outside: tuple[Outside, ...],
    marks: tuple[ArticleMark, ...],
    patches: tuple[PatchPlaces, ...] = (),
    apart: Mapping[int, int] | None = None,
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
    patches : tuple of PatchPlaces
        One whose places are not in the order (any more) changes nothing; where all that it stands
        in place of is outside, it is too.
    apart : mapping of int to int, optional
        Takes that stand apart, each with the first of those that it follows on: they are in the
        programme as far as a patch says so.

    Examples
    --------
    A sentence of take 1 is taken again from sample 300 on; the lead-in ended at 900.

    >>> sentence = Outside(start=(1, 300), stop=(1, 900))
    >>> for span in lay_out({1: 2_000}, (sentence,), ()).spans:
    ...     print(span)
    Span(take=1, start=0, stop=300)
    Span(take=1, start=900, stop=2000)

    Another is read anew days later, in take 2.

    >>> new = PatchPlaces(begin=(2, 50), until=(2, 450), start=(1, 1_200), stop=(1, 1_500))
    >>> for span in lay_out({1: 2_000, 2: 500}, (sentence,), (), (new,), {2: 2}).spans:
    ...     print(span)
    Span(take=1, start=0, stop=300)
    Span(take=1, start=900, stop=1200)
    Span(take=2, start=50, stop=450)
    Span(take=1, start=1500, stop=2000)
    """
    laid = _Laid(take_samples, outside, patches, apart or {})
    order = tuple(laid.order)
    gone = [list(ranges) for ranges in laid.gone]
    for patch in laid.applied:
        _take_out(order, gone, patch)
    spans = _kept(order, gone)
    return Timeline(spans=spans, articles=_placed(order, spans, marks), order=order)


class _Laid:
    """Everything in one order: the takes, and each patch right before where it gives way again."""

    def __init__(
        self,
        take_samples: dict[int, int],
        outside: tuple[Outside, ...],
        patches: tuple[PatchPlaces, ...],
        apart: Mapping[int, int],
    ) -> None:
        self.order: list[Span] = []
        self.gone: list[list[tuple[int, int]]] = []
        """Of each stretch, what is outside."""
        self.applied: list[PatchPlaces] = []
        self._samples = take_samples
        self._patches = patches
        self._apart = apart
        self._outside = outside
        self._lay(0, None)

    def _lay(self, first_take: int, of: PatchPlaces | None) -> None:
        away = [
            each
            for each in self._outside
            if self._apart.get(each.stop[0], 0) == first_take
            and (of is None or each.start >= of.begin)
        ]
        for take in sorted(self._samples):
            if self._apart.get(take, 0) != first_take:
                continue
            start, stop = 0, self._samples[take]
            if of is not None:
                if not of.begin[0] <= take <= of.until[0]:
                    continue
                start = _sample_in(take, stop, of.begin)
                stop = _sample_in(take, stop, of.until)
            self._lay_take(take, start, stop, away)

    def _lay_take(self, take: int, start: int, stop: int, away: list[Outside]) -> None:
        samples = self._samples[take]
        ranges = [
            (_sample_in(take, samples, each.start), _sample_in(take, samples, each.stop))
            for each in away
        ]
        here = sorted(
            (patch for patch in self._patches if patch.stop[0] == take),
            key=lambda patch: patch.stop[1],
        )
        for patch in here:
            if not start <= patch.stop[1] <= stop:
                continue
            self._add(Span(take=take, start=start, stop=patch.stop[1]), ranges)
            start = patch.stop[1]
            is_gone = any(
                each.start <= patch.start and patch.stop <= each.stop
                for each in away
                if self._apart.get(patch.start[0], 0) == self._apart.get(take, 0)
            )
            # It was read later than what it stands in place of: so none can stand in itself.
            first_take = self._apart.get(patch.begin[0], 0)
            is_later = first_take > max(patch.start[0], patch.stop[0])
            if is_later and not is_gone and _rank_from(self.order, patch.start) is not None:
                self.applied.append(patch)
                self._lay(first_take, patch)
        self._add(Span(take=take, start=start, stop=stop), ranges)

    def _add(self, stretch: Span, ranges: list[tuple[int, int]]) -> None:
        self.order.append(stretch)
        self.gone.append(ranges)


def _take_out(
    order: tuple[Span, ...], gone: list[list[tuple[int, int]]], patch: PatchPlaces
) -> None:
    """Take out what a patch stands in place of; patches in the midst of it go with it."""
    first, last = _known(_rank_from(order, patch.start)), _known(_rank_to(order, patch.stop))
    for index in range(first[0], last[0] + 1):
        start = first[1] if index == first[0] else order[index].start
        stop = last[1] if index == last[0] else order[index].stop
        gone[index].append((start, stop))


def _kept(order: tuple[Span, ...], gone: list[list[tuple[int, int]]]) -> tuple[Span, ...]:
    kept: list[Span] = []
    for stretch, ranges in zip(order, gone, strict=True):
        reached = stretch.start
        real = sorted((start, stop) for start, stop in ranges if start < stop)
        for start, stop in [*real, (stretch.stop, stretch.stop)]:
            upto = min(start, stretch.stop)
            if upto > reached:
                last = kept[-1] if kept else None
                if last is not None and (last.take, last.stop) == (stretch.take, reached):
                    kept[-1] = Span(take=last.take, start=last.start, stop=upto)
                else:
                    kept.append(Span(take=stretch.take, start=reached, stop=upto))
            reached = max(reached, stop)
    return tuple(kept)


def _placed(
    order: tuple[Span, ...], spans: tuple[Span, ...], marks: tuple[ArticleMark, ...]
) -> tuple[ArticleMark, ...]:
    # Of a take that is still recorded less may be confirmed than was marked.
    reach = {stretch.take: stretch.stop for stretch in order}
    ranked = {
        _rank_from(order, (mark.take, min(mark.sample, reach.get(mark.take, 0)))): mark
        for mark in marks
    }
    by_rank = {rank: mark for rank, mark in ranked.items() if rank is not None}
    ranks = sorted(by_rank)
    placed: list[ArticleMark] = []
    for here, following in zip_longest(ranks, ranks[1:]):
        mark = by_rank[here]
        there = _next_kept(order, spans, here)
        if there is None:
            continue
        # It moved: if the next article begins there or before, nothing of this one is left; if
        # the next has its title, the reader marked it anew on reading it again.
        if (
            following is not None
            and there != here
            and (there >= following or by_rank[following].title == mark.title)
        ):
            continue
        placed.append(ArticleMark(take=order[there[0]].take, sample=there[1], title=mark.title))
    return tuple(placed)


def _next_kept(order: tuple[Span, ...], spans: tuple[Span, ...], rank: Rank) -> Rank | None:
    for span in spans:
        if rank < _known(_rank_to(order, (span.take, span.stop))):
            return max(rank, _known(_rank_from(order, (span.take, span.start))))
    return None


def _sample_in(take: int, samples: int, place: Place) -> int:
    """Turn a place into a sample of this take: its start if before it, its end if after."""
    place_take, sample = place
    if place_take != take:
        return 0 if place_take < take else samples
    return min(max(sample, 0), samples)


def _rank_from(order: tuple[Span, ...] | list[Span], place: Place) -> Rank | None:
    """Rank a place as the beginning of what follows it; None where it is not in the order."""
    found = [index for index, stretch in enumerate(order) if _holds(stretch, place)]
    return (found[-1], place[1]) if found else None


def _rank_to(order: tuple[Span, ...] | list[Span], place: Place) -> Rank | None:
    """Rank a place as the end of what comes before it."""
    found = [index for index, stretch in enumerate(order) if _holds(stretch, place)]
    return (found[0], place[1]) if found else None


def _known(rank: Rank | None) -> Rank:
    assert rank is not None, "what is kept or applied has its place in the order"
    return rank


def _is_inside(span: Span, place: Place) -> bool:
    return span.take == place[0] and span.start < place[1] < span.stop


def _holds(stretch: Span, place: Place) -> bool:
    return stretch.take == place[0] and stretch.start <= place[1] <= stretch.stop
