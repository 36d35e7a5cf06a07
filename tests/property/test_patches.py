"""Laws of what is read again later, and stands in the midst of the programme."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from hypothesis import assume, given
from hypothesis import strategies as st

from quietleaf.booth.edits import (
    Again,
    ArticleStarted,
    Cut,
    Decided,
    Patch,
    TakeRolled,
    TakeSealed,
    Undo,
)
from quietleaf.booth.replay import Standing, counting, takes, timeline
from quietleaf.booth.timeline import Place, Timeline
from tests.patched import patched, tried
from tests.readings import enter, sealed, standing_of

MOST = 40


def samples_of(whole: Timeline) -> list[Place]:
    """Give the programme, sample for sample."""
    return [(span.take, at) for span in whole.spans for at in range(span.start, span.stop)]


@given(patched())
def test_the_timeline_is_what_a_twin_finds_sample_by_sample(standing: Standing) -> None:
    whole = timeline(standing)
    assert samples_of(whole) == _twin(standing)
    for span, following in itertools.pairwise(whole.spans):
        assert (span.take, span.stop) != (following.take, following.start)
    assert all(span.start < span.stop for span in whole.spans)


@given(patched())
def test_nothing_is_heard_twice(standing: Standing) -> None:
    heard = samples_of(timeline(standing))
    assert len(set(heard)) == len(heard)


@given(patched())
def test_articles_lie_in_spans_and_in_order(standing: Standing) -> None:
    heard = samples_of(timeline(standing))
    places = [heard.index((mark.take, mark.sample)) for mark in timeline(standing).articles]
    assert places == sorted(set(places))


@st.composite
def one_more(draw: st.DrawFn) -> tuple[Standing, Standing]:
    """Give a reading, and the same with one more sentence put in its place."""
    standing = draw(patched())
    sent = Decided(start=(1, 0), stop=(1, 1), finding="", decision="read again")
    standing = enter(standing, sent)
    after = tried(draw, standing, standing.revision)
    assume(isinstance(after.edits[-1].what, Patch))
    return standing, after


@given(one_more())
def test_undo_restores(made: tuple[Standing, Standing]) -> None:
    standing, tried = made
    undone = enter(tried, Undo(of=tried.revision))
    assert timeline(undone) == timeline(standing)
    redone = enter(undone, Undo(of=undone.revision))
    assert timeline(redone) == timeline(tried)


@given(one_more())
def test_nothing_else_moves(made: tuple[Standing, Standing]) -> None:
    standing, tried = made
    patch = tried.edits[-1].what
    assert isinstance(patch, Patch)
    old = timeline(standing)
    was, now = samples_of(old), samples_of(timeline(tried))
    own = [place for place in now if place not in set(was)]
    kept = [place for place in now if place in set(was)]
    first, until = old.rank(patch.start), old.rank(patch.stop)
    gone = set(was) - set(now)
    assert all(first <= old.rank(place) < until for place in gone)
    assert kept == [place for place in was if place not in gone]
    if own:
        # It stands in one piece, right before where the programme goes on.
        at = now.index(own[0])
        assert now[at : at + len(own)] == own
        assert all(old.rank(place) < until for place in now[:at])
        assert all(old.rank(place) >= until for place in now[at + len(own) :])


@given(patched())
def test_a_programme_is_parted_at_any_place(standing: Standing) -> None:
    whole = timeline(standing)
    heard = samples_of(whole)
    for take, facts in takes(standing).items():
        for sample in (0, (facts.samples or 0) // 2, facts.samples or 0):
            place = (take, sample)
            before = Timeline(spans=whole.spans_before(place), articles=())
            after = Timeline(spans=whole.spans_after(place), articles=())
            assert samples_of(before) + samples_of(after) == heard
            if place in heard:
                assert samples_of(after)[0] == place


@given(st.integers(1, 30), st.integers(1, 10), st.integers(1, 30), st.integers(0, 50))
def test_an_article_begun_in_the_sentence_begins_with_the_new_one(
    start: int, length: int, read: int, inside: int
) -> None:
    mark = start + inside % length
    standing = standing_of(
        sealed(1, MOST),
        ArticleStarted(take=1, sample=mark, title="A"),
        Decided(start=(1, start), stop=(1, start + length), finding="", decision="read again"),
        TakeRolled(take=2, sample_rate_hz=48_000, read_for=4, first_take=2),
        sealed(2, read),
        Patch(
            read_for=4, begin=(2, 0), until=(2, read), start=(1, start), stop=(1, start + length)
        ),
    )
    (article,) = timeline(standing).articles
    assert (article.take, article.sample) == (2, 0)


def _twin(standing: Standing) -> list[Place]:
    """Lay it out as the page on reading folders says, with lists and sets of samples."""
    known = takes(standing)
    counts = list(counting(standing))
    counted = {edit.number for edit in counts}
    left_out = {
        edit.what.take
        for edit in standing.edits
        if isinstance(edit.what, TakeRolled | TakeSealed) and edit.number not in counted
    }
    lengths = {take: 0 if take in left_out else facts.samples or 0 for take, facts in known.items()}
    latest = {edit.what.read_for: edit.what for edit in counts if isinstance(edit.what, Patch)}
    away: list[tuple[Place, Place]] = []
    for edit in counts:
        if isinstance(edit.what, Again):
            again = edit.what
            away.append(((again.back_take, again.back_sample), (again.take, again.resume)))
        elif isinstance(edit.what, Cut):
            away.append(((edit.what.take, edit.what.start), (edit.what.take, edit.what.stop)))

    def first_of(take: int) -> int | None:
        return known[take].first_take

    seen: set[Place] = set()
    applied: list[Patch] = []
    outside: set[Place] = set()

    def clamped(place: Place) -> Place:
        return place[0], min(place[1], lengths[place[0]])

    def events(first: int | None, begin: Place, until: Place) -> Iterator[tuple[str, Place]]:
        ranges = [(a, b) for a, b in away if first_of(b[0]) == first and a >= begin]
        for take in sorted(known):
            if first_of(take) != first or not begin[0] <= take <= until[0]:
                continue
            start = clamped(begin)[1] if take == begin[0] else 0
            stop = clamped(until)[1] if take == until[0] else lengths[take]
            for sample in range(start, stop + 1):
                here = (take, sample)
                yield "before", here
                seen.add(here)
                for patch in latest.values():
                    covered = any(
                        a <= patch.start and patch.stop <= b
                        for a, b in ranges
                        if first_of(patch.start[0]) == first
                    )
                    if patch.stop == here and patch.start in seen and not covered:
                        applied.append(patch)
                        yield from events(first_of(patch.begin[0]), patch.begin, patch.until)
                yield "at", here
                if sample < stop:
                    if any(a <= here < b for a, b in ranges):
                        outside.add(here)
                    yield "sample", here

    line = list(events(None, (0, 0), (99, 0)))
    for patch in applied:
        between = line[line.index(("at", patch.start)) : line.index(("before", patch.stop))]
        outside |= {place for what, place in between if what == "sample"}
    return [place for what, place in line if what == "sample" and place not in outside]
