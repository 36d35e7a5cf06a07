"""Readings of which sentences were sent back and read again, for laws."""

from __future__ import annotations

from hypothesis import strategies as st

from quietleaf.booth.edits import (
    Again,
    ArticleStarted,
    Cut,
    Decided,
    Happening,
    Patch,
    TakeRolled,
    Undo,
)
from quietleaf.booth.replay import Standing, takes
from quietleaf.booth.timeline import Place
from quietleaf.errors import Refused
from tests.readings import PLACES, enter, sealed, standing_of

TITLES = st.sampled_from(["", "A", "B"])


@st.composite
def patched(draw: st.DrawFn) -> Standing:
    """Give readings of which sentences were read again, over joins, cuts, and other patches."""
    lengths = draw(st.lists(st.integers(2, 40), min_size=1, max_size=3))
    standing = standing_of(*(sealed(take, n) for take, n in enumerate(lengths, start=1)))
    for _ in range(draw(st.integers(0, 3))):
        standing = _sent_back(draw, standing)
        for _ in range(draw(st.integers(1, 2))):
            standing = tried(draw, standing)
        standing = _tinkered(draw, standing)
    return standing


def _place(draw: st.DrawFn, standing: Standing, among: list[int]) -> Place:
    take = draw(st.sampled_from(among))
    return take, draw(st.integers(0, takes(standing)[take].samples or 0))


def _wish(standing: Standing, what: Happening) -> Standing:
    try:
        return enter(standing, what)
    except Refused:
        # Most random wishes do not hold together: the others make the ledger.
        return standing


def _sent_back(draw: st.DrawFn, standing: Standing) -> Standing:
    everywhere = list(takes(standing))
    places = [_place(draw, standing, everywhere), _place(draw, standing, everywhere)]
    return _wish(
        standing,
        Decided(start=min(places), stop=max(places), finding="", decision="read again"),
    )


def tried(draw: st.DrawFn, standing: Standing, read_for: int | None = None) -> Standing:
    """Read a sentence again that was sent back, in one take or two, and put it in its place."""
    sent = [edit.number for edit in standing.edits if isinstance(edit.what, Decided)]
    if not sent:
        return standing
    read_for = read_for or draw(st.sampled_from(sent))
    earlier = list(takes(standing))
    first = len(earlier) + 1
    for take in range(first, first + draw(st.integers(1, 2))):
        rolled = TakeRolled(take=take, sample_rate_hz=48_000, read_for=read_for, first_take=first)
        standing = enter(enter(standing, rolled), sealed(take, draw(PLACES)))
    own = [take for take in takes(standing) if take >= first]
    if draw(st.booleans()):
        back, on = sorted([_place(draw, standing, own), _place(draw, standing, own)])
        standing = _wish(
            standing,
            Again(take=on[0], mark=on[1], back_take=back[0], back_sample=back[1], resume=on[1]),
        )
    begin, until = sorted([_place(draw, standing, own), _place(draw, standing, own)])
    start, stop = _place(draw, standing, earlier), _place(draw, standing, earlier)
    for ends in ((start, stop), (stop, start)):
        after = _wish(
            standing,
            Patch(read_for=read_for, begin=begin, until=until, start=ends[0], stop=ends[1]),
        )
        if after is not standing:
            return after
    return standing


def _tinkered(draw: st.DrawFn, standing: Standing) -> Standing:
    everywhere = list(takes(standing))
    for _ in range(draw(st.integers(0, 3))):
        one, other = _place(draw, standing, everywhere), _place(draw, standing, everywhere)
        cut = Cut(take=one[0], start=min(one[1], other[1]), stop=max(one[1], other[1]))
        undo = Undo(of=draw(st.integers(2, max(2, standing.revision))))
        standing = _wish(standing, cut if draw(st.booleans()) else undo)
    for _ in range(draw(st.integers(0, 2))):
        take, sample = _place(draw, standing, everywhere)
        standing = _wish(standing, ArticleStarted(take=take, sample=sample, title=draw(TITLES)))
    return standing
