"""Repairs as a plan holds them: what is wrong, where, what is done to it, and how strongly.

Positions are samples of the sound that is finished, at 48 kHz, before anything else is done to it.
"""

from __future__ import annotations

from dataclasses import dataclass

from quietleaf.finishing.entries import Author, Measured, State
from quietleaf.listening.findings import FindingKind

Ranges = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Interpolation:
    """Samples that are thrown away, and told from what is around them.

    Attributes
    ----------
    kind : {"clip", "dropout", "click"}
        Of clipping the new ones lie beyond the level at which it was cut off.
    runs : tuple of (int, int)
        Which samples, inside ``start`` to ``stop``.
    """

    kind: FindingKind
    start: int
    stop: int
    runs: Ranges
    state: State
    by: Author
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class LowBand:
    """What lies below a corner is turned down at an onset; what lies above stays as it is.

    Attributes
    ----------
    by_db : float
        By how much, a positive number.
    """

    kind: FindingKind
    start: int
    stop: int
    corner_hz: float
    by_db: float
    state: State
    by: Author
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedDown:
    """All of a range is turned down, and the room under it stays as loud as it was.

    Attributes
    ----------
    by_db : float
        By how much, a positive number.
    quiet : tuple of (int, int)
        Ranges of the sound that room tone is drawn from, to make up for what went with the rest.
    seed : int
        Of the order in which it is drawn.
    tone_db : float
        By how much it is laid louder than it was drawn: the room may be another here.
    """

    kind: FindingKind
    start: int
    stop: int
    by_db: float
    quiet: Ranges
    seed: int
    tone_db: float
    state: State
    by: Author
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Replaced:
    """Room tone takes the place of a range in a pause; see `TurnedDown`."""

    kind: FindingKind
    start: int
    stop: int
    quiet: Ranges
    seed: int
    tone_db: float
    state: State
    by: Author
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class LinesTaken:
    """Hum: lines at multiples of one frequency, which is followed, are taken away.

    Attributes
    ----------
    mains_hz : float
        About which frequency.
    lines : tuple of int
        Which multiples of it.
    """

    kind: FindingKind
    start: int
    stop: int
    mains_hz: float
    lines: tuple[int, ...]
    state: State
    by: Author
    reason: str
    measured: Measured


Repair = Interpolation | LowBand | TurnedDown | Replaced | LinesTaken
