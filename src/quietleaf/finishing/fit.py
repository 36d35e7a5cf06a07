"""The fit to the slot: pauses first, then the pace, then short items, at last room tone.

Everything is whole samples, so that the length is met exactly. Nothing is cut off: where all of
this together is not enough, the reading stays as it is, and the plan says by how much it misses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from quietleaf.errors import Invalid
from quietleaf.finishing.assembly import master_samples
from quietleaf.finishing.at_places import PlaceDecision, decided_at
from quietleaf.finishing.fit_changes import (
    item_changes,
    last_tone,
    pace_at_places,
    pace_changes,
    pause_changes,
    pauses_at_places,
)
from quietleaf.finishing.fit_entries import UNFITTED, FitEntries, ShortItem
from quietleaf.finishing.fit_items import Offer, chosen_items
from quietleaf.finishing.fit_pauses import (
    LAST,
    NATURAL,
    WIDE,
    Bounds,
    pauses_to_fit,
    room_of,
)
from quietleaf.finishing.fit_stops import stops_of
from quietleaf.finishing.plan import RATE_HZ, Fit, Layout, Sentence, fit_of
from quietleaf.finishing.structure import structure_of
from quietleaf.finishing.survey import Survey
from quietleaf.finishing.tempo import STRETCH_SAMPLES_MIN
from quietleaf.listening.structure import Structure
from quietleaf.units import Window, clock

PACE_SHARE_MOST = 0.03
ROOM_TONE_S_MOST = 60.0
ROOM_TONE_SHARE_MOST = 0.02
"""A minute of an hour: what stations fill with announcements without asking anybody."""


class Ranged(Protocol):
    """What lies in a range of the sound."""

    @property
    def start(self) -> int:
        """Its first sample."""

    @property
    def stop(self) -> int:
        """The one after its last."""


R = TypeVar("R", bound=Ranged)


@dataclass(frozen=True, slots=True, kw_only=True)
class FitWish:
    """What length a master is to have.

    Attributes
    ----------
    window : Window or None
        Least and greatest length; None where any will do.
    exact_s : float or None
        This length and no other, to the sample.
    free : bool
        A private request: it is never stretched nor cut to a length.
    articles : tuple of (int, str)
        Samples of the sound where articles begin, and their titles.
    joins : tuple of int
        Samples of the sound where spans meet.
    offers : tuple of Offer
        The station's short items.
    decided : FitEntries
        What the desk decided: it holds, and the rest is planned around it.
    at_places : tuple of PlaceDecision
        The same of places, whatever is planned there.
    closing : int or None
        Sample of the sound where the closing words begin.
    """

    window: Window | None = None
    exact_s: float | None = None
    free: bool = False
    articles: tuple[tuple[int, str], ...] = ()
    joins: tuple[int, ...] = ()
    offers: tuple[Offer, ...] = ()
    decided: FitEntries = UNFITTED
    at_places: tuple[PlaceDecision, ...] = ()
    closing: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shares:
    """What each step gives, in samples; negative where the reading becomes shorter."""

    pauses: int
    bounds: Bounds
    pace: int
    items: tuple[Offer, ...] = ()
    room_tone: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rooms:
    """What each step could give, in samples."""

    natural: int
    wide: int
    last: int
    pace: int


def fit_layout(layout: Layout, survey: Survey, wish: FitWish) -> tuple[Layout, Fit]:
    """Bring a layout to its length.

    Parameters
    ----------
    layout : Layout
        Nothing fitted yet.
    survey : Survey
        Of the whole sound.

    Returns
    -------
    layout : Layout
        With what was done; as it was where nothing is wanted, or not enough can be done.
    fit : Fit

    Raises
    ------
    Invalid
        If somebody wants a short item that is not there.
    """
    if wish.free:
        return layout, fit_of(master_samples(layout), None)
    decided = wish.decided
    _refuse_missing(decided.items, wish.offers)
    layout = replace(layout, pauses=decided.pauses, pace=decided.pace, items=decided.items)
    structure = structure_of(survey)
    if wish.at_places and structure is not None:
        layout = _at_places(layout, survey, structure, wish)
    natural = master_samples(layout)
    wanted = _wanted_samples(natural, wish)
    if wanted is None or wanted == natural or structure is None:
        return layout, fit_of(natural, _window(natural, wish))
    change = wanted - natural
    articles = [place for place, _ in wish.articles]
    pauses = _undecided(pauses_to_fit(layout, structure, articles, wish.joins), layout.pauses)
    spoken = _undecided(_spoken(layout), layout.pace)
    refused = {one.key for one in layout.items}
    offers = [one for one in wish.offers if one.key not in refused]
    rooms = _Rooms(
        natural=room_of(pauses, NATURAL, longer=change > 0),
        wide=room_of(pauses, WIDE, longer=change > 0),
        last=room_of(pauses, LAST, longer=change > 0),
        pace=int(PACE_SHARE_MOST * sum(one.stop - one.start for one in spoken)),
    )
    shares = _shares(change, rooms, wanted, offers)
    measured = _measured(natural, wanted, rooms)
    if shares is None:
        return layout, _missed(layout, natural, wanted, wish, measured)
    fitted = replace(
        layout,
        pauses=_in_order(
            *layout.pauses,
            *pause_changes(structure, pauses, shares.pauses, shares.bounds, wish.joins),
        ),
        pace=_in_order(*layout.pace, *pace_changes(spoken, shares.pace)),
        items=(*layout.items, *item_changes(layout, survey, shares.items)),
        room_tone=layout.room_tone + last_tone(structure, layout, shares.room_tone),
    )
    assert master_samples(fitted) == wanted, "a fit is exact"
    measured |= {
        "pauses_s": _s(shares.pauses),
        "pace_s": _s(shares.pace),
        "items_s": _s(sum(one.samples for one in shares.items)),
        "room_tone_s": _s(shares.room_tone),
    }
    fit = fit_of(wanted, _window(wanted, wish))
    return fitted, replace(
        fit, wanted_samples=wanted, reason=_reason(change, shares), measured=measured
    )


def _at_places(layout: Layout, survey: Survey, structure: Structure, wish: FitWish) -> Layout:
    """Put what the desk decided about places in front of everything that is planned."""
    decisions = wish.at_places
    articles = [place for place, _ in wish.articles]
    pauses = _undecided(pauses_to_fit(layout, structure, articles, wish.joins), layout.pauses)
    there = {one.key for one in layout.items}
    refused = [
        one
        for one in wish.offers
        if one.key not in there
        and (mine := decided_at(decisions, "item", one.key, 0, 1)) is not None
        and mine.wanted == "refused"
    ]
    return replace(
        layout,
        pauses=_in_order(
            *layout.pauses, *pauses_at_places(structure, pauses, decisions, wish.joins)
        ),
        pace=_in_order(
            *layout.pace,
            *pace_at_places(_undecided(_spoken(layout), layout.pace), decisions),
        ),
        items=(
            *layout.items,
            *(
                replace(one, state="refused", by="desk")
                for one in item_changes(layout, survey, refused)
            ),
        ),
    )


def _wanted_samples(natural: int, wish: FitWish) -> int | None:
    if wish.exact_s is not None:
        return round(wish.exact_s * RATE_HZ)
    if wish.window is None:
        return None
    # A window's edges are inside it, whatever they are in samples.
    least = -int(-wish.window.shortest_s * RATE_HZ // 1)
    most = int(wish.window.longest_s * RATE_HZ)
    return min(max(natural, least), most)


def _refuse_missing(decided: Sequence[ShortItem], offers: Sequence[Offer]) -> None:
    there = {one.key for one in offers}
    for item in decided:
        if item.state == "made" and item.key not in there:
            raise Invalid(
                "finish/short-item-missing",
                f"The plan wants {item.title} after the reading, and no short item of these bytes "
                "is there any more. Put it back, or refuse it in the plan.",
            )


def _window(wanted: int, wish: FitWish) -> Window | None:
    """Give what the length is held against: one length alone, where one was asked for."""
    if wish.exact_s is None:
        return wish.window
    return Window(shortest_s=wanted / RATE_HZ, longest_s=wanted / RATE_HZ)


def _undecided(found: Sequence[R], decided: Sequence[Ranged]) -> list[R]:
    return [
        one
        for one in found
        if not any(other.start < one.stop and one.start < other.stop for other in decided)
    ]


def _in_order(*changes: R) -> tuple[R, ...]:
    return tuple(sorted(changes, key=lambda one: one.start))


def _spoken(layout: Layout) -> list[Sentence]:
    """Give the sentences that are kept whole, and are long enough to have their pace changed."""
    cuts = [(cut.start, cut.stop) for cut in layout.cuts if cut.state == "made"]
    return [
        one
        for one in layout.sentences
        if one.stop - one.start >= STRETCH_SAMPLES_MIN
        and not any(start < one.stop and one.start < stop for start, stop in cuts)
    ]


def _shares(change: int, rooms: _Rooms, wanted: int, offers: Sequence[Offer]) -> _Shares | None:
    """Say what each step gives; None where all of them are not enough."""
    sign, left = (-1, -change) if change < 0 else (1, change)
    items: tuple[Offer, ...] = ()
    if change > 0 and left > rooms.natural + rooms.pace:
        # An item is better than a reader made slower: pauses alone should make up for the rest.
        items = chosen_items(offers, left)
        left -= sum(one.samples for one in items)
    within = min(left, rooms.natural)
    pace = min(left - within, rooms.pace)
    beyond = left - within - pace
    further = min(beyond, max(rooms.last - within, 0))
    beyond -= further
    limit = min(int(ROOM_TONE_S_MOST * RATE_HZ), int(ROOM_TONE_SHARE_MOST * wanted))
    if beyond > (limit if change > 0 else 0):
        return None
    return _Shares(
        pauses=sign * (within + further),
        bounds=NATURAL if not further else WIDE if within + further <= rooms.wide else LAST,
        pace=sign * pace,
        items=items,
        room_tone=beyond,
    )


def _missed(
    layout: Layout, natural: int, wanted: int, wish: FitWish, measured: dict[str, float]
) -> Fit:
    """Say by how much it misses its length, and, too long, where it could stop."""
    all_s = measured["pauses_could_s"] + measured["pace_could_s"]
    off = "long" if natural > wanted else "short"
    reason = (
        f"{clock(abs(natural - wanted) / RATE_HZ)} too {off}: pauses and pace together could give "
        f"{clock(all_s)}; the reading is left as it is"
    )
    stops = stops_of(layout, wanted, wish.articles, all_s, wish.closing) if natural > wanted else ()
    return replace(
        fit_of(natural, _window(wanted, wish)),
        wanted_samples=wanted,
        reason=reason,
        measured=measured,
        stops=stops,
    )


def _measured(natural: int, wanted: int, rooms: _Rooms) -> dict[str, float]:
    return {
        "length_before_s": _s(natural),
        "wanted_s": _s(wanted),
        "pauses_could_s": _s(max(rooms.natural, rooms.last)),
        "pauses_could_naturally_s": _s(rooms.natural),
        "pace_could_s": _s(rooms.pace),
    }


def _reason(change: int, shares: _Shares) -> str:
    parts: Mapping[str, int] = {
        "pauses between sentences": shares.pauses,
        "the pace": shares.pace,
        "short items": sum(one.samples for one in shares.items),
        "room tone at the end": shares.room_tone,
    }
    told = [f"{name} {abs(part) / RATE_HZ:.2f} s" for name, part in parts.items() if part]
    way = "longer" if change > 0 else "shorter"
    return f"made {way} by {abs(change) / RATE_HZ:.2f} s: {', '.join(told)}"


def _s(samples: int) -> float:
    return round(samples / RATE_HZ, 4)
