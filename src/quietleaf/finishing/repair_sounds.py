"""Repairs of what is no voice: noises in pauses are replaced, loud breaths are turned down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.ranges import Sound, without_rumble
from quietleaf.finishing.repair_site import Site, drawn_near, sites_of
from quietleaf.finishing.repaired_sound import LAY_SAMPLES, repaired
from quietleaf.finishing.repairs import Repair, Replaced, TurnedDown
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.finishing.voicing import HOP_S, voiced
from quietleaf.listening.findings import Finding
from quietleaf.listening.join_limits import JOIN_LIMITS
from quietleaf.listening.structure import FRAMES_PER_S, Structure
from quietleaf.units import db_of_power

REPLACED_KINDS = ("noise", "rustle", "click", "cough")
LONGEST_S = 3.0
"""What lasts longer is no moment, and no pause is so long."""
AFTER_DB = 6.0
"""From here on something stands out of the room."""
_TOGETHER_S = 0.1
_VOICED_S = 0.05
_VOICED_COUGH_S = 0.3
_CONSONANT_GAP_FRAMES = round(0.25 * FRAMES_PER_S)
_CONSONANT_FRAMES = round(0.35 * FRAMES_PER_S)
_CONSONANT_DB = 22.0
"""As for joins: a last *t* comes late, is short, and louder than any breath."""
_LOUD_PART_DB = 3.0
BREATH_UNDER_LIMIT_DB = 6.0
BREATH_DB_MOST = 18.0
_EDGE = (RATE_HZ // 50, RATE_HZ // 200, RATE_HZ // 100, RATE_HZ // 40)
"""20 to 5 ms before a place, and 10 to 25 ms after it."""
_EDGE_FROM = LAY_SAMPLES // 2
_EDGE_DB_MOST = JOIN_LIMITS.edge_db - 1.0
_NOTHING = 1e-12
_NAMES = {"noise": "a noise", "rustle": "paper", "click": "a click", "cough": "a cough"}


def noise_repairs(
    findings: Sequence[Finding], structure: Structure, sound: Sound
) -> Iterator[Repair]:
    """Put room tone in the place of noises that lie in a pause.

    Notes
    -----
    The range goes from settled room to settled room. Not replaced is what touches a word, what
    may be one (50 ms of voice, 0.3 s for a cough), what is like a consonant of the word beside it
    (within 0.25 s, short and loud), and what there is no room tone for.
    """
    asked = [one for one in findings if one.kind in REPLACED_KINDS]
    asked = [one for one in asked if one.end_s - one.start_s <= LONGEST_S]
    taken = [_samples_of(one) for one in asked]
    reached = 0
    for row in _together(asked):
        first = int(row[0].start_s * FRAMES_PER_S)
        stop = int(np.ceil(max(one.end_s for one in row) * FRAMES_PER_S))
        stop = min(stop, structure.level.size)
        if stop - first < 2 or first * FRAME_SAMPLES < reached:
            continue
        for site in sites_of(structure, first, stop):
            repair = _replaced(row, site, structure, sound, taken)
            if repair.state == "made" and repair.start >= reached:
                break
        reached = max(reached, repair.stop)
        yield repair


def breath_repairs(
    findings: Sequence[Finding], structure: Structure, sound: Sound
) -> Iterator[Repair]:
    """Turn loud breaths down: as far as 6 dB under what makes them loud, by 18 dB at most."""
    taken = [_samples_of(one) for one in findings if one.end_s - one.start_s <= LONGEST_S]
    for breath in findings:
        if breath.kind != "breath" or breath.value is None or breath.limit is None:
            continue
        if breath.end_s - breath.start_s > LONGEST_S:
            continue
        by_db = breath.value - breath.limit + BREATH_UNDER_LIMIT_DB
        by_db = round(min(max(by_db, BREATH_UNDER_LIMIT_DB), BREATH_DB_MOST), 1)
        first = int(breath.start_s * FRAMES_PER_S)
        stop = min(int(np.ceil(breath.end_s * FRAMES_PER_S)), structure.level.size)
        site = sites_of(structure, first, stop)[-1]
        drawn = drawn_near(structure, site, taken)
        measured = {
            "over_db": round(breath.value, 1),
            "limit_db": round(breath.limit, 1),
            "after_db": round(breath.value - by_db, 1),
        }
        yield TurnedDown(
            kind="breath",
            start=site.first * FRAME_SAMPLES,
            stop=min(site.stop * FRAME_SAMPLES, sound.info.frames),
            by_db=by_db,
            quiet=drawn.quiet if drawn else (),
            seed=site.first * FRAME_SAMPLES,
            tone_db=drawn.tone_db if drawn else 0.0,
            state="made",
            by="plan",
            reason=f"a breath stands {breath.value:.1f} {breath.unit}: it is turned down by "
            f"{by_db:.1f} dB, and stays",
            measured=measured,
        )


def over_room_db(sound: Sound, start: int, stop: int, floor_dbov: float) -> float:
    """Give how far the loudest 10 ms of a range stand over its room."""
    heard = without_rumble(sound, start, stop)
    frames = heard[: heard.size // FRAME_SAMPLES * FRAME_SAMPLES].reshape(-1, FRAME_SAMPLES)
    if frames.shape[0] < 2:
        return 0.0
    power = (frames * frames).mean(axis=1)
    return db_of_power(float((power[:-1] + power[1:]).max()) / 2.0) - floor_dbov


def _together(findings: Sequence[Finding]) -> list[list[Finding]]:
    rows: list[list[Finding]] = []
    for finding in sorted(findings, key=lambda one: one.start_s):
        if rows and finding.start_s - max(one.end_s for one in rows[-1]) < _TOGETHER_S:
            rows[-1].append(finding)
        else:
            rows.append([finding])
    return rows


def _replaced(
    row: Sequence[Finding],
    site: Site,
    structure: Structure,
    sound: Sound,
    taken: Sequence[tuple[int, int]],
) -> Replaced:
    start, stop = site.first * FRAME_SAMPLES, min(site.stop * FRAME_SAMPLES, sound.info.frames)
    name = _NAMES[row[0].kind] if len(row) == 1 else f"{len(row)} noises"
    before_db = over_room_db(sound, start, stop, site.floor_dbov)
    measured = {"over_room_db": round(before_db, 1), "limit_db": AFTER_DB}
    repair = Replaced(
        kind=row[0].kind,
        start=start,
        stop=stop,
        quiet=(),
        seed=start,
        tone_db=0.0,
        state="left",
        by="plan",
        reason="",
        measured=measured,
    )
    why_not = _why_not(row, site, structure, sound)
    if why_not:
        return replace(repair, reason=f"{name} is not replaced: {why_not}")
    drawn = drawn_near(structure, site, taken)
    if drawn is None:
        reason = f"{name} is not replaced: there is no room tone near by to take its place"
        return replace(repair, reason=reason)
    made = replace(
        repair,
        quiet=drawn.quiet,
        tone_db=drawn.tone_db,
        state="made",
        reason=f"{name} in a pause stands {before_db:.0f} dB over the room: room tone takes its "
        "place",
    )
    whole = repaired(sound, (made,))
    after_db = over_room_db(whole, start, stop, site.floor_dbov)
    edge_db = max(_edge_db(whole, start + _EDGE_FROM), _edge_db(whole, stop - _EDGE_FROM))
    measured |= {"after_db": round(after_db, 1), "edge_db": round(edge_db, 1)}
    made = replace(made, measured=measured)
    if after_db > min(AFTER_DB, before_db) or edge_db > _EDGE_DB_MOST:
        reason = f"{name} is not replaced: what took its place would stand out as well"
        return replace(made, state="left", reason=reason)
    return made


def _edge_db(sound: Sound, place: int) -> float:
    """Give how far the levels beside a place are apart, as the check of joins measures it."""
    begin, end = place - _EDGE[0], min(place + _EDGE[3], sound.info.frames)
    if begin < 0:
        return 0.0
    heard = without_rumble(sound, begin, end)
    sides = heard[: _EDGE[0] - _EDGE[1]], heard[_EDGE[0] + _EDGE[2] :]
    levels = [db_of_power(float(np.mean(side**2)) + _NOTHING) for side in sides]
    return abs(levels[1] - levels[0])


def _why_not(row: Sequence[Finding], site: Site, structure: Structure, sound: Sound) -> str:
    if site.touches_before or site.touches_after:
        return "it touches a word"
    heard = without_rumble(
        sound, site.first * FRAME_SAMPLES, min(site.stop * FRAME_SAMPLES, sound.info.frames)
    )
    voice_s = float(voiced(heard).sum()) * HOP_S
    if voice_s >= (_VOICED_COUGH_S if any(one.kind == "cough" for one in row) else _VOICED_S):
        return "it may be a voice"
    # What stands out, without the slopes into the room.
    level = structure.level[site.first : site.stop]
    loud = np.flatnonzero(level >= site.floor_dbov + AFTER_DB + _LOUD_PART_DB)
    first, stop = (
        (site.first + int(loud[0]), site.first + int(loud[-1]) + 1)
        if loud.size
        else (site.first, site.stop)
    )
    runs = structure.runs
    before, after = runs[runs[:, 1] <= first + 2, 1], runs[runs[:, 0] >= stop - 2, 0]
    gap = min(
        first - int(before[-1]) if before.size else FRAMES_PER_S,
        int(after[0]) - stop if after.size else FRAMES_PER_S,
    )
    is_loud = float(level.max()) > structure.speech_dbov - _CONSONANT_DB
    if gap < _CONSONANT_GAP_FRAMES and stop - first <= _CONSONANT_FRAMES and is_loud:
        return "it may be a consonant of the word beside it"
    return ""


def _samples_of(finding: Finding) -> tuple[int, int]:
    return round(finding.start_s * RATE_HZ), round(finding.end_s * RATE_HZ)
