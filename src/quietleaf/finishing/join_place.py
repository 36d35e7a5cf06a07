"""Where a join is made, chosen by listening to both sides of it.

The old side is left in the room tone after its last word, the new one entered in the room tone
before its first word or the breath that it is spoken on, so that the pause gets the length that
this reader's pauses have.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.join_early import goes_on
from quietleaf.finishing.join_sides import NewSide, OldSide, new_side, old_side
from quietleaf.listening.reader_pauses import ReaderPauses
from quietleaf.listening.structure import FRAMES_PER_S, structure_of_sound

Reason = Literal[
    "as it was paused there",
    "as this reader pauses",
    "as short as the sound allows",
    "as long as the sound allows",
    "nothing before it",
    "no voice",
]
"""Why the pause has its length; the last two say which side has no word."""

BEFORE_FIRST_S = 0.2
"""So much room is left before a first word that nothing comes before."""
_WINDOW_S = 0.04
_UNNOTICED = 0.9
_BREATHES_AFTER_S = 0.15
_UNLIKE = 0.5
"""A step between two quiet places counts half as much as what both lie over their room."""
_EDGE_S = 0.005
"""The cross-fade reaches so far over each side of the place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinPlace:
    """A join.

    Attributes
    ----------
    back : int
        Where the programme leaves the old sound.
    resume : int
        Where it goes on in the new one.
    pause_s : float
        From the last word to the first, where the level crosses the speech threshold; 0 where
        one of them is not there.
    wanted_s : float
        What the pause should have been; the same where it could be had.
    measured : mapping of str to float
        What was heard: ``old_room_s``, ``new_room_s`` (room tone on each side), ``guard_s``
        (kept before the first word), ``breath`` (1 with one), ``early_s`` and ``leak_db``
        (the lead-in in the microphone, against the voice), the last only where there is one.
    """

    back: int
    resume: int
    pause_s: float
    wanted_s: float
    reason: Reason
    measured: Mapping[str, float]


def choose_join(
    old: NDArray[np.float64],
    new: NDArray[np.float64],
    sample_rate_hz: int,
    *,
    back: int,
    resume: int,
    earliest: int,
    mark: int | None,
    lead_in: NDArray[np.float64] | None,
    pauses: ReaderPauses,
    old_until: int | None = None,
    paused_s: float | None = None,
) -> JoinPlace:
    """Choose where to leave the old sound and where to go on in the new one.

    Parameters
    ----------
    old : ndarray, shape (n,), full scale 1.0
        Some seconds of the programme before ``back``, and what follows there in the take.
    new : ndarray, shape (m,)
        From some seconds before ``mark`` on to well past the resumed words.
    back, resume : int
        The places as they are: in the pause before the sentence, and about where the lead-in
        ended.
    earliest : int
        The old sound is never left before this.
    mark : int or None
        The press, in ``new``; None for a cut.
    lead_in : ndarray, shape (k,), or None
        What was played up to about ``resume``.
    pauses : ReaderPauses
        How long this reader pauses.
    old_until : int, optional
        The press, in ``old``: what comes from there on is no part of the old sentence.
    paused_s : float, optional
        The real pause, where that is not the one after the last word of ``old``.

    Returns
    -------
    JoinPlace
        Where a side has no word, it is left as it is, as far as the other allows.

    Notes
    -----
    The real pause before the sentence is kept if eight of ten of this reader's pauses are like
    it; else it gets their median. Of all places that give this length, the one is taken whose
    40 ms are the quietest, on the louder of the two sides over its room tone, and alike on both.
    """
    found = goes_on(new, sample_rate_hz, mark=mark, resume=resume, lead_in=lead_in)
    if found is None:
        return JoinPlace(
            back=back, resume=resume, pause_s=0.0, wanted_s=0.0, reason="no voice", measured={}
        )
    right = new_side(
        found.structure,
        sample_rate_hz,
        voice=found.voice,
        look_from=found.look_from,
        clean_from=found.clean_from,
    )
    measured = {
        "new_room_s": (right.latest - right.room_start) / sample_rate_hz,
        "breath": float(right.breath),
        "early_s": found.early_s,
    }
    if found.leak is not None:
        measured["leak_db"] = found.leak.level_dbov - found.structure.speech_dbov
    left = None
    left_structure = structure_of_sound(old, sample_rate_hz)
    if left_structure is not None:
        left = old_side(
            old,
            sample_rate_hz,
            left_structure,
            back=back,
            earliest=earliest,
            until=old.size if old_until is None else old_until,
        )
    if left is None:
        first = max(right.room_start, right.word_start - round(BEFORE_FIRST_S * sample_rate_hz))
        return JoinPlace(
            back=earliest,
            resume=min(first, right.latest),
            pause_s=0.0,
            wanted_s=0.0,
            reason="nothing before it",
            measured=measured,
        )
    measured["old_room_s"] = (left.room_stop - left.room_start) / sample_rate_hz
    real_s = real_pause_s(left, sample_rate_hz) if paused_s is None else paused_s
    return _place(left, right, sample_rate_hz, pauses, real_s, measured)


