"""Findings among kinds of sound: coughs, paper, clicks, loud breaths and other noises.

A natural breath is no finding: a loud one stands out from what this reader breathes else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding, FindingKind, Severity
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.sound_kind_names import KINDS
from quietleaf.listening.sound_kinds import SPEECH, SPEECH_SHARE_MIN, KnownSounds

SAME_FRAMES = 35
"""The same kind again within 0.35 s is one sound."""
IN_A_ROW_FRAMES = 400
IN_A_ROW_MIN = 4
"""So many of one kind, each within 4 s of the one before, become one finding."""
TOUCHES_FRAMES = 6
NAMED_SHARE = 0.45
"""What is less sure to be of its kind is called a noise."""
USUAL_BREATHS_MIN = 5
_BREATH = KINDS.index("breath")
_NOISES = tuple(KINDS.index(kind) for kind in ("cough", "rustle", "click", "noise"))
_NAMES: dict[FindingKind, str] = {
    "breath": "Loud breath",
    "cough": "Cough",
    "rustle": "Paper noise",
    "click": "Click",
    "noise": "Noise",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundEvent:
    """One sound that is no speech.

    Attributes
    ----------
    start, stop : int
        Frames of 10 ms.
    likelihood : float
        That it is no speech and no room.
    peak_db : float
        Against the reader's usual top.
    covers_words : bool
        Whether speech goes on right before and right after it.
    count : int
        How many of the kind it stands for.
    """

    kind: FindingKind
    start: int
    stop: int
    likelihood: float
    peak_db: float
    covers_words: bool
    count: int = 1


def joined(chunks: Sequence[KnownSounds]) -> KnownSounds:
    """Put the sounds of successive chunks into one."""
    return KnownSounds(
        start=np.concatenate([chunk.start for chunk in chunks]),
        stop=np.concatenate([chunk.stop for chunk in chunks]),
        shares=np.concatenate([chunk.shares for chunk in chunks]),
        over_top_db=np.concatenate([chunk.over_top_db for chunk in chunks]),
        over_floor_db=np.concatenate([chunk.over_floor_db for chunk in chunks]),
    )


def sound_findings(sounds: KnownSounds, limits: HearingLimits) -> list[Finding]:
    """Say which sounds are findings.

    Parameters
    ----------
    sounds : KnownSounds
        Of the whole recording.

    Notes
    -----
    In a pause a noise is noted: room tone will take its place. Under words it is proposed to read
    the sentence again. Clicks and loud breaths are noted; many in a row are to be heard.
    """
    usual_db = usual_breath_db(sounds)
    loud_db = limits.breath_over_speech_db
    if usual_db is not None:
        loud_db = max(loud_db, usual_db + limits.breath_over_usual_db)
    events = [
        event
        for event in sound_events(sounds)
        if event.likelihood >= limits.noise_likelihood
        and (event.kind != "breath" or event.peak_db >= loud_db)
    ]
    return [_finding(event, usual_db, loud_db, limits) for event in in_rows(events)]


def usual_breath_db(sounds: KnownSounds) -> float | None:
    """Give the median of the reader's breaths against the top; None of a few."""
    breaths = sounds.shares[:, _BREATH] > SPEECH_SHARE_MIN
    if np.count_nonzero(breaths) < USUAL_BREATHS_MIN:
        return None
    return float(np.median(sounds.over_top_db[breaths]))


def sound_events(sounds: KnownSounds) -> list[SoundEvent]:
    """Put units of one sound together."""
    noisy = sounds.shares[:, _NOISES].sum(axis=1)
    breath = sounds.shares[:, _BREATH]
    groups: list[list[int]] = []
    was_breath = False
    for index in np.flatnonzero(noisy + breath > SPEECH_SHARE_MIN):
        is_breath = bool(breath[index] > noisy[index])
        if (
            groups
            and is_breath == was_breath
            and sounds.start[index] - sounds.stop[groups[-1][-1]] <= SAME_FRAMES
        ):
            groups[-1].append(int(index))
        else:
            groups.append([int(index)])
        was_breath = is_breath
    spoken = np.flatnonzero(sounds.shares[:, SPEECH] >= SPEECH_SHARE_MIN)
    return [_event(sounds, group, spoken) for group in groups]


