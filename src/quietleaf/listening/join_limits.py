"""What a join is held against: limits with their sources, and a reading's own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

JoinFaultKind = Literal[
    "in-speech",
    "edge",
    "click",
    "floor-step",
    "band-step",
    "doubled-breath",
    "pause-short",
    "pause-long",
    "level-step",
    "colour-step",
]
JOIN_FAULT_KINDS: tuple[JoinFaultKind, ...] = get_args(JoinFaultKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinLimits:
    """Greatest values of a join that nobody hears. Ours, from untouched pauses of real readers.

    Attributes
    ----------
    edge_db : float
        Between 20 to 5 ms before the splice and 10 to 25 ms after it.
    click : float
        Greatest prediction residual over the usual one.
    floor_db, bands : float
        Step of the room tone, broadband in dB and per band in standard deviations; a reading's own
        limit stands where it is greater.
    level_db, colour_db : float
        Between up to 12 s of the voice on both sides; readers differ from themselves by 4.7 dB at
        most in 99 of 100 excerpts of 2 s.
    """

    edge_db: float = 9.0
    click: float = 14.0
    floor_db: float = 1.5
    bands: float = 3.0
    level_db: float = 5.3
    colour_db: float = 8.0


JOIN_LIMITS = JoinLimits()


OWN_PAUSES_MIN, OWN_PERCENTILE, OWN_SHARE = 10, 97.0, 1.3
"""A reading's own limit: so much of this percentile of what so many untouched pauses show. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLimits:
    """How much the room tone of a reading steps at pauses that nobody touched, with some to spare.

    A recording that was gated or edited before steps by 5 to 11 dB at every pause: a join in it is
    not heard for that.

    Attributes
    ----------
    floor_db, bands : float
        Over the pauses on both sides.
    pause_db, pause_bands : float
        Inside one pause; infinite where too few of them are long enough to tell.
    """

    floor_db: float
    bands: float
    pause_db: float
    pause_bands: float

    def at_least(self, limits: JoinLimits) -> OwnLimits:
        """Give what a room is held against: the reading's own limit where that is greater."""
        return OwnLimits(
            floor_db=max(limits.floor_db, self.floor_db),
            bands=max(limits.bands, self.bands),
            pause_db=max(limits.floor_db, self.pause_db),
            pause_bands=max(limits.bands, self.pause_bands),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinFault:
    """Something at a join that can be heard.

    Attributes
    ----------
    measured, limit : float
        In the unit of its kind: dB, seconds, or times the usual.
    advice : str
        In plain words.
    """

    kind: JoinFaultKind
    measured: float
    limit: float
    advice: str


ADVICE: dict[JoinFaultKind, str] = {
    "in-speech": "The join lies in a word, or cuts its beginning. Move it into the pause.",
    "edge": "The sound breaks off or begins hard here. Move the join into the room tone.",
    "click": "There is a click at the join. Move it a little, or fade longer.",
    "floor-step": "The sound of the room changes here. Add room tone on the quieter side.",
    "band-step": "The room sounds different on both sides. Add room tone on the quieter one.",
    "doubled-breath": "A breath is heard twice. Leave one of them out.",
    "pause-short": "The pause is shorter than this reader pauses. Leave more of the room.",
    "pause-long": "The pause is longer than this reader pauses. Leave less of the room.",
    "level-step": "The voice is louder on one side. Match the levels.",
    "colour-step": "The voice sounds different on both sides. Match its colour, or read again.",
}
