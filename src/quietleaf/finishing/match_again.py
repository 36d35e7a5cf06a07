"""Joins that the hearability check names are planned again, and listened to after each try.

The rooms around a join are told from what lies within 13 s of it. The pause itself may have
another room than the pauses around it: a sentence beside it was given another gain, or what is
quiet near it is a word that dies away. A fill that was planned from them shows in this pause then.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from quietleaf.finishing.assembly import (
    dry_range,
    kept_ranges,
    laid_fills,
    master_place,
    master_samples,
)
from quietleaf.finishing.fills import add_fills
from quietleaf.finishing.match_floor import Laying, Step, step_at
from quietleaf.finishing.match_rooms import EvenedRooms, LeastStep
from quietleaf.finishing.plan import RATE_HZ, Fill, Layout
from quietleaf.finishing.ranges import Sound, one_channel
from quietleaf.listening.join_check import CONTEXT_S, measure_room, own_limits_of
from quietleaf.listening.join_limits import JOIN_LIMITS, OWN_SHARE, OwnLimits
from quietleaf.listening.join_room import RoomStep
from quietleaf.listening.join_room import step_at as own_step_at

_ROUNDS_MOST = 2
_TRIES_MOST = 6
_CONTEXT = round(CONTEXT_S * RATE_HZ)
_OWN_MOST = 24
_DOUBT_SHARE = 0.7
"""What is quickly measured differs by so much from what is heard. Ours."""
_ANY = LeastStep(floor_db=0.5, bands=1.0)
_UNDER_WORD = round(0.3 * RATE_HZ)
_OTHER_NOISE = 1 << 40
_LEAST = OwnLimits(floor_db=0.0, bands=0.0, pause_db=0.0, pause_bands=0.0).at_least(JOIN_LIMITS)
_UNKNOWN = OwnLimits(floor_db=3.0, bands=6.0, pause_db=3.0, pause_bands=6.0)
"""Where too few pauses say what the room does by itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    """A join, and those before and after it: it is not listened to past them."""

    before: int
    join: int
    after: int


def match_again(layout: Layout, rooms: EvenedRooms, sound: Sound, joins: tuple[int, ...]) -> Layout:
    """Plan the fills of joins again that show in what was planned.

    Parameters
    ----------
    layout : Layout
        With its fills.
    rooms : EvenedRooms
        Of the sound with the gains of its sentences, and its colours.
    sound : Sound
        As it was recorded.
    joins : tuple of int
        Samples of the sound where spans meet.

    Notes
    -----
    A join whose rooms, as they were measured for the plan, come near to a limit is rendered and
    measured as it will be heard. One that shows, by the check or inside its pause, gets up to six
    tries, each listened to: what the pause lacks, in the pause alone; that in place of the fills
    it had; more of those; the first two with what the surroundings lack then, laid from the words
    on; fills told from its pause. The best is kept, and the plan of a join that does not show is
    not touched.
    """
    kept = kept_ranges(layout)
    first, last = kept[0][0], kept[-1][1]
    places = sorted({join for join in joins if first < join < last})
    bounds = [first, *places, last]
    known = _Known(rooms, sound, places)
    laying = Laying(kept=(first, last), join_samples=layout.join_samples)
    waiting = [
        _Window(before=before, join=join, after=after)
        for before, join, after in zip(bounds[:-2], places, bounds[2:], strict=True)
        if any(start < join < stop for start, stop in kept)
    ]
    heard_with: dict[_Window, tuple[Fill, ...]] = {}
    # What is laid for one join reaches others: those are listened to anew.
    for _ in range(_ROUNDS_MOST):
        for window in tuple(waiting):
            near = tuple(
                fill
                for fill in layout.fills
                if fill.start < window.after and fill.stop > window.before
            )
            if heard_with.get(window) == near:
                continue
            heard_with[window] = near
            if not known.doubts(window, near):
                continue
            listener = _Listener(layout, sound, window)
            planned = listener.hear(layout.fills)
            if known.shows(planned):
                waiting.remove(window)
                tries = _tries(layout, rooms, window, laying)
                better = _best_of(tries, listener, _limits(planned, known.aim()), planned)
                layout = layout if better is None else replace(layout, fills=better)
    return layout


