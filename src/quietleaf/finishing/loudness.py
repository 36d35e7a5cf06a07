"""From the layout and a target to the drives: one for the wave file, one for the MP3."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from quietleaf.errors import AudioUnfit
from quietleaf.finishing.assembly import NO_ITEMS, dry_blocks, master_samples
from quietleaf.finishing.estimate import Estimate, drive_for, estimate_of
from quietleaf.finishing.limiter import LOOK_AHEAD_MS, RELEASE_MS
from quietleaf.finishing.plan import RATE_HZ, Drive, Layout
from quietleaf.finishing.ranges import Ahead, Blocks, Sound, one_by_one
from quietleaf.finishing.survey import Survey
from quietleaf.finishing.targets import Target
from quietleaf.finishing.trial import Tried, try_drives

UNDER_CEILING_DB = 0.05
"""The limiter aims so much lower: what is left over is for meters that interpolate otherwise."""
ENCODER_GAIN_DB = 0.446
"""Up to 160 kbit/s the encoder gives back 0.95 of what it was given."""
_ENCODER_GAINS_DB = {192: 0.26, 224: 0.13, 256: 0.06, 320: 0.0}
_MP3_UNDER_DB = 1.5
_MP3_UNDER_WIDE_DB = 1.0
_MP3_WIDE_KBPS = 96
"""What coding adds to peaks; a narrower stream adds more."""
_HARD_DB = 10.0
_STEPS_DB = (0.0, 0.3)
_NEAR_LU = 0.03
_FAR_LU = 1.0
_TRIALS_MOST = 7
_GAIN_DB_MOST = 70.0
_LEAST_SLOPE = 0.15
_LONG_SAMPLES = 300 * RATE_HZ
"""Longer masters need no trial: what their limiter takes is estimated, and heard afterwards."""
_SURE_LU = 2.5
"""As long as the limiter takes no more from the loudness than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drives:
    """Both drives."""

    wave: Drive
    mp3: Drive


@dataclass(slots=True, kw_only=True)
class _Search:
    """One drive being looked for.

    Attributes
    ----------
    wanted_lufs, aim_dbtp : float
        Where it should land.
    estimate_db : float
        Its gain, as far as is known.
    tried : list of Tried
        Whatever was tried or estimated.
    """

    wanted_lufs: float
    aim_dbtp: float
    estimate_db: float
    tried: list[Tried]


def encoder_gain_db(kbps: int) -> float:
    """Give what an MP3 of a bit rate loses, and has to be given more.

    Examples
    --------
    >>> encoder_gain_db(64), encoder_gain_db(320)
    (0.446, 0.0)
    """
    return _ENCODER_GAINS_DB.get(kbps, ENCODER_GAIN_DB)


def mp3_aim_dbtp(ceiling_dbtp: float, kbps: int) -> float:
    """Give what the limiter aims at before an encoder: lower by what coding adds to peaks."""
    under = _MP3_UNDER_WIDE_DB if kbps >= _MP3_WIDE_KBPS else _MP3_UNDER_DB
    return ceiling_dbtp - under


def plan_drives(
    layout: Layout,
    survey: Survey,
    sound: Sound,
    target: Target,
    kbps: int,
    ahead: Ahead = one_by_one,
    items: Mapping[str, Sound] = NO_ITEMS,
) -> Drives:
    """Find the gains that bring the master, and its MP3, to the target.

    Parameters
    ----------
    survey : Survey
        Of the whole sound: it tells how loud the master is before the limiter.

    Raises
    ------
    AudioUnfit
        If the master is too short or too quiet to have a loudness.

    Notes
    -----
    A first gain comes from the survey's frames. A short master is then rendered as far as the
    limiter for two gains near by, and the gain is read off between them.
    """
    estimate = estimate_of(survey, layout)
    if estimate is None:
        raise no_loudness(master_samples(layout) / RATE_HZ)
    wanted = target.one_channel_lufs
    searches = [
        _search(estimate, wanted, target.ceiling_dbtp - UNDER_CEILING_DB),
        _search(estimate, wanted + encoder_gain_db(kbps), mp3_aim_dbtp(target.ceiling_dbtp, kbps)),
    ]
    if master_samples(layout) < _LONG_SAMPLES or not all(map(_sure, searches)):
        _by_trial(searches, layout, lambda: ahead(dry_blocks(layout, sound, items)))
    wave, mp3 = (_drive(search, target) for search in searches)
    return Drives(wave=wave, mp3=mp3)


def redriven(drive: Drive, gain_db: float, aim_dbtp: float, reason: str) -> Drive:
    """Give a drive with another gain and aim, after the delivered file was measured."""
    return Drive(
        gain_db=round(gain_db, 4),
        aim_dbtp=round(aim_dbtp, 3),
        look_ahead_ms=drive.look_ahead_ms,
        release_ms=drive.release_ms,
        reason=f"{drive.reason}; {reason}",
        measured=drive.measured,
    )


