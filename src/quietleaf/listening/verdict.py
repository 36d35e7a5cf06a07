"""What follows from a hearing: ready, needs an ear, or read again, with reasons in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from quietleaf.listening.findings import Finding, FindingKind
from quietleaf.listening.hearing import Level, Verdict
from quietleaf.listening.limits import HearingLimits

_TOLD: dict[FindingKind, tuple[str, str]] = {
    "clip": ("one place is cut off flat at its peaks", "{} places are cut off flat at their peaks"),
    "dropout": (
        "the sound drops out at one place inside a word",
        "the sound drops out at {} places inside words",
    ),
    "dead-air": (
        "one long silence, which is shortened in finishing",
        "{} long silences, which are shortened in finishing",
    ),
}


def verdict_of(
    findings: Sequence[Finding], level: Level, speech_s: float, limits: HearingLimits
) -> tuple[Verdict, tuple[str, ...]]:
    """Say what should be done with a recording, and why.

    Parameters
    ----------
    speech_s : float
        Seconds of speech in all.

    Returns
    -------
    verdict, reasons
        At least one reason; each a sentence.
    """
    if speech_s < limits.speech_s_min:
        return "read again", ("Nobody is heard speaking in it.",)
    reasons = [_counted(kind, count) for kind, count in Counter(f.kind for f in findings).items()]
    verdict: Verdict = "needs an ear" if any(f.severity == "hear" for f in findings) else "ready"

    clips = sum(finding.kind == "clip" for finding in findings)
    if clips >= limits.clips_a_minute * max(speech_s / 60.0, 1.0):
        verdict = "read again"
        reasons.append("It was too loud for the microphone's input nearly all the time.")

    if level.active_speech_dbov is not None and level.noise_floor_dbov is not None:
        over_db = level.active_speech_dbov - level.noise_floor_dbov
        if over_db < limits.speech_over_floor_db:
            reasons.append(
                f"The voice stands only {over_db:.0f} dB above the noise of the room; "
                f"{limits.speech_over_floor_db:.0f} dB or more are wanted."
            )
            if over_db < limits.speech_over_floor_least_db:
                verdict = "read again"
            elif verdict == "ready":
                verdict = "needs an ear"
    return verdict, tuple(reasons) or ("Nothing in it asks for an ear.",)


def _counted(kind: FindingKind, count: int) -> str:
    one, several = _TOLD[kind]
    words = one if count == 1 else several.format(count)
    return words[0].upper() + words[1:] + "."
