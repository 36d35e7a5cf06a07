"""Which channel has the microphone: one side is taken, never a mix."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.channel_levels import heard, start, step
from quietleaf.listening.room_limits import RoomLimits

Side = Literal["left", "right"]
Other = Literal["none", "same", "dead", "faint", "own"]
_ALIKE_DB = 0.1
_CLEAR_DB = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MicrophoneSide:
    """Where the microphone was heard.

    Attributes
    ----------
    side : {"left", "right"}
        ``left`` is the first channel.
    other : {"none", "same", "dead", "faint", "own"}
        What the other one has: there is none; the same sound (one microphone on both); nothing at
        all; only what leaked across; a microphone of its own.
    levels_dbov : tuple of float or None
        Of loud moments of the sentence in each channel, 150 to 4000 Hz; None for silence.
    """

    side: Side
    other: Other
    levels_dbov: tuple[float | None, ...]


def microphone_side(
    sentence: NDArray[np.float64],
    still: NDArray[np.float64],
    sample_rate_hz: int,
    limits: RoomLimits,
) -> MicrophoneSide | None:
    """Find the side of the microphone.

    Parameters
    ----------
    sentence, still : ndarray, shape (n, c), full scale 1.0
        One or two channels.

    Returns
    -------
    side : MicrophoneSide or None
        None where no channel gives anything at all.

    Notes
    -----
    Of two channels with sound of their own, the one in which the voice stands out further from the
    still seconds; where they are within 3 dB, the louder. Ours.

    Examples
    --------
    >>> voice = 0.1 * np.random.default_rng(1).standard_normal((96_000, 1))
    >>> nothing = np.zeros((96_000, 1))
    >>> microphone_side(np.hstack([nothing, voice]), np.zeros((48_000, 2)), 48_000, RoomLimits())
    MicrophoneSide(side='right', other='dead', levels_dbov=(None, -27.4))
    """
    loud = _loud_dbov(sentence, sample_rate_hz)
    room = _loud_dbov(still, sample_rate_hz)
    known = tuple(level if level > limits.silent_dbov else None for level in loud)
    if all(level is None for level in known):
        return None
    if len(loud) == 1:
        return MicrophoneSide(side="left", other="none", levels_dbov=known)
    taken = _taken(loud, room, limits)
    other = 1 - taken
    return MicrophoneSide(
        side="right" if taken else "left",
        other=_other(sentence, loud[taken], known[other], limits),
        levels_dbov=known,
    )


def _taken(loud: list[float], room: list[float], limits: RoomLimits) -> int:
    if abs(loud[0] - loud[1]) >= limits.dead_below_other_db:
        return int(loud[1] > loud[0])
    out = [max(-100.0, level) - max(-100.0, quiet) for level, quiet in zip(loud, room, strict=True)]
    if abs(out[0] - out[1]) >= _CLEAR_DB:
        return int(out[1] > out[0])
    return int(loud[1] - loud[0] > _ALIKE_DB)


def _other(
    sentence: NDArray[np.float64], taken_dbov: float, other_dbov: float | None, limits: RoomLimits
) -> Other:
    if other_dbov is None:
        return "dead"
    left, right = sentence[:, 0], sentence[:, 1]
    apart = float(np.sum((left - right) ** 2))
    if apart <= 1e-4 * float(np.sum(left**2) + np.sum(right**2)):
        return "same"
    return "faint" if taken_dbov - other_dbov >= limits.dead_below_other_db else "own"


def _loud_dbov(part: NDArray[np.float64], sample_rate_hz: int) -> list[float]:
    levels = []
    for channel in range(part.shape[1]):
        # Twice the same channel: the measure is made for two and more.
        both = part[:, [channel, channel]]
        if not both.size or not np.any(both != both[0]):
            levels.append(-math.inf)
            continue
        levels.append(round(float(heard(step(start(sample_rate_hz, 2), both)).loud[0]), 1))
    return levels
