"""The verdict on a reading: ready, needs an ear, or read again, and why, in plain words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

from quietleaf.listening.findings import Finding, FindingKind
from quietleaf.listening.hearing import Level, Verdict
from quietleaf.listening.limits import HEARING_LIMITS, HearingLimits
from quietleaf.planning.programme import USUAL_REVIEW, ReviewDepth
from quietleaf.units import clock

Weight = Literal["again", "stop", "ear"]
"""What a ground asks for: another reading; that it does not go out as it is; an ear."""

WEIGHTS_BEFORE: dict[Verdict, tuple[Weight, ...]] = {
    "ready": (),
    "needs an ear": ("stop",),
    "read again": ("again",),
}
"""What a verdict kept before there were grounds rested on: the heaviest that it can have been."""

NOTHING_FOUND = "Nothing was found that needs hearing."
HEARD_WHOLE = "This programme is heard whole before it goes out."
NO_REVIEW = "This programme goes out without review."
NOT_LIKE_THIS = "This programme goes out without review, but not like this."

_SMALL: frozenset[FindingKind] = frozenset({"noise", "breath", "rustle", "click", "cough", "pop"})
"""Noises beside the voice never keep a programme from going out. Common practice, no source."""
_NAMES: dict[FindingKind, tuple[str, str]] = {
    "clip": (
        "place where the voice is cut off at its peaks",
        "places where the voice is cut off at its peaks",
    ),
    "dropout": (
        "place where sound is missing or plays twice",
        "places where sound is missing or plays twice",
    ),
    "dead-air": ("silence longer than listeners wait", "silences longer than listeners wait"),
    "hum": ("stretch with hum", "stretches with hum"),
    "noise": ("noise", "noises"),
    "breath": ("loud breath", "loud breaths"),
    "rustle": ("noise of paper", "noises of paper"),
    "click": ("click", "clicks"),
    "pop": ("popped consonant", "popped consonants"),
    "cough": ("cough", "coughs"),
    "level-step": ("jump in the sound", "jumps in the sound"),
    "restart": ("sentence that seems read twice", "sentences that seem read twice"),
    "echo": ("stretch with echo", "stretches with echo"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """One thing that a verdict rests on, whatever the review depth.

    Attributes
    ----------
    text : str
        A plain sentence.
    weight : {"again", "stop", "ear"}
        ``again``: it should be read again; ``stop``: it does not go out as it is, though nobody
        reviews it; ``ear``: somebody should hear it where there is a review.
    """

    text: str
    weight: Weight


def grounds_of(
    level: Level,
    speech_s: float,
    duration_s: float,
    findings: list[Finding],
    limits: HearingLimits,
) -> tuple[Ground, ...]:
    """Gather what speaks against a reading as it was measured; nothing where all is well.

    Notes
    -----
    ``again``: hardly any speech; noise almost as loud as the voice; distorted for a large share
    of the speech; sound missing again and again. ``stop``: a change that is proposed and not made
    (``fix``); clipping that lasts. ``ear``: anything else to hear, or more noise than a listener
    should have to bear. A ``note`` changes nothing. What is beyond a quick mending, and what must
    not go out, follows common practice; the limits and where they come from: `HearingLimits`.
    """
    if speech_s < limits.speech_s_min:
        return (Ground(text="No speech was found in this recording.", weight="again"),)

    noise_again = _noise_again(level, limits)
    again = [
        *noise_again,
        *_clipped_again(speech_s, findings, limits),
        *_missing_again(duration_s, findings, limits),
    ]
    noise_ear = [] if noise_again else _noise_ear(level, limits)
    return (
        *(Ground(text=text, weight="again") for text in again),
        *(Ground(text=text, weight="ear") for text in noise_ear),
        *_things_to_hear(findings, limits),
    )


def verdict_at(weights: Collection[Weight], review: ReviewDepth) -> Verdict:
    """Judge a reading by what its grounds weigh and its programme's review depth.

    Examples
    --------
    >>> [verdict_at(["ear"], review) for review in ("none", "things to hear", "whole")]
    ['ready', 'needs an ear', 'needs an ear']
    >>> verdict_at(["ear", "stop"], "none"), verdict_at([], "whole"), verdict_at(["again"], "none")
    ('needs an ear', 'needs an ear', 'read again')
    """
    if "again" in weights:
        return "read again"
    if review == "whole" or "stop" in weights or ("ear" in weights and review != "none"):
        return "needs an ear"
    return "ready"


def reasons_at(grounds: Iterable[Ground], review: ReviewDepth) -> tuple[str, ...]:
    """Say why the verdict is so at a review depth; at least one sentence."""
    weights = {ground.weight for ground in grounds}
    texts = tuple(ground.text for ground in grounds)
    if "again" in weights:
        return texts
    if review == "whole":
        return (HEARD_WHOLE, *texts)
    if review == "none" and texts:
        return (*texts, NOT_LIKE_THIS if "stop" in weights else NO_REVIEW)
    return texts or (NOTHING_FOUND,)


def verdict_of(
    level: Level,
    speech_s: float,
    duration_s: float,
    findings: list[Finding],
    limits: HearingLimits,
    review: ReviewDepth = USUAL_REVIEW,
) -> tuple[Verdict, tuple[str, ...]]:
    """Judge a reading from what was measured, by its programme's review depth.

    Returns
    -------
    verdict : {"ready", "needs an ear", "read again"}
        The worst that any ground asks for at that depth.
    reasons : tuple of str
        At least one sentence.

    Examples
    --------
    >>> level = Level(active_speech_dbov=-23.0, noise_floor_dbov=-62.0, dc=0.0)
    >>> verdict_of(level, 3000.0, 3400.0, [], HearingLimits())
    ('ready', ('Nothing was found that needs hearing.',))
    >>> verdict_of(level, 3000.0, 3400.0, [], HearingLimits(), review="whole")
    ('needs an ear', ('This programme is heard whole before it goes out.',))
    """
    grounds = grounds_of(level, speech_s, duration_s, findings, limits)
    verdict = verdict_at({ground.weight for ground in grounds}, review)
    return verdict, reasons_at(grounds, review)


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
    return [
        f"Sound is missing or plays twice in {count} places: something between microphone and "
        "disk is broken."
    ]


def _things_to_hear(findings: list[Finding], limits: HearingLimits) -> list[Ground]:
    wanted = [found for found in findings if found.severity != "note"]
    counts = Counter(found.kind for found in wanted)
    stopping = {found.kind for found in wanted if stops(found, limits)}
    return [
        Ground(
            text=f"{count} {_NAMES[kind][count > 1]}, "
            f"{'at' if count == 1 else 'the first at'} "
            f"{clock(next(found.start_s for found in wanted if found.kind == kind))}.",
            weight="stop" if kind in stopping else "ear",
        )
        for kind, count in counts.items()
    ]


def stops(found: Finding, limits: HearingLimits = HEARING_LIMITS) -> bool:
    """Say whether a finding keeps a reading from going out even where nobody reviews it."""
    lasts = found.end_s - found.start_s >= limits.clip_s_stop
    proposed = found.severity == "fix" and found.kind not in _SMALL
    return proposed or (found.kind == "clip" and lasts)