def _place(
    left: OldSide,
    right: NewSide,
    sample_rate_hz: int,
    pauses: ReaderPauses,
    real_s: float | None,
    measured: Mapping[str, float],
) -> JoinPlace:
    wanted, reason = _wanted(real_s, pauses)
    edge = round(_EDGE_S * sample_rate_hz)
    # The fade needs 5 ms on each side; its window of 40 ms is had where there is room for it.
    half = round(_WINDOW_S / 2 * sample_rate_hz)
    left_from, left_to = _inside(left.room_start, left.room_stop, half, edge)
    right_from, right_to = _inside(right.room_start, right.latest, half, 0)
    right_to = right.latest
    right_from = min(right_from, right_to)
    least = left_from - left.word_stop + right.word_start - right_to
    if right.breath and reason == "as this reader pauses":
        # Nobody breathes in at the very end of a word; where it was paused so, it was possible.
        after = left.room_start - left.word_stop + round(_BREATHES_AFTER_S * sample_rate_hz)
        least = max(least, after + right.word_start - right_to)
    most = left_to - left.word_stop + right.word_start - right_from
    length = round(wanted * sample_rate_hz)
    if length < least:
        length, reason = min(least, most), "as short as the sound allows"
    elif length > most:
        length, reason = most, "as long as the sound allows"
    # For each place on the old side the one on the new side follows from the length.
    total = length + left.word_stop - right.word_start
    first = max(left_from, right_from + total)
    last = min(left_to, right_to + total)
    step = max(1, sample_rate_hz // FRAMES_PER_S)
    backs = np.arange(first, max(last, first) + 1, step)
    left_over = _around(left.level, backs, sample_rate_hz) - left.floor_dbov
    right_over = _around(right.level, backs - total, sample_rate_hz) - right.floor_dbov
    over = np.maximum(left_over, right_over)
    chosen = int(np.argmin(over + _UNLIKE * np.abs(left_over - right_over)))
    back = int(backs[chosen])
    resume = back - total
    return JoinPlace(
        back=back,
        resume=resume,
        pause_s=length / sample_rate_hz,
        wanted_s=wanted,
        reason=reason,
        measured={
            **measured,
            "guard_s": (right.word_start - resume) / sample_rate_hz,
            "over_room_db": float(over[chosen]),
        },
    )


def real_pause_s(left: OldSide, sample_rate_hz: int) -> float | None:
    """Give how long the pause after a last word was; None where no word follows."""
    if left.next_word is None:
        return None
    return (left.next_word - left.word_stop) / sample_rate_hz


def _wanted(real_s: float | None, pauses: ReaderPauses) -> tuple[float, Reason]:
    if real_s is not None:
        low, high = pauses.usual_s()
        if low <= real_s <= min(high, _UNNOTICED * pauses.longest_s):
            return real_s, "as it was paused there"
    return pauses.median_s, "as this reader pauses"


def _inside(start: int, stop: int, half: int, edge: int) -> tuple[int, int]:
    """Keep so far inside a range as it allows: a half window, the fade, or its middle."""
    for margin in (half, edge):
        if stop - start >= 2 * margin:
            return start + margin, stop - margin
    return (start + stop) // 2, (start + stop) // 2


def _around(
    level: NDArray[np.float64], places: NDArray[np.int64], sample_rate_hz: int
) -> NDArray[np.float64]:
    """Give the level of the 40 ms around each place."""
    sums = np.concatenate([[0.0], np.cumsum(10.0 ** (level / 10.0))])
    reach = round(_WINDOW_S / 2 * FRAMES_PER_S)
    frames = places * FRAMES_PER_S // sample_rate_hz
    start = np.clip(frames - reach, 0, level.size - 1)
    stop = np.clip(frames + reach - 1, start + 1, level.size)
    power = (sums[stop] - sums[start]) / (stop - start)
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-30)), np.float64)
