"""What the fit to the slot puts into a plan: pauses, the pace, short items, places to stop.

Positions are samples of the sound that is finished, at 48 kHz, ranges half-open.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from quietleaf.finishing.entries import Author, Measured, State

PauseKind = Literal["sentence", "paragraph", "article", "phrase"]
PAUSE_KINDS: tuple[PauseKind, ...] = ("sentence", "paragraph", "article", "phrase")
"""In the order in which they are changed; a phrase's lies inside a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PauseChange:
    """A pause that becomes longer or shorter.

    Attributes
    ----------
    start, stop : int
        From where one word is no longer heard to where the next one is.
    samples : int
        Its new length.
    place : int
        What goes, goes from here on; what is laid, is laid here.
    seed : int
        Of the order in which pieces of room tone are drawn.
    quiet : tuple of (int, int)
        Where they are drawn from; said of a shorter pause too, which somebody may want longer.
    """

    kind: PauseKind
    start: int
    stop: int
    samples: int
    place: int
    seed: int
    quiet: tuple[tuple[int, int], ...]
    state: State
    by: Author
    reason: str
    measured: Measured

    @property
    def change(self) -> int:
        """By how many samples it becomes longer; none where it is refused."""
        return self.samples - (self.stop - self.start) if self.state == "made" else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceChange:
    """A stretch of speech that is read a little faster or slower; ``samples`` is its new length."""

    start: int
    stop: int
    samples: int
    state: State
    by: Author
    reason: str
    measured: Measured

    @property
    def change(self) -> int:
        """By how many samples it becomes longer; none where it is refused."""
        return self.samples - (self.stop - self.start) if self.state == "made" else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortItem:
    """A recording of the station's own that makes up the length after the reading.

    Attributes
    ----------
    key : str
        Which one: the checksum of its file.
    samples : int
        Its length, whole.
    gain_db : float
        Brings it to the loudness that the reading has before the loudness is set.
    """

    key: str
    title: str
    samples: int
    gain_db: float
    state: State
    by: Author
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class StopPlace:
    """An end of an article where a programme that is too long could stop.

    Attributes
    ----------
    sample : int
        Of the sound.
    length_s : float
        Of the master that stops there, with the closing words, before anything is fitted.
    leaves_out_s : float
    leaves_out : tuple of str
        Titles of the articles that would not be heard.
    state : {"left", "made", "refused"}
        Left until somebody chooses it: no programme is stopped by the plan.
    """

    sample: int
    length_s: float
    leaves_out_s: float
    leaves_out: tuple[str, ...]
    state: State = "left"
    by: Author = "plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class FitEntries:
    """Those of one plan, each in the order of the sound."""

    pauses: tuple[PauseChange, ...] = ()
    pace: tuple[PaceChange, ...] = ()
    items: tuple[ShortItem, ...] = ()
    stops: tuple[StopPlace, ...] = ()


UNFITTED = FitEntries()
