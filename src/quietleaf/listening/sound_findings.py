"""Findings among kinds of sound: coughs, paper, clicks, loud breaths and other noises.

A natural breath is no finding: a loud one stands out from what this reader breathes else.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from quietleaf.listening.findings import Finding, FindingKind, Severity
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.sound_events import SoundEvents, sound_events
from quietleaf.listening.sound_kind_names import KINDS, NOISE_KINDS
from quietleaf.listening.sound_kinds import KnownSounds

IN_A_ROW_FRAMES = 400
IN_A_ROW_MIN = 4
"""So many of one kind, each within 4 s of the one before, become one finding."""
NAMED_SHARE = 0.4
"""What is less sure to be of its kind is called a noise."""
USUAL_BREATHS_MIN = 5
_BREATH_SHARE_MIN = 0.5
_BREATH = KINDS.index("breath")
_NAMES: dict[FindingKind, str] = {
    "breath": "Loud breath",
    "cough": "Cough",
    "rustle": "Paper noise",
    "click": "Click",
    "noise": "Noise",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """One sound, or many of one kind in a row, on its way to a finding."""

    kind: FindingKind
    start: int
    stop: int
    likelihood: float
    peak_db: float
    covers_words: bool
    count: int = 1


def sound_findings(sounds: KnownSounds, limits: HearingLimits) -> list[Finding]:
    """Say which sounds are findings.

    Parameters
    ----------
    sounds : KnownSounds
        Of the whole recording.

    Notes
    -----
    In a pause a noise is noted: room tone can take its place. Under words it is proposed to read
    the sentence again. Clicks and loud breaths are noted; many in a row are to be heard.
    """
    usual_db = usual_breath_db(sounds)
    loud_db = limits.breath_over_speech_db
    if usual_db is not None:
        loud_db = max(loud_db, usual_db + limits.breath_over_usual_db)
    noises = [
        noise
        for noise in _noises(sound_events(sounds))
        if noise.likelihood >= limits.noise_likelihood
        and (noise.kind != "breath" or noise.peak_db >= loud_db)
    ]
    return [_finding(noise, usual_db, loud_db, limits) for noise in in_rows(noises)]


def usual_breath_db(sounds: KnownSounds) -> float | None:
    """Give the median of the reader's breaths against the top; None of a few."""
    breaths = sounds.shares[:, _BREATH] > _BREATH_SHARE_MIN
    if np.count_nonzero(breaths) < USUAL_BREATHS_MIN:
        return None
    return float(np.median(sounds.over_top_db[breaths]))


def in_rows(noises: Iterable[Noise]) -> list[Noise]:
    """Make one of many of a kind in a row; in order of time."""
    by_kind: dict[str, list[Noise]] = {}
    for noise in noises:
        by_kind.setdefault(noise.kind, []).append(noise)
    found: list[Noise] = []
    for of_kind in by_kind.values():
        rows: list[list[Noise]] = []
        for noise in of_kind:
            if rows and noise.start - rows[-1][-1].stop <= IN_A_ROW_FRAMES:
                rows[-1].append(noise)
            else:
                rows.append([noise])
        for row in rows:
            found += [_row(row)] if len(row) >= IN_A_ROW_MIN else row
    return sorted(found, key=lambda noise: noise.start)


def _noises(events: SoundEvents) -> Iterable[Noise]:
    for index in range(events.start.size):
        likeliest = int(events.shares[index].argmax())
        named = float(events.shares[index, likeliest]) >= NAMED_SHARE
        yield Noise(
            kind=NOISE_KINDS[likeliest] if named else "noise",
            start=int(events.start[index]),
            stop=int(events.stop[index]),
            likelihood=float(events.likelihood[index]),
            peak_db=float(events.peak_db[index]),
            covers_words=bool(events.covers_words[index]),
        )


def _row(row: list[Noise]) -> Noise:
    return Noise(
        kind=row[0].kind,
        start=row[0].start,
        stop=row[-1].stop,
        likelihood=max(noise.likelihood for noise in row),
        peak_db=max(noise.peak_db for noise in row),
        covers_words=any(noise.covers_words for noise in row),
        count=len(row),
    )


def _finding(
    noise: Noise, usual_breath_db: float | None, loud_db: float, limits: HearingLimits
) -> Finding:
    name = _NAMES[noise.kind]
    many = f"{name}, {noise.count} times" if noise.count > 1 else name
    severity: Severity = "note"
    value: float = noise.peak_db
    limit: float | None = None
    unit = "dB over the voice"
    if noise.kind == "breath":
        limit = loud_db
        if usual_breath_db is not None:
            value, limit = noise.peak_db - usual_breath_db, loud_db - usual_breath_db
            unit = "dB over the usual breath"
        advice = f"{many}; breathe away from the microphone."
    elif noise.kind == "click":
        advice = f"{many}; a sip of water helps against those of the mouth."
    elif noise.covers_words:
        advice = f"{many} under the word; read this sentence again."
        if noise.likelihood >= limits.noise_likelihood_fix:
            severity = "fix"
    else:
        advice = f"{many} in a pause; room tone can take its place."
    if noise.count > 1 and noise.kind in ("breath", "click"):
        severity = "hear"
    return Finding(
        kind=noise.kind,
        start_s=noise.start / FRAMES_PER_S,
        end_s=noise.stop / FRAMES_PER_S,
        severity=severity,
        value=round(value, 1),
        limit=None if limit is None else round(limit, 1),
        unit=unit,
        advice=advice,
    )
