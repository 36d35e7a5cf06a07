"""Findings among kinds of sound: coughs, paper, clicks, loud breaths and other noises.

A natural breath is no finding: a loud one stands out from what this reader breathes else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from quietleaf.listening.findings import Finding, FindingKind, Severity
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.sound_events import SAME_FRAMES, SoundEvents, sound_events
from quietleaf.listening.sound_kind_names import KINDS, NOISE_KINDS
from quietleaf.listening.sound_kinds import KnownSounds
from quietleaf.listening.sound_rows import NAMED_SHARE, Noise, in_rows
from quietleaf.listening.under_events import noises_under_words
from quietleaf.listening.under_words import DisturbedWindows

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


def sound_findings(
    sounds: KnownSounds,
    windows: DisturbedWindows,
    others: Sequence[Finding],
    limits: HearingLimits,
) -> list[Finding]:
    """Say which sounds are findings.

    Parameters
    ----------
    sounds, windows
        Of the whole recording.
    others : sequence of Finding
        Clipped words, and words that a room sounds on under, are no noise.

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
        for noise in _noises(sound_events(sounds), limits)
        if noise.likelihood >= limits.noise_likelihood
        and (noise.kind != "breath" or noise.peak_db >= loud_db)
    ]
    length = int(sounds.stop.max(initial=0))
    noises += [
        noise
        for noise in noises_under_words(windows, length, limits)
        if not any(_touch(noise, other.start, other.stop) for other in noises)
        and not any(
            _touch(noise, other.start_s * FRAMES_PER_S, other.end_s * FRAMES_PER_S)
            for other in others
        )
    ]
    noises.sort(key=lambda noise: noise.start)
    return [_finding(noise, usual_db, loud_db) for noise in in_rows(noises)]


def usual_breath_db(sounds: KnownSounds) -> float | None:
    """Give the median of the reader's breaths against the top; None of a few."""
    breaths = sounds.shares[:, _BREATH] > _BREATH_SHARE_MIN
    if np.count_nonzero(breaths) < USUAL_BREATHS_MIN:
        return None
    return float(np.median(sounds.over_top_db[breaths]))


def _touch(noise: Noise, start: float, stop: float) -> bool:
    """Tell whether something lies in frames that touch a noise."""
    return noise.start - SAME_FRAMES < stop and start - SAME_FRAMES < noise.stop


def _noises(events: SoundEvents, limits: HearingLimits) -> Iterable[Noise]:
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
            sure=float(events.likelihood[index]) >= limits.noise_likelihood_fix,
        )


def _finding(noise: Noise, usual_breath_db: float | None, loud_db: float) -> Finding:
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
        if noise.sure:
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