def _search(estimate: Estimate, wanted_lufs: float, aim_dbtp: float) -> _Search:
    found = drive_for(estimate, wanted_lufs, aim_dbtp, _GAIN_DB_MOST)
    return _Search(
        wanted_lufs=wanted_lufs, aim_dbtp=aim_dbtp, estimate_db=found.gain_db, tried=[found]
    )


def _sure(search: _Search) -> bool:
    """Say whether the limiter takes so little that an estimate of it will do."""
    (found,) = search.tried
    assert found.loudness_lufs is not None
    return abs(found.loudness_lufs - search.wanted_lufs) < _NEAR_LU and found.lost_lu <= _SURE_LU


def _by_trial(searches: list[_Search], layout: Layout, rendered: Callable[[], Blocks]) -> None:
    """Try gains on the sound itself until the wanted loudness lies between two of them."""
    for search in searches:
        search.tried = []
    for _ in range(_TRIALS_MOST):
        drives = tuple(
            (search.estimate_db + step - _STEPS_DB[1] / 2.0, search.aim_dbtp)
            for search in searches
            for step in _STEPS_DB
        )
        found = try_drives(rendered(), master_samples(layout), drives)
        for number, search in enumerate(searches):
            search.tried += found[number * len(_STEPS_DB) : (number + 1) * len(_STEPS_DB)]
            _refuse_unmeasured(search, layout)
            search.estimate_db = _estimate(search)
        if all(_bracketed(search) for search in searches):
            return


def _refuse_unmeasured(search: _Search, layout: Layout) -> None:
    if any(one.loudness_lufs is None for one in search.tried):
        raise no_loudness(master_samples(layout) / RATE_HZ)


def no_loudness(duration_s: float) -> AudioUnfit:
    """Refuse a programme in which no loudness can be measured."""
    return AudioUnfit(
        "finish/no-loudness",
        "A loudness is measured on at least 0.4 s of sound that can be heard; this programme "
        f"of {duration_s:.1f} s has too little. Record it again, louder.",
    )


def _estimate(search: _Search) -> float:
    """Interpolate between what was tried: what the limiter takes grows slowly with the gain."""
    ordered = sorted(search.tried, key=lambda one: one.gain_db)
    gains = np.array([one.gain_db for one in ordered])
    reached = np.maximum.accumulate(np.array([one.loudness_lufs for one in ordered], dtype=float))
    wanted = search.wanted_lufs
    if wanted < reached[0]:
        # Where much is limited, a dB less of gain is less than a dB; further down it is more.
        slope = max(float((reached[1] - reached[0]) / (gains[1] - gains[0])), 0.5)
        return float(gains[0] - (reached[0] - wanted) / slope)
    if wanted <= reached[-1]:
        return float(np.interp(wanted, reached, gains))
    # Beyond the loudest that was tried, a dB of gain gives less than a dB.
    slope = max(float((reached[-1] - reached[-2]) / (gains[-1] - gains[-2])), _LEAST_SLOPE)
    return min(float(gains[-1] + (wanted - reached[-1]) / slope), _GAIN_DB_MOST)


def _bracketed(search: _Search) -> bool:
    """Say whether the wanted loudness lies between two tried ones that are near each other."""
    loud = [one.loudness_lufs for one in search.tried if one.loudness_lufs is not None]
    below = [value for value in loud if value <= search.wanted_lufs + _NEAR_LU]
    above = [value for value in loud if value >= search.wanted_lufs - _NEAR_LU]
    if not below or not above:
        return search.estimate_db >= _GAIN_DB_MOST
    return min(above) - max(below) <= _FAR_LU


def _drive(search: _Search, target: Target) -> Drive:
    near = min(search.tried, key=lambda one: abs(one.gain_db - search.estimate_db))
    assert near.loudness_lufs is not None
    before = near.loudness_lufs + near.lost_lu - near.gain_db
    reason = (
        f"brought to {target.loudness_lufs:g} LUFS"
        f"{' counted as dual mono' if target.dual_mono else ''}; the limiter keeps true peaks "
        f"under {search.aim_dbtp:g} dBTP"
    )
    if near.reduction_db > _HARD_DB:
        reason += (
            f" and takes up to {near.reduction_db:.0f} dB: too much to be called mastering; a "
            "lower loudness would sound better"
        )
    return Drive(
        gain_db=round(search.estimate_db, 4),
        aim_dbtp=round(search.aim_dbtp, 3),
        look_ahead_ms=LOOK_AHEAD_MS,
        release_ms=RELEASE_MS,
        reason=reason,
        measured={
            "loudness_before_lufs": round(before, 3),
            "tried_gain_db": round(near.gain_db, 3),
            "tried_loudness_lufs": round(near.loudness_lufs, 3),
            "limiter_takes_lu": round(near.lost_lu, 3),
            "most_reduction_db": round(near.reduction_db, 2),
            "share_reduced": round(near.reduced_share, 5),
        },
    )
