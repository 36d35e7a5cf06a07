"""Popped consonants: the low band of the onset is turned down, the consonant stays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.ranges import Sound, one_channel
from quietleaf.finishing.repaired_sound import repaired
from quietleaf.finishing.repairs import LowBand, Repair
from quietleaf.listening.findings import Finding
from quietleaf.sound.band_pass import band_pass_sections, run_sections
from quietleaf.units import samples_of_s

CORNERS_HZ = (85.0, 130.0)
"""The lower one leaves more of a deep voice; it is not enough for every pop."""
STEPS_DB = (6.0, 10.0, 14.0, 20.0, 26.0)
UNDER_LIMIT_DB = 3.0
_BEFORE_SAMPLES = RATE_HZ * 30 // 1000
_AFTER_SAMPLES = RATE_HZ * 50 // 1000
_BAND_HZ = (18.0, 65.0)
_STEP = 24
_SETTLE_SAMPLES = RATE_HZ // 2


def pop_repairs(findings: Sequence[Finding], sound: Sound, speech_dbov: float) -> Iterator[Repair]:
    """Turn the low band of each pop down by as little as brings it 3 dB under its limit.

    Parameters
    ----------
    speech_dbov : float
        What limits of pops are counted from: the active level of speech.
    """
    reached = 0
    for finding in findings:
        if finding.kind != "pop" or finding.limit is None:
            continue
        start = max(reached, samples_of_s(finding.start_s, RATE_HZ) - _BEFORE_SAMPLES)
        stop = min(samples_of_s(finding.end_s, RATE_HZ) + _AFTER_SAMPLES, sound.info.frames)
        if stop - start <= _BEFORE_SAMPLES:
            continue
        reached = stop
        yield _turned_down(finding.limit, start, stop, sound, speech_dbov)


def _turned_down(
    limit_db: float, start: int, stop: int, sound: Sound, speech_dbov: float
) -> LowBand:
    before_db = _peak_db(sound, start, stop) - speech_dbov
    measured = {"over_voice_db": round(before_db, 1), "limit_db": round(limit_db, 1)}
    repair = LowBand(
        kind="pop",
        start=start,
        stop=stop,
        corner_hz=CORNERS_HZ[0],
        by_db=STEPS_DB[0],
        state="made",
        by="plan",
        reason="",
        measured=measured,
    )
    after_db = before_db
    for corner_hz, by_db in product(CORNERS_HZ, STEPS_DB):
        tried = replace(repair, corner_hz=corner_hz, by_db=by_db)
        now_db = _peak_db(repaired(sound, (tried,)), start, stop) - speech_dbov
        if now_db < after_db:
            repair, after_db = tried, now_db
        if after_db <= limit_db - UNDER_LIMIT_DB:
            break
    measured |= {"after_db": round(after_db, 1)}
    if after_db > limit_db:
        reason = "a consonant popped, and turning its low band down does not help: it stays"
        return replace(repair, state="left", reason=reason, measured=measured)
    return replace(
        repair,
        reason=f"a consonant popped, {before_db:.1f} dB over the voice: what lies under "
        f"{repair.corner_hz:.0f} Hz is turned down by {repair.by_db:.0f} dB there",
        measured=measured,
    )


def _peak_db(sound: Sound, start: int, stop: int) -> float:
    """Give the greatest magnitude between 18 and 65 Hz, as pops are found."""
    begin, end = max(0, start - _SETTLE_SAMPLES), min(stop + RATE_HZ // 20, sound.info.frames)
    heard = one_channel(sound.read(begin, end))
    slow = heard[: heard.size // _STEP * _STEP].reshape(-1, _STEP).mean(axis=1)
    sections = band_pass_sections(*_BAND_HZ, RATE_HZ / _STEP, 4)
    slow = slow - slow[0]
    filtered = run_sections(slow[np.newaxis], sections, np.zeros((sections.shape[0], 1, 2)))[0]
    return 20.0 * float(np.log10(max(np.abs(filtered[(start - begin) // _STEP :]).max(), 1e-6)))
