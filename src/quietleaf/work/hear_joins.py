"""The joins of a master, listened to one by one: what shows is a thing to hear."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.ranges import Sound
from quietleaf.listening.findings import Finding, FindingKind, Severity
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.join_check import CONTEXT_S, check_join, own_limits_of
from quietleaf.listening.join_limits import OWN_PAUSES_MIN, JoinFault, JoinFaultKind, OwnLimits
from quietleaf.listening.join_room import RoomStep, step_at
from quietleaf.listening.reader_pauses import COUNTED_S, reader_pauses

_OWN_MOST = 40
_CONTEXT = round(CONTEXT_S * RATE_HZ)
_SHOWN_S = 0.5
_AS_FOUND: dict[JoinFaultKind, tuple[FindingKind, Severity, str]] = {
    "in-speech": ("click", "hear", ""),
    "edge": ("click", "hear", "dB"),
    "click": ("click", "hear", ""),
    "floor-step": ("level-step", "hear", "dB"),
    "band-step": ("level-step", "hear", ""),
    "doubled-breath": ("breath", "hear", ""),
    # Readers pause, and move, as much by themselves: these are for the record.
    "pause-short": ("dead-air", "note", "s"),
    "pause-long": ("dead-air", "note", "s"),
    "level-step": ("level-step", "note", "dB"),
    "colour-step": ("level-step", "note", "dB"),
}


def hear_joins(
    master: Sound, joins: Sequence[int], heard: Hearing, fade_samples: int
) -> tuple[Finding, ...]:
    """Listen to every join.

    Parameters
    ----------
    master : Sound
        48 kHz, one channel.
    joins : sequence of int
        Samples of the master where spans meet, sorted.
    heard : Hearing
        Of the master: its pauses say what is usual.
    """
    if not joins:
        return ()
    pauses = [(start, stop) for start, stop in heard.pauses_s if stop - start >= COUNTED_S]
    usual = reader_pauses(stop - start for start, stop in pauses)
    own = _own(master, [round((a + b) / 2 * RATE_HZ) for a, b in pauses], joins)
    bounds = [0, *joins, master.info.frames]
    found: list[Finding] = []
    for index, join in enumerate(joins):
        first = max(bounds[index], join - _CONTEXT)
        part = _read(master, first, min(bounds[index + 2], join + _CONTEXT))
        said = check_join(
            part, RATE_HZ, join - first, fade_samples=fade_samples, pauses=usual, own=own
        )
        found += _findings(said.faults, join)
    return tuple(found)


def _own(master: Sound, middles: list[int], joins: Sequence[int]) -> OwnLimits | None:
    """Learn from pauses with no join near them how much the room steps by itself."""
    free = [middle for middle in middles if _is_free(middle, joins)]
    if len(free) < OWN_PAUSES_MIN:
        return None
    steps: list[RoomStep | None] = []
    for middle in free[:: max(1, len(free) // _OWN_MOST)]:
        first = max(0, middle - _CONTEXT)
        part = _read(master, first, min(middle + _CONTEXT, master.info.frames))
        steps.append(step_at(part, RATE_HZ, middle - first))
    return own_limits_of(steps)


def _is_free(middle: int, joins: Sequence[int]) -> bool:
    near = bisect_left(joins, middle - _CONTEXT)
    return near == len(joins) or joins[near] > middle + _CONTEXT


def _read(master: Sound, start: int, stop: int) -> NDArray[np.float64]:
    return np.ascontiguousarray(master.read(start, stop)[:, 0])


def _findings(faults: Sequence[JoinFault], join: int) -> list[Finding]:
    """Say each kind once: a step of the room shows broadband and in its bands."""
    said: dict[tuple[FindingKind, Severity], Finding] = {}
    for fault in faults:
        kind, severity, unit = _AS_FOUND[fault.kind]
        said.setdefault(
            (kind, severity),
            Finding(
                kind=kind,
                start_s=max(0.0, join / RATE_HZ - _SHOWN_S),
                end_s=join / RATE_HZ + _SHOWN_S,
                severity=severity,
                value=fault.measured,
                limit=fault.limit,
                unit=unit,
                advice=f"Two spans meet here. {fault.advice}",
            ),
        )
    return list(said.values())
