"""What a return asks for, and what has been read again."""

from __future__ import annotations

from quietleaf.booth.corrections import corrections, is_returned
from quietleaf.booth.edits import Decided, Patch, StateSet, TakeRolled, Undo
from quietleaf.booth.replay import Standing, state, timeline
from quietleaf.booth.timeline import Place
from tests.readings import enter, sealed, standing_of

HANDED_IN = standing_of(sealed(1, 1_000), StateSet(state="handed in", note=""))


def sent_back(standing: Standing, start: Place, stop: Place) -> Standing:
    return enter(
        standing, Decided(start=start, stop=stop, finding="", decision="read again", note="price")
    )


def returned(standing: Standing) -> Standing:
    return enter(standing, StateSet(state="returned", note=""))


def read_again(
    standing: Standing, read_for: int, take: int, start: int, stop: int, in_take: int = 1
) -> Standing:
    rolled = TakeRolled(take=take, sample_rate_hz=48_000, read_for=read_for, first_take=take)
    patch = Patch(
        read_for=read_for,
        begin=(take, 10),
        until=(take, 90),
        start=(in_take, start),
        stop=(in_take, stop),
    )
    return enter(enter(enter(standing, rolled), sealed(take, 100)), patch)


def seen(standing: Standing) -> list[tuple[int, bool]]:
    return [(one.entry.number, one.patch is not None) for one in corrections(standing)]


def test_what_was_sent_back_is_asked_for_until_it_is_read_again() -> None:
    standing = sent_back(sent_back(HANDED_IN, (1, 600), (1, 650)), (1, 100), (1, 150))
    assert corrections(standing) == ()
    standing = returned(standing)
    assert is_returned(standing)
    assert seen(standing) == [(5, False), (4, False)]
    standing = read_again(standing, 5, 2, 80, 200)
    assert state(standing) == "in the booth"
    assert is_returned(standing)
    assert seen(standing) == [(5, True), (4, False)]
    standing = enter(standing, StateSet(state="handed in", note=""))
    assert not is_returned(standing)
    assert seen(standing) == [(5, True), (4, False)]


def test_one_patch_can_stand_for_two_places_of_a_sentence() -> None:
    standing = sent_back(sent_back(HANDED_IN, (1, 100), (1, 120)), (1, 150), (1, 170))
    standing = read_again(returned(standing), 4, 2, 80, 200)
    assert seen(standing) == [(4, True), (5, True)]


def test_a_second_return_asks_for_what_it_sends_back_alone() -> None:
    standing = read_again(returned(sent_back(HANDED_IN, (1, 100), (1, 150))), 4, 2, 80, 200)
    standing = enter(standing, StateSet(state="handed in", note=""))
    standing = returned(sent_back(standing, (2, 40), (2, 50)))
    assert seen(standing) == [(10, False)]
    standing = read_again(standing, 10, 3, 30, 60, in_take=2)
    assert [(span.take, span.start, span.stop) for span in timeline(standing).spans] == [
        (1, 0, 80),
        (2, 10, 30),
        (3, 10, 90),
        (2, 60, 90),
        (1, 200, 1_000),
    ]
    assert seen(standing) == [(10, True)]


def test_a_decision_that_is_taken_back_asks_for_nothing_any_more() -> None:
    standing = returned(sent_back(HANDED_IN, (1, 100), (1, 150)))
    assert seen(enter(standing, Undo(of=4))) == []


def test_a_place_can_reach_from_a_patch_into_what_follows() -> None:
    standing = read_again(returned(sent_back(HANDED_IN, (1, 100), (1, 150))), 4, 2, 80, 200)
    standing = sent_back(standing, (2, 50), (1, 250))
    standing = returned(enter(standing, StateSet(state="handed in", note="")))
    assert seen(standing) == [(9, False)]
