"""Repairs of samples: what was cut off is given back, what is missing is filled."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from quietleaf.finishing.interpolation import CLIP_AROUND
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.ranges import Sound, one_channel
from quietleaf.finishing.repaired_sound import repaired
from quietleaf.finishing.repairs import Interpolation, Ranges, Repair
from quietleaf.listening.findings import Finding, FindingKind
from quietleaf.listening.mask_ranges import ranges_of
from quietleaf.listening.sample_runs import FLAT_WITHIN
from quietleaf.units import db_of_power, db_of_ratio, samples_of_s

CLIP_SAMPLES_MOST = 63
"""Of runs of 32 to 63 samples nine in ten come back to 22 dB."""
GAP_SAMPLES_MOST = RATE_HZ // 50
"""20 ms: the power in the gap is 1 dB low in the median, 5 dB in the worst tenth."""
CLIPPED_SHARE_MOST = 0.4
_NEAR_SAMPLES = RATE_HZ // 50
_TOP_SHARE = 0.999
_FLAT_MIN = 3
_ZEROS_MIN = 24
_SEAM_SAMPLES = 24
_BESIDE_SAMPLES = RATE_HZ // 100
_GAP_AFTER_DB = -12.0
_SILENT_DB = -120.0


def clip_repairs(findings: Sequence[Finding], sound: Sound) -> Iterator[Repair]:
    """Give clipped runs back what was cut off; longer ones than 1.3 ms are left."""
    for finding in findings:
        if finding.kind == "clip":
            repair = _unclipped(finding, sound)
            if repair is not None:
                yield repair


def dropout_repairs(findings: Sequence[Finding], sound: Sound) -> Iterator[Repair]:
    """Fill what is missing, up to 20 ms; where two sounds meet, smooth the seam."""
    for finding in findings:
        if finding.kind == "dropout":
            repair = _filled(finding, sound)
            if repair is not None:
                yield repair


def flat_tops(samples: NDArray[np.float64]) -> NDArray[np.int64]:
    """Find runs of two samples and more at a level at which the sound was cut off, shape (k, 2).

    Levels are those of flat tops of three samples and more: see `listening.clipping`.
    """
    found: list[NDArray[np.int64]] = []
    top = maximum_filter1d(np.abs(samples), 2 * _NEAR_SAMPLES + 1, mode="nearest")
    for sign in (1.0, -1.0):
        upward = sign * samples
        at_top = upward >= _TOP_SHARE * np.maximum(top, FLAT_WITHIN)
        level = np.append(np.abs(np.diff(upward)) <= FLAT_WITHIN, False)
        flat = at_top & (level | np.concatenate([[False], level[:-1]]))
        runs = ranges_of(flat)
        lengths = runs[:, 1] - runs[:, 0]
        levels = np.array([float(upward[a:b].min()) for a, b in runs])
        known = levels[lengths >= _FLAT_MIN]
        near = np.array([np.any(np.abs(known - one) <= 2.0 * FLAT_WITHIN) for one in levels])
        found.append(runs[near.astype(np.bool_)] if runs.size else runs)
    both = np.concatenate(found)
    ordered: NDArray[np.int64] = both[np.argsort(both[:, 0], kind="stable")]
    return ordered


def _unclipped(finding: Finding, sound: Sound) -> Interpolation | None:
    start, stop = _range_of(finding, sound)
    begin, end = max(0, start - CLIP_AROUND), min(sound.info.frames, stop + CLIP_AROUND)
    heard = one_channel(sound.read(begin, end))
    runs = flat_tops(heard) + begin
    runs = runs[(runs[:, 1] > start) & (runs[:, 0] < stop)]
    if runs.shape[0] == 0:
        return None
    lengths = runs[:, 1] - runs[:, 0]
    chosen = runs[lengths <= CLIP_SAMPLES_MOST]
    start, stop = min(start, int(runs[0, 0])), max(stop, int(runs[-1, 1]))
    measured = {
        "runs": float(runs.shape[0]),
        "longest_samples": float(lengths.max()),
        "limit_samples": float(CLIP_SAMPLES_MOST),
    }
    repair = _interpolation("clip", start, stop, chosen.tolist(), measured)
    share = _clipped_share(runs, begin, end)
    if not repair.runs or share > CLIPPED_SHARE_MOST:
        reason = (
            "the voice is cut off for too long at a time to be given back"
            if not repair.runs
            else f"{100 * share:.0f} in 100 samples are cut off: too few are left to tell the rest"
        )
        return replace(repair, state="left", reason=reason)
    after = one_channel(repaired(sound, (repair,)).read(begin, end))
    left = flat_tops(after) + begin
    left_count = int(np.count_nonzero((left[:, 1] - left[:, 0]) >= _FLAT_MIN))
    up_db = db_of_ratio(float(np.abs(after).max()) / float(np.abs(heard).max()))
    whole = "" if chosen.shape[0] == runs.shape[0] else f", {len(runs) - len(chosen)} longer stay"
    return replace(
        repair,
        reason=f"the voice was cut off {runs.shape[0]} times, for {int(lengths.max())} samples at "
        f"most: {chosen.shape[0]} are given back{whole}",
        measured=measured | {"after_runs": float(left_count), "peak_up_db": round(up_db, 1)},
    )


def _clipped_share(runs: NDArray[np.int64], begin: int, end: int) -> float:
    """Give the greatest share that is clipped within the reach of a model."""
    mask = np.zeros(end - begin)
    for start, stop in runs:
        mask[start - begin : stop - begin] = 1.0
    sums = np.concatenate([[0.0], np.cumsum(mask)])
    reach = min(2 * CLIP_AROUND, mask.size)
    return float((sums[reach:] - sums[:-reach]).max()) / reach


def _filled(finding: Finding, sound: Sound) -> Interpolation | None:
    start, stop = _range_of(finding, sound)
    heard = one_channel(sound.read(start, stop))
    zeros = [(int(a), int(b)) for a, b in ranges_of(heard == 0.0) if b - a >= _ZEROS_MIN]
    if zeros:
        # The samples beside zeros are half of them, where a rate was changed.
        runs = [(max(start + a - 1, 0), min(start + b + 1, sound.info.frames)) for a, b in zeros]
        what = "sound is missing"
    elif stop - start <= 2:
        runs, what = [(start - _SEAM_SAMPLES, start + _SEAM_SAMPLES)], "two sounds meet"
    else:
        runs, what = [(start, stop)], "a moment plays twice"
    first, last = runs[0][0], runs[-1][1]
    longest = max(b - a for a, b in runs)
    measured = {
        "gap_ms": round(1000.0 * longest / RATE_HZ, 1),
        "limit_ms": 1000.0 * GAP_SAMPLES_MOST / RATE_HZ,
    }
    if first < _BESIDE_SAMPLES or last > sound.info.frames - _BESIDE_SAMPLES:
        return None
    repair = _interpolation("dropout", first, last, runs, measured)
    if longest > GAP_SAMPLES_MOST:
        reason = f"{what} for {measured['gap_ms']:.0f} ms: that is too long to be hidden"
        return replace(repair, state="left", reason=reason)
    before_db = _gap_db(sound, repair)
    after_db = _gap_db(repaired(sound, (repair,)), repair)
    measured |= {"before_db": round(before_db, 1), "after_db": round(after_db, 1)}
    repair = replace(repair, measured=measured)
    if after_db < _GAP_AFTER_DB:
        reason = f"{what} for {measured['gap_ms']:.1f} ms, and nothing around tells what it was"
        return replace(repair, state="left", reason=reason)
    told = (
        "the seam is smoothed, what is missing stays so"
        if what == "two sounds meet"
        else "it is told from what is around"
    )
    return replace(repair, reason=f"{what} for {measured['gap_ms']:.1f} ms: {told}")


def _gap_db(sound: Sound, repair: Interpolation) -> float:
    """Give the power in the gaps, against the 10 ms on each side."""
    begin, end = repair.start - _BESIDE_SAMPLES, repair.stop + _BESIDE_SAMPLES
    heard = one_channel(sound.read(begin, end))
    missing = np.zeros(heard.size, dtype=np.bool_)
    for start, stop in repair.runs:
        missing[start - begin : stop - begin] = True
    here, around = (float(np.mean(heard[one] ** 2)) for one in (missing, ~missing))
    return max(db_of_power(here / max(around, 1e-15)), _SILENT_DB)


def _interpolation(
    kind: FindingKind,
    start: int,
    stop: int,
    runs: Sequence[Sequence[int]],
    measured: dict[str, float],
) -> Interpolation:
    ranges: Ranges = tuple((int(a), int(b)) for a, b in runs)
    return Interpolation(
        kind=kind,
        start=start,
        stop=stop,
        runs=ranges,
        state="made",
        by="plan",
        reason="",
        measured=measured,
    )


def _range_of(finding: Finding, sound: Sound) -> tuple[int, int]:
    start = samples_of_s(finding.start_s, RATE_HZ)
    return start, min(samples_of_s(finding.end_s, RATE_HZ), sound.info.frames)
