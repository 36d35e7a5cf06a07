"""From what was found to what is repaired: each repair tried, measured, and kept if it helps."""

from __future__ import annotations

from quietleaf.finishing.decisions import repairs_as_decided
from quietleaf.finishing.ranges import Sound
from quietleaf.finishing.repair_hum import hum_repairs
from quietleaf.finishing.repair_pops import pop_repairs
from quietleaf.finishing.repair_samples import clip_repairs, dropout_repairs
from quietleaf.finishing.repair_sounds import breath_repairs, noise_repairs
from quietleaf.finishing.repaired_sound import repaired, same_layer
from quietleaf.finishing.repairs import Repair
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.structure import Structure


def plan_repairs(
    heard: Hearing,
    structure: Structure,
    sound: Sound,
    cut: tuple[tuple[int, int], ...],
    decided: tuple[Repair, ...],
) -> tuple[Repair, ...]:
    """Plan what is repaired.

    Parameters
    ----------
    heard : Hearing
        Of the sound: nothing is repaired but where something was found.
    structure : Structure
        Of the sound.
    cut : tuple of (int, int)
        What goes is not repaired.
    decided : tuple of Repair
        By the desk: refused, changed, or added.

    Notes
    -----
    Samples and hum first, then the low band, then noises and breaths: each is tried on the sound
    that the ones before it leave.
    """
    findings = heard.findings
    speech_dbov = heard.level.active_speech_dbov
    repairs = _apart([*clip_repairs(findings, sound), *dropout_repairs(findings, sound)])
    whole = repaired(sound, repairs)
    if speech_dbov is not None:
        repairs += _apart([*hum_repairs(findings, whole, speech_dbov)])
        whole = repaired(sound, repairs)
        repairs += _apart([*pop_repairs(findings, whole, speech_dbov)])
    whole = repaired(sound, repairs)
    sounds = [*noise_repairs(findings, structure, whole)]
    repairs += _apart([*sounds, *breath_repairs(findings, structure, whole)])
    kept = [one for one in repairs if not any(a <= one.start and one.stop <= b for a, b in cut)]
    return repairs_as_decided(kept, decided)


def _apart(repairs: list[Repair]) -> list[Repair]:
    """Leave out what lies over another of its sort."""
    apart: list[Repair] = []
    reached = 0
    for repair in sorted(repairs, key=lambda one: one.start):
        if repair.state == "made":
            if repair.start < reached and any(same_layer(repair, one) for one in apart):
                continue
            reached = max(reached, repair.stop)
        apart.append(repair)
    return apart
