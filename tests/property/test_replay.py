"""Laws of the ledger and its timeline."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from quietleaf.booth.edits import Again, ArticleStarted, Cut, Opened, TakeRolled, TakeSealed, Undo
from quietleaf.booth.replay import (
    START,
    Standing,
    counting,
    replay,
    state,
    step,
    takes,
    timeline,
)
from quietleaf.errors import Refused
from tests.readings import HAPPENINGS, enter, standings

RECORDED = dict.fromkeys(range(1, 9), 25)
"""How far a take that still rolls was confirmed."""


@given(standings(), st.data())
def test_replay_in_two_goes_equals_one(standing: Standing, data: st.DataObject) -> None:
    middle = data.draw(st.integers(0, standing.revision))
    first = replay(standing.edits[:middle])
    assert replay(standing.edits[middle:], first) == standing
    one_by_one = START
    for edit in standing.edits:
        one_by_one = step(one_by_one, edit)
    assert one_by_one == replay(standing.edits) == standing


@given(standings())
def test_spans_never_overlap_nor_leave_a_take(standing: Standing) -> None:
    spans = timeline(standing, RECORDED).spans
    known = takes(standing)
    for span in spans:
        samples = known[span.take].samples
        longest = RECORDED[span.take] if samples is None else samples
        assert 0 <= span.start < span.stop <= longest
    for span, following in itertools.pairwise(spans):
        assert (span.take, span.stop) < (following.take, following.start)


@given(standings())
def test_the_timeline_is_what_a_twin_finds_sample_by_sample(standing: Standing) -> None:
    spans = timeline(standing, RECORDED).spans
    laid_out = [(span.take, at) for span in spans for at in range(span.start, span.stop)]
    assert laid_out == _sample_by_sample(standing)


@given(standings())
def test_articles_lie_in_spans_and_in_order(standing: Standing) -> None:
    whole = timeline(standing, RECORDED)
    places = [(article.take, article.sample) for article in whole.articles]
    assert places == sorted(set(places))
    for take, sample in places:
        assert any(span.take == take and span.start <= sample < span.stop for span in whole.spans)
    marked = {
        edit.what.title for edit in counting(standing) if isinstance(edit.what, ArticleStarted)
    }
    assert {article.title for article in whole.articles} <= marked


@given(standings(), st.data())
def test_undo_restores(standing: Standing, data: st.DataObject) -> None:
    wishes = data.draw(st.lists(HAPPENINGS, min_size=1, max_size=8))
    for what in wishes:
        try:
            after = enter(standing, what)
            undone = enter(after, Undo(of=after.revision))
        except Refused:
            continue
        assert timeline(undone, RECORDED) == timeline(standing, RECORDED)
        assert state(undone) == state(standing)
        redone = enter(undone, Undo(of=undone.revision))
        assert timeline(redone, RECORDED) == timeline(after, RECORDED)
        assert state(redone) == state(after)


@given(standings(), st.data())
def test_undo_of_an_older_entry_leaves_what_the_others_make(
    standing: Standing, data: st.DataObject
) -> None:
    target = data.draw(st.integers(1, standing.revision))
    edit = standing.edits[target - 1]
    if isinstance(edit.what, Opened | Undo | TakeRolled | TakeSealed) or target in standing.undone:
        return
    try:
        undone = enter(standing, Undo(of=target))
    except Refused:
        return
    others = replay(
        other for other in standing.edits if other is not edit and other.what != Undo(of=target)
    )
    assert timeline(undone, RECORDED) == timeline(others, RECORDED)


@given(standings(), st.data())
def test_no_edit_changes_what_is_known_of_a_complete_take(
    standing: Standing, data: st.DataObject
) -> None:
    complete = {take.take: take for take in takes(standing).values() if take.samples is not None}
    for what in data.draw(st.lists(HAPPENINGS, max_size=8)):
        try:
            standing = enter(standing, what)
        except Refused:
            continue
    assert {take: takes(standing)[take] for take in complete} == complete


@given(standings(), st.data())
def test_entries_that_take_out_can_come_in_any_order(
    standing: Standing, data: st.DataObject
) -> None:
    movable = [edit for edit in counting(standing) if isinstance(edit.what, Again | Cut)]
    others = [edit for edit in counting(standing) if not isinstance(edit.what, Again | Cut | Undo)]
    shuffled = data.draw(st.permutations(movable))
    assert (
        timeline(Standing(edits=(*others, *shuffled)), RECORDED).spans
        == timeline(standing, RECORDED).spans
    )


def _sample_by_sample(standing: Standing) -> list[tuple[int, int]]:
    """Walk the entries that count, as the words of the design say, with sets of samples."""
    targets: dict[int, list[int]] = {}
    for edit in standing.edits:
        if isinstance(edit.what, Undo):
            targets.setdefault(edit.what.of, []).append(edit.number)

    def counts(number: int) -> bool:
        return not any(counts(undo) for undo in targets.get(number, []))

    heard: set[tuple[int, int]] = set()
    never: set[int] = set()
    lengths = {
        take.take: RECORDED[take.take] if take.samples is None else take.samples
        for take in takes(standing).values()
    }
    for edit in standing.edits:
        if isinstance(edit.what, TakeRolled | TakeSealed):
            if not counts(edit.number):
                never.add(edit.what.take)
            heard |= {(edit.what.take, at) for at in range(lengths[edit.what.take])}
    for edit in standing.edits:
        if not counts(edit.number):
            continue
        if isinstance(edit.what, Again):
            again = edit.what
            back, on = (again.back_take, again.back_sample), (again.take, again.resume)
            heard = {place for place in heard if place < back or place >= on}
        elif isinstance(edit.what, Cut):
            cut = edit.what
            heard -= {(cut.take, at) for at in range(cut.start, cut.stop)}
    return sorted(place for place in heard if place[0] not in never)