def in_rows(events: Sequence[SoundEvent]) -> list[SoundEvent]:
    """Make one of many of a kind in a row; in order of time."""
    found: list[SoundEvent] = []
    for kind in _NAMES:
        row: list[SoundEvent] = []
        for event in [*(event for event in events if event.kind == kind), None]:
            if event and (not row or event.start - row[-1].stop <= IN_A_ROW_FRAMES):
                row.append(event)
                continue
            found += [_row(row)] if len(row) >= IN_A_ROW_MIN else row
            row = [event] if event else []
    return sorted(found, key=lambda event: event.start)


def _event(sounds: KnownSounds, group: list[int], spoken: NDArray[np.int64]) -> SoundEvent:
    start, stop = int(sounds.start[group[0]]), int(sounds.stop[group[-1]])
    lengths = (sounds.stop[group] - sounds.start[group]).astype(np.float64)
    weights = np.sqrt(lengths) * 10.0 ** (np.clip(sounds.over_top_db[group], -40.0, 6.0) / 40.0)
    shares = weights @ sounds.shares[group] / weights.sum()
    peak = int(np.argmax(sounds.over_top_db[group]))
    by_kind = {KINDS[index]: float(shares[index]) for index in (*_NOISES, _BREATH)}
    total = sum(by_kind.values())
    kind = max(by_kind, key=lambda name: by_kind[name])
    if by_kind[kind] < NAMED_SHARE * total:
        kind = "noise"
    ends, starts = sounds.stop[spoken], sounds.start[spoken]
    before = bool(np.any((ends >= start - TOUCHES_FRAMES) & (starts < start)))
    after = bool(np.any((starts <= stop + TOUCHES_FRAMES) & (ends > stop)))
    return SoundEvent(
        kind=_finding_kind(kind),
        start=start,
        stop=stop,
        likelihood=total,
        peak_db=float(sounds.over_top_db[group[peak]]),
        covers_words=before and after,
    )


def _finding_kind(name: str) -> FindingKind:
    return next(kind for kind in _NAMES if kind == name)


def _row(row: list[SoundEvent]) -> SoundEvent:
    return SoundEvent(
        kind=row[0].kind,
        start=row[0].start,
        stop=row[-1].stop,
        likelihood=max(event.likelihood for event in row),
        peak_db=max(event.peak_db for event in row),
        covers_words=any(event.covers_words for event in row),
        count=len(row),
    )


def _finding(
    event: SoundEvent, usual_breath_db: float | None, loud_db: float, limits: HearingLimits
) -> Finding:
    name = _NAMES[event.kind]
    many = f"{name}, {event.count} times" if event.count > 1 else name
    severity: Severity = "note"
    value: float = event.peak_db
    limit: float | None = None
    unit = "dB against the voice's top"
    if event.kind == "breath":
        limit = loud_db
        if usual_breath_db is not None:
            value, limit = event.peak_db - usual_breath_db, loud_db - usual_breath_db
            unit = "dB over the usual breath"
        advice = f"{many}; breathe away from the microphone."
    elif event.kind == "click":
        advice = f"{many}; a sip of water helps."
    elif event.covers_words:
        advice = f"{many} under the word; read this sentence again."
        if event.likelihood >= limits.noise_likelihood_fix:
            severity = "fix"
    else:
        advice = f"{many} in a pause; room tone will take its place."
    if event.count > 1 and event.kind in ("breath", "click"):
        severity = "hear"
    return Finding(
        kind=event.kind,
        start_s=event.start / FRAMES_PER_S,
        end_s=event.stop / FRAMES_PER_S,
        severity=severity,
        value=round(value, 1),
        limit=None if limit is None else round(limit, 1),
        unit=unit,
        advice=advice,
    )
