"""The finishing plan: everything that is done to a reading to make it a master. Data, not code.

Positions are whole samples of the sound that is finished, at 48 kHz, ranges half-open; a place in
the master is said to be one. Each entry carries its reason and what was measured.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from quietleaf.finishing.entries import Author, Measured, State
from quietleaf.finishing.fit_entries import PaceChange, PauseChange, ShortItem, StopPlace
from quietleaf.finishing.repairs import Repair
from quietleaf.finishing.targets import Target
from quietleaf.planning.outlet import Outlet
from quietleaf.units import Window

RATE_HZ = 48_000
"""Masters have this rate."""

CutKind = Literal["head", "breath", "tail", "dead-air", "restart", "desk", "stop"]
CUT_KINDS: tuple[CutKind, ...] = (
    *("head", "breath", "tail", "dead-air", "restart", "desk", "stop"),
)
"""The last two are made where the desk says so alone: a place it chose, and what comes after a
stop."""
FitVerdict = Literal["fits", "short", "long", "free"]
FIT_VERDICTS: tuple[FitVerdict, ...] = ("fits", "short", "long", "free")


@dataclass(frozen=True, slots=True, kw_only=True)
class HighPass:
    """DC and rumble, removed by a Butterworth high-pass."""

    corner_hz: float
    order: int
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A range that is left out."""

    kind: CutKind
    start: int
    stop: int
    reason: str
    measured: Measured
    state: State = "made"
    by: Author = "plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomTone:
    """The sound of the room, laid where the recording has too little of it.

    Attributes
    ----------
    place : {"head", "tail", "pause"}
        Before the first sample that is kept, after the last, or in a pause that becomes longer.
    samples : int
    seed : int
        Of the order in which pieces are drawn.
    quiet : tuple of (int, int)
        Ranges of the recording that the pieces are drawn from; may be empty, which gives silence.
    """

    place: Literal["head", "tail", "pause"]
    samples: int
    seed: int
    quiet: tuple[tuple[int, int], ...]
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """A stretch of speech between pauses, and its one gain.

    The gain is constant from ``start`` to ``stop`` and moves inside the pauses.
    """

    start: int
    stop: int
    loudness_lufs: float
    gain_db: float
    reason: str
    by: Author = "plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """Noise of the room, added where a join leads from a louder room into a quieter one.

    It is as loud as the difference from ``start`` or to ``stop``, and fades over seconds on the
    side where no join is, so that nothing of it is heard to begin or end.

    Attributes
    ----------
    rise, fall : int
        Samples over which it comes and goes.
    bands_db : tuple of float
        Power in each band of `quietleaf.finishing.fills.BANDS_HZ`, dB relative to RMS 1.0,
        after the even voice and before the loudness is set.
    top_hz : float
        Nothing is laid above: a recording that ends there has nothing either.
    seed : int
        Of the noise.
    """

    start: int
    stop: int
    rise: int
    fall: int
    bands_db: tuple[float, ...]
    top_hz: float
    seed: int
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Colour:
    """A gentle filter of linear phase over a stretch between two joins, before its gains.

    Attributes
    ----------
    bands_db : tuple of float
        Gain at each of `quietleaf.finishing.colours.COLOUR_HZ`, a few decibels at most.
    """

    start: int
    stop: int
    bands_db: tuple[float, ...]
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """What is done before the loudness is set.

    Attributes
    ----------
    sound_samples : int
        Length of the sound that this was planned for, at 48 kHz.
    join_samples : int
        Length of the equal-power cross-fade of a join.
    move_samples : int
        The longest that the gain takes to move from one sentence's to the next's.
    end_fade_samples : int
        The master rises from silence, and falls to it, over so many samples of room tone.
    head_samples, tail_samples : int
        Room tone before the first syllable and after the last word of the master.
    pauses, pace, items : tuple
        What fits it to its slot, each in the order of the sound.
    """

    sound_samples: int
    join_samples: int
    move_samples: int
    end_fade_samples: int
    head_samples: int
    tail_samples: int
    high_pass: HighPass
    cuts: tuple[Cut, ...]
    room_tone: tuple[RoomTone, ...]
    sentences: tuple[Sentence, ...]
    fills: tuple[Fill, ...] = ()
    colours: tuple[Colour, ...] = ()
    repairs: tuple[Repair, ...] = ()
    pauses: tuple[PauseChange, ...] = ()
    pace: tuple[PaceChange, ...] = ()
    items: tuple[ShortItem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """One gain for the whole and the limiter after it.

    Attributes
    ----------
    gain_db : float
    aim_dbtp : float
        What the limiter keeps true peaks under; a little lower than the ceiling.
    look_ahead_ms, release_ms : float
    """

    gain_db: float
    aim_dbtp: float
    look_ahead_ms: float
    release_ms: float
    reason: str
    measured: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Dip:
    """A short range of the *master's* samples that is turned down, for the MP3 alone."""

    start: int
    stop: int
    gain_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mp3:
    """What goes to the encoder.

    Attributes
    ----------
    encoder_gain_db : float
        What the encoder loses; it is in ``drive.gain_db``.
    rounds : int
        How many times the file was made until its decoded peaks were under the ceiling.
    """

    kbps: int
    quality: int
    encoder_gain_db: float
    drive: Drive
    dips: tuple[Dip, ...]
    rounds: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The master's length against its window, and what was done for it.

    Attributes
    ----------
    window : Window or None
        None where length is free.
    verdict : {"fits", "short", "long", "free"}
    difference_s : float
        By how much it is short (negative) or long (positive); 0 where it fits.
    wanted_samples : int or None
        The length that was to be met; None where it was right as it was, or is free.
    reason : str
        How it was met, or why not; empty where nothing was wanted.
    measured : mapping
        How long it was, and how much each step gave.
    stops : tuple of StopPlace
        Where it could stop, if it is too long.
    """

    length_s: float
    window: Window | None
    verdict: FitVerdict
    difference_s: float
    wanted_samples: int | None = None
    reason: str = ""
    measured: Measured = field(default_factory=dict)
    stops: tuple[StopPlace, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedOutlet:
    """What is done to the master for one outlet, and how often its file was made."""

    outlet: Outlet
    drive: Drive
    rounds: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All of it."""

    target: Target
    layout: Layout
    wave: Drive
    mp3: Mp3
    fit: Fit
    outlets: tuple[PlannedOutlet, ...] = ()


def fit_of(samples: int, window: Window | None) -> Fit:
    """Hold a master's length against its window.

    Examples
    --------
    >>> fit = fit_of(48_000 * 3350, Window(shortest_s=3360.0, longest_s=3480.0))
    >>> fit.verdict, fit.difference_s
    ('short', -10.0)
    """
    length_s = samples / RATE_HZ
    if window is None:
        return Fit(length_s=length_s, window=None, verdict="free", difference_s=0.0)
    if length_s < window.shortest_s:
        difference_s = length_s - window.shortest_s
        return Fit(length_s=length_s, window=window, verdict="short", difference_s=difference_s)
    if length_s > window.longest_s:
        difference_s = length_s - window.longest_s
        return Fit(length_s=length_s, window=window, verdict="long", difference_s=difference_s)
    return Fit(length_s=length_s, window=window, verdict="fits", difference_s=0.0)