def _best_of(
    tries: Iterator[tuple[Fill, ...]],
    listener: _Listener,
    limits: Mapping[str, float],
    planned: Mapping[str, float],
) -> tuple[Fill, ...] | None:
    best, fills = _shown(planned, limits), None
    for tried in islice(tries, _TRIES_MOST):
        if best.over == 0:
            break
        shown = _shown(listener.hear(tried), limits)
        if (shown.over, shown.worst) < (best.over, best.worst):
            best, fills = shown, tried
    return fills


def _limits(planned: Mapping[str, float], aim: OwnLimits) -> dict[str, float]:
    """Give what each figure is held against; what was under the general limit stays under it."""
    general, own = _figures(_LEAST), _figures(aim)
    return {
        name: own[name] if planned.get(name, 0.0) > most else most for name, most in general.items()
    }


def _figures(most: OwnLimits) -> dict[str, float]:
    """Give limits by the names of what is measured."""
    return {
        "edge_db": JOIN_LIMITS.edge_db,
        "floor_step_db": most.floor_db,
        "band_step": most.bands,
        "pause_step_db": most.pause_db,
        "pause_band_step": most.pause_bands,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """How many figures are over their limits, and the worst as a share of its own."""

    over: int
    worst: float


def _shown(measured: Mapping[str, float], limits: Mapping[str, float]) -> _Shown:
    shares = [measured[name] / limit for name, limit in limits.items() if name in measured]
    return _Shown(over=sum(share > 1.0 for share in shares), worst=max(shares, default=0.0))


class _Known:
    """What this reading does by itself."""

    def __init__(self, rooms: EvenedRooms, sound: Sound, places: Sequence[int]) -> None:
        self._rooms = rooms
        self._sound = sound
        self._places = places
        self._own: OwnLimits | None = None

    def doubts(self, window: _Window, fills: tuple[Fill, ...]) -> bool:
        """Say whether a join may show, from what was measured for the plan; it is quickly told."""
        most = _LEAST if self._own is None else self._own
        around = self._rooms.at(window.join, window.before, window.after, fills)
        inside = self._rooms.in_pause(window.join, fills)
        measured = {"edge_db": self._rooms.edge_db(window.join, fills)}
        if around is not None:
            measured |= {"floor_step_db": abs(around.step_db), "band_step": around.bands}
        if inside is not None:
            measured |= {"pause_step_db": abs(inside.step_db), "pause_band_step": inside.bands}
        return _shown(measured, _figures(most)).worst > _DOUBT_SHARE

    def shows(self, measured: Mapping[str, float]) -> bool:
        """Say whether a figure is over its limit."""
        if _shown(measured, _figures(_LEAST)).over == 0:
            return False
        return _shown(measured, _figures(self.own())).over > 0

    def own(self) -> OwnLimits:
        """Give what the recording does by itself at pauses without a join, learned when asked for.

        The check allows 1.3 times as much: what comes near to that is tried too.
        """
        if self._own is None:
            free = self._rooms.free_pauses(self._places)
            chosen = free[:: -(-len(free) // _OWN_MOST) or 1]
            known = own_limits_of(self._step(*pause) for pause in chosen)
            self._own = _UNKNOWN if known is None else _without_share(known)
        return self._own

    def aim(self) -> OwnLimits:
        """Give what is aimed at: what is not known is no excuse."""
        own = self.own()
        return _LEAST if own is _UNKNOWN else own

    def _step(self, middle: int, first: int, stop: int) -> RoomStep | None:
        start = max(first, middle - _CONTEXT)
        part = one_channel(self._sound.read(start, min(stop, middle + _CONTEXT)))
        return own_step_at(part, RATE_HZ, middle - start)


def _without_share(known: OwnLimits) -> OwnLimits:
    is_told = math.isfinite(known.pause_db)
    own = OwnLimits(
        floor_db=known.floor_db / OWN_SHARE,
        bands=known.bands / OWN_SHARE,
        pause_db=known.pause_db / OWN_SHARE if is_told else _UNKNOWN.pause_db,
        pause_bands=known.pause_bands / OWN_SHARE if is_told else _UNKNOWN.pause_bands,
    )
    return own.at_least(JOIN_LIMITS)


class _Listener:
    """A join as it will be heard: everything but the fills is rendered once."""

    def __init__(self, layout: Layout, sound: Sound, window: _Window) -> None:
        start = max(window.before, window.join - _CONTEXT)
        stop = min(window.after, window.join + _CONTEXT)
        self._layout = layout
        self._part, self._first = dry_range(layout, sound, start, stop)
        self._splice = master_place(layout, window.join) - self._first

    def hear(self, fills: tuple[Fill, ...]) -> Mapping[str, float]:
        part = self._part.copy()
        layout = replace(self._layout, fills=fills)
        add_fills(part, self._first, laid_fills(layout, master_samples(layout)))
        return measure_room(part, RATE_HZ, self._splice)


def _tries(
    layout: Layout, rooms: EvenedRooms, window: _Window, laying: Laying
) -> Iterator[tuple[Fill, ...]]:
    fills = layout.fills
    mine = tuple(fill for fill in fills if _is_of(fill, window, layout.join_samples))
    others = tuple(fill for fill in fills if fill not in mine)
    join = window.join

    def step_around(with_fills: tuple[Fill, ...]) -> Step | None:
        around = rooms.at(join, window.before, window.after, with_fills)
        return step_at(around, join, _ANY)

    def step_inside(with_fills: tuple[Fill, ...]) -> Step | None:
        return step_at(rooms.in_pause(join, with_fills), join, _ANY)

    pause = rooms.pause_around(join)
    laid = _Laid(laying=laying, window=window, pause=pause)
    yield (evened := fills + laid.in_pause(step_inside(fills)))
    yield (alone := others + laid.in_pause(step_inside(others)))
    yield fills + laid.from_join(step_around(fills))
    yield evened + laid.beyond(step_around(evened))
    yield alone + laid.beyond(step_around(alone))
    yield others + laid.from_join(step_inside(others))


def _is_of(fill: Fill, window: _Window, join_samples: int) -> bool:
    """Say whether a fill was laid for this join alone."""
    half = join_samples // 2
    begins, ends = fill.start == window.join - half, fill.stop == window.join + half
    whole = fill.start == window.before - half or fill.stop == window.after + half
    return (begins or ends) and not whole


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """Lays what the sides of a join lack; what comes or goes beside it does so under a word."""

    laying: Laying
    window: _Window
    pause: tuple[int, int]

    def from_join(self, step: Step | None) -> tuple[Fill, ...]:
        """Lay it as far as a planned fill reaches."""
        if step is None:
            return ()
        before, join, after = self.window.before, self.window.join, self.window.after
        laid = self.laying.over((before, join), None, step.before)
        laid += self.laying.over((join, after), step.after, None)
        # Two fills that lie over each other must not have the same noise.
        return tuple(_other_noise(fill) for fill in laid)

    def in_pause(self, step: Step | None) -> tuple[Fill, ...]:
        """Lay it in the pause alone."""
        if step is None:
            return ()
        (stops, begins), (starts, ends) = self._words()
        join, half = self.window.join, self.laying.join_samples // 2
        laid = []
        if step.before is not None:
            rise = max(stops - begins, 1)
            laid.append(self.laying.fill(step.before, begins, join + half, rise, 2 * half))
        if step.after is not None:
            fall = max(ends - starts, 1)
            laid.append(self.laying.fill(step.after, join - half, ends, 2 * half, fall))
        return tuple(_other_noise(fill) for fill in laid)

    def beyond(self, step: Step | None) -> tuple[Fill, ...]:
        """Lay it as far as a planned fill reaches, but not in the pause."""
        if step is None:
            return ()
        (stops, begins), (starts, ends) = self._words()
        laid = []
        for fill in self.from_join(step):
            if fill.stop > ends:
                laid.append(replace(fill, start=starts, rise=max(ends - starts, 1)))
            elif fill.start < begins:
                laid.append(replace(fill, stop=stops, fall=max(stops - begins, 1)))
        return tuple(_other_noise(fill) for fill in laid)

    def _words(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Give the edges of the words beside the pause, and what lies 0.3 s inside them."""
        stops, starts = self.pause
        begins = max(stops - _UNDER_WORD, self.window.before)
        ends = min(starts + _UNDER_WORD, self.window.after)
        return (stops, begins), (starts, ends)


def _other_noise(fill: Fill) -> Fill:
    return replace(fill, seed=fill.seed + _OTHER_NOISE)
