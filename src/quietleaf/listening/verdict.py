"""The verdict on a reading: ready, needs an ear, or read again, and why, in plain words."""

from __future__ import annotations

from collections import Counter

from quietleaf.listening.findings import Finding, FindingKind
from quietleaf.listening.hearing import Level, Verdict
from quietleaf.listening.limits import HearingLimits
from quietleaf.units import clock

_NAMES: dict[FindingKind, tuple[str, str]] = {
    "clip": (
        "place where the voice is cut off at its peaks",
        "places where the voice is cut off at its peaks",
    ),
    "dropout": ("place where sound is missing", "places where sound is missing"),
    "dead-air": ("silence longer than listeners wait", "silences longer than listeners wait"),
    "hum": ("stretch with hum", "stretches with hum"),
    "noise": ("noise", "noises"),
    "breath": ("loud breath", "loud breaths"),
    "rustle": ("rustle", "rustles"),
    "click": ("click", "clicks"),
    "pop": ("popped consonant", "popped consonants"),
    "cough": ("cough", "coughs"),
    "level-step": ("jump in level", "jumps in level"),
    "restart": ("sentence read twice", "sentences read twice"),
    "echo": ("stretch with echo", "stretches with echo"),
}


def verdict_of(
    level: Level,
    speech_s: float,
    duration_s: float,
    findings: list[Finding],
    limits: HearingLimits,
) -> tuple[Verdict, tuple[str, ...]]:
    """Judge a reading from what was measured.

    Returns
    -------
    verdict : {"ready", "needs an ear", "read again"}
        The worst that any reason asks for.
    reasons : tuple of str
        At least one sentence.

    Notes
    -----
    ``read again``: hardly any speech; noise almost as loud as the voice; distorted for a large
    share of the speech; sound missing again and again. ``needs an ear``: anything to hear or to
    fix, or more noise than a listener should have to bear. A ``note`` changes nothing. The limits
    and where they come from: `HearingLimits`.

    Examples
    --------
    >>> level = Level(active_speech_dbov=-23.0, noise_floor_dbov=-62.0, dc=0.0)
    >>> verdict_of(level, 3000.0, 3400.0, [], HearingLimits())
    ('ready', ('Nothing was found that needs hearing.',))
    """
    if speech_s < limits.speech_s_min:
        return "read again", ("No speech was found in this recording.",)

    again = [
        *_noise_again(level, limits),
        *_clipped_again(speech_s, findings, limits),
        *_missing_again(duration_s, findings, limits),
    ]
    ear = [] if _noise_again(level, limits) else _noise_ear(level, limits)
    ear += _things_to_hear(findings)
    if again:
        return "read again", (*again, *ear)
    if ear:
        return "needs an ear", tuple(ear)
    return "ready", ("Nothing was found that needs hearing.",)


def noise_below_speech_db(level: Level) -> float | None:
    """Give how far the room lies under the voice; None where either is silent."""
    if level.active_speech_dbov is None or level.noise_floor_dbov is None:
        return None
    return level.active_speech_dbov - level.noise_floor_dbov


def _noise_again(level: Level, limits: HearingLimits) -> list[str]:
    margin_db = noise_below_speech_db(level)
    if margin_db is None or margin_db >= limits.noise_below_speech_db_again:
        return []
    return [
        f"The room is almost as loud as the voice: {margin_db:.0f} dB lie between them, "
        f"{limits.noise_below_speech_db_again:.0f} dB are needed."
    ]


def _noise_ear(level: Level, limits: HearingLimits) -> list[str]:
    margin_db = noise_below_speech_db(level)
    if margin_db is None or margin_db >= limits.noise_below_speech_db_ear:
        return []
    return [
        f"There is much noise behind the voice: {margin_db:.0f} dB lie between them, "
        f"{limits.noise_below_speech_db_ear:.0f} dB or more are wanted."
    ]


def _clipped_again(speech_s: float, findings: list[Finding], limits: HearingLimits) -> list[str]:
    clipped_s = sum(found.end_s - found.start_s for found in findings if found.kind == "clip")
    if clipped_s <= limits.clip_share_again * speech_s:
        return []
    share = min(1.0, clipped_s / speech_s)
    return [f"The voice is cut off at its peaks during {share:.0%} of the speech."]


def _missing_again(duration_s: float, findings: list[Finding], limits: HearingLimits) -> list[str]:
    count = sum(found.kind == "dropout" for found in findings)
    if count <= max(1.0, limits.dropouts_again_per_hour * duration_s / 3600.0):
        return []
    return [f"Sound is missing in {count} places: something between microphone and disk is broken."]


def _things_to_hear(findings: list[Finding]) -> list[str]:
    wanted = [found for found in findings if found.severity != "note"]
    counts = Counter(found.kind for found in wanted)
    return [
        f"{count} {_NAMES[kind][count > 1]}, "
        f"{'at' if count == 1 else 'the first at'} "
        f"{clock(next(found.start_s for found in wanted if found.kind == kind))}."
        for kind, count in counts.items()
    ]
