"""The room on both sides of a join: where it is quieter on one, noise of its shape is added there.

The even voice has given each sentence its gain by then, and the rooms differ by what the gains
differ. A gate or an expander would move the room between words; adding does not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.fills import band_powers
from quietleaf.finishing.match_rooms import EvenedRooms, LeastStep, Rooms
from quietleaf.finishing.plan import RATE_HZ, Fill

STEP_DB_MOST = 12.0
"""A greater step is another room: it is for an ear. Ours."""
_HOLD_S, _FADE_S = 14.0, 10.0
"""Longer than a listener, or a check, remembers a room."""
_ROUNDS_MOST = 3
_SMALLEST_SHARE = 0.25
"""1 dB in a band: less than that is chance."""
_NOTHING = 1e-14


def plan_fills(
    rooms: EvenedRooms, joins: tuple[int, ...], kept: tuple[int, int], join_samples: int
) -> tuple[Fill, ...]:
    """Plan what is added.

    Parameters
    ----------
    rooms : EvenedRooms
        Of the sound with the gains of its sentences.
    joins : tuple of int
        Samples of the sound where spans meet.
    kept : (int, int)
        From its head to its tail, which are cut.
    join_samples : int
        Length of a cross-fade.

    Notes
    -----
    A step counts broadband or in its bands, and from what this room does by itself on: see
    `EvenedRooms.least_step`. Each side is given, band by band, what it lacks of the other. Over
    12 dB nothing is added.

    A span that lacks something at both of its ends, and is short, is filled over its whole length.
    Any other fill holds for 14 s and fades over 10 s, over other joins too: it adds the same to
    both sides of them.

    The rooms are listened to again with the fills in them, as other moments are the quiet ones
    then: what is missing still is added.
    """
    places = sorted({join for join in joins if kept[0] < join < kept[1]})
    if not places:
        return ()
    least = rooms.least_step(places)
    bounds = [kept[0], *places, kept[1]]
    windows = list(zip(bounds[:-2], places, bounds[2:], strict=True))
    laying = Laying(kept=kept, join_samples=join_samples)
    fills: dict[tuple[int, int, int, int], Fill] = {}
    steps: list[Step | None] = [None] * len(places)
    heard_with: list[tuple[Fill, ...] | None] = [None] * len(places)
    for _ in range(_ROUNDS_MOST):
        for number, (before, join, after) in enumerate(windows):
            near = tuple(
                fill for fill in fills.values() if fill.start < after and fill.stop > before
            )
            if near != heard_with[number]:
                steps[number] = step_at(rooms.at(join, before, after, near), join, least)
                heard_with[number] = near
        more = _fills_of(steps, bounds, laying)
        if not more:
            break
        for fill in more:
            key = (fill.start, fill.stop, fill.rise, fill.fall)
            fills[key] = _with_more(fills[key], fill) if key in fills else fill
    return tuple(fills.values())


def _fills_of(steps: list[Step | None], bounds: list[int], laying: Laying) -> list[Fill]:
    nothing: list[Lack | None] = [None]
    begins = nothing + [step.after if step else None for step in steps]
    ends = [step.before if step else None for step in steps] + nothing
    fills: list[Fill] = []
    for span, at_start, at_end in zip(pairwise(bounds), begins, ends, strict=True):
        fills += laying.over(span, at_start, at_end)
    return fills


def _with_more(fill: Fill, more: Fill) -> Fill:
    powers = band_powers(fill.bands_db) + band_powers(more.bands_db)
    return replace(fill, bands_db=_bands_db(powers))


def _bands_db(powers: NDArray[np.float64]) -> tuple[float, ...]:
    levels = 10.0 * np.log10(np.maximum(powers, _NOTHING))
    return tuple(round(float(level), 2) for level in levels)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lack:
    """What a side of a join lacks: power per band."""

    join: int
    missing: NDArray[np.float64]
    top_hz: float
    reason: str
    measured: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    before: Lack | None
    after: Lack | None


def step_at(rooms: Rooms | None, join: int, least: LeastStep) -> Step | None:
    """Say what the sides lack of each other; None where they agree, or cannot be told."""
    if rooms is None or not least.counts(rooms) or abs(rooms.step_db) > STEP_DB_MOST:
        return None
    measured = {
        "step_db": round(rooms.step_db, 2),
        "own_step_db": round(least.floor_db, 2),
        "band_step": round(rooms.bands, 2),
        "own_band_step": round(least.bands, 2),
    }

    def lack(mine: NDArray[np.float64], other: NDArray[np.float64], where: str) -> Lack | None:
        if abs(rooms.step_db) > least.floor_db and mine.sum() > other.sum():
            # A band that the louder side lacks may be a breath in what was measured of the other.
            return None
        missing = np.maximum(other - mine, 0.0)
        if float((missing / mine).max()) < _SMALLEST_SHARE:
            return None
        added_db = 10.0 * float(np.log10(1.0 + missing.sum() / mine.sum()))
        reason = f"the room lacks {added_db:.1f} dB {where} this join"
        return Lack(
            join=join, missing=missing, top_hz=rooms.top_hz, reason=reason, measured=measured
        )

    return Step(
        before=lack(rooms.before, rooms.after, "before"),
        after=lack(rooms.after, rooms.before, "after"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Laying:
    kept: tuple[int, int]
    join_samples: int

    def over(self, span: tuple[int, int], begins: Lack | None, ends: Lack | None) -> list[Fill]:
        """Fill a span from the ends at which it lacks something."""
        start, stop = span
        half = self.join_samples // 2
        hold, fade = round(_HOLD_S * RATE_HZ), round(_FADE_S * RATE_HZ)
        if begins is not None and ends is not None and stop - start < 2 * hold:
            both = Lack(
                join=begins.join,
                missing=(begins.missing + ends.missing) / 2.0,
                top_hz=min(begins.top_hz, ends.top_hz),
                reason=begins.reason,
                measured=begins.measured,
            )
            return [self.fill(both, start - half, stop + half, 2 * half, 2 * half)]
        fills = []
        if begins is not None:
            reach = min(hold + fade, self.kept[1] - start)
            falling = fade if reach == hold + fade else 2 * half
            fills.append(self.fill(begins, start - half, start + reach, 2 * half, falling))
        if ends is not None:
            reach = min(hold + fade, stop - self.kept[0])
            rising = fade if reach == hold + fade else 2 * half
            fills.append(self.fill(ends, stop - reach, stop + half, rising, 2 * half))
        return fills

    def fill(self, lack: Lack, start: int, stop: int, rise: int, fall: int) -> Fill:
        """Fill a range with what a side lacks."""
        return Fill(
            start=max(self.kept[0], start),
            stop=min(stop, self.kept[1]),
            rise=rise,
            fall=fall,
            bands_db=_bands_db(lack.missing),
            top_hz=lack.top_hz,
            # Two fills may lie over each other, on both sides of a join: their noises differ.
            seed=2 * lack.join + (start < lack.join - self.join_samples),
            reason=lack.reason,
            measured=lack.measured,
        )
