"""From the edits and a target to the drives: one for the wave file, one for the MP3."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from quietleaf.errors import AudioUnfit
from quietleaf.finishing.assembly import dry_blocks, master_samples
from quietleaf.finishing.limiter import LOOK_AHEAD_MS, RELEASE_MS
from quietleaf.finishing.plan import RATE_HZ, Drive, Edits
from quietleaf.finishing.ranges import Ahead, Sound, one_by_one
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
_STEPS_DB = (0.0, 0.4, 1.0)
_NEAR_LU = 0.03
_TRIALS_MOST = 7
_GAIN_DB_MOST = 70.0
_LEAST_SLOPE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Drives:
    """Both drives."""

    wave: Drive
    mp3: Drive


@dataclass(slots=True, kw_only=True)
class _Search:
    """One drive being looked for: where it should land, and what was tried.

    Attributes
    ----------
    estimate_db : float
        The gain, as far as is known.
    first_db : float
        The least gain of the next trial.
    """

    wanted_lufs: float
    aim_dbtp: float
    estimate_db: float
    first_db: float
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
    edits: Edits,
    sound: Sound,
    target: Target,
    kbps: int,
    guess_db: float,
    ahead: Ahead = one_by_one,
) -> Drives:
    """Find the gains that bring the master, and its MP3, to the target.

    Parameters
    ----------
    guess_db : float
        A first gain, from what is known before the limiter; a bad one costs another pass.

    Raises
    ------
    AudioUnfit
        If the master is too short or too quiet to have a loudness.

    Notes
    -----
    Each pass over the dry master tries three gains for each drive; between them the loudness is
    a smooth curve. One pass is enough where the guess was right to 0.4 dB.
    """
    wanted = target.one_channel_lufs
    encoder = encoder_gain_db(kbps)
    searches = [
        _Search(
            wanted_lufs=wanted,
            aim_dbtp=target.ceiling_dbtp - UNDER_CEILING_DB,
            estimate_db=guess_db,
            first_db=guess_db,
            tried=[],
        ),
        _Search(
            wanted_lufs=wanted + encoder,
            aim_dbtp=mp3_aim_dbtp(target.ceiling_dbtp, kbps),
            estimate_db=guess_db + encoder,
            first_db=guess_db + encoder,
            tried=[],
        ),
    ]
    for _ in range(_TRIALS_MOST):
        drives = tuple(
            (search.first_db + step, search.aim_dbtp) for search in searches for step in _STEPS_DB
        )
        found = try_drives(ahead(dry_blocks(edits, sound)), master_samples(edits), drives)
        for number, search in enumerate(searches):
            search.tried += found[number * len(_STEPS_DB) : (number + 1) * len(_STEPS_DB)]
            _refuse_unmeasured(search, edits)
            search.estimate_db = _estimate(search)
            search.first_db = search.estimate_db - _STEPS_DB[1] / 2.0
        if all(_bracketed(search) for search in searches):
            break
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


def _refuse_unmeasured(search: _Search, edits: Edits) -> None:
    if any(one.loudness_lufs is None for one in search.tried):
        raise AudioUnfit(
            "finish/no-loudness",
            "A loudness is measured on at least 0.4 s of sound that can be heard; this programme "
            f"of {master_samples(edits) / RATE_HZ:.1f} s has too little. Record it again, louder.",
        )


def _estimate(search: _Search) -> float:
    """Interpolate between what was tried: what the limiter takes grows slowly with the gain."""
    ordered = sorted(search.tried, key=lambda one: one.gain_db)
    gains = np.array([one.gain_db for one in ordered])
    reached = np.maximum.accumulate(np.array([one.loudness_lufs for one in ordered], dtype=float))
    wanted = search.wanted_lufs
    if wanted < reached[0]:
        return float(gains[0] - (reached[0] - wanted))
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
    return min(above) - max(below) <= _STEPS_DB[-1]


def _drive(search: _Search, target: Target) -> Drive:
    near = min(search.tried, key=lambda one: abs(one.gain_db - search.estimate_db))
    assert near.loudness_lufs is not None
    before = near.loudness_lufs - near.gain_db
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
            "tried_gain_db": round(near.gain_db, 3),
            "tried_loudness_lufs": round(near.loudness_lufs, 3),
            "loudness_without_gain_lufs": round(before, 3),
            "most_reduction_db": round(near.reduction_db, 2),
            "share_reduced": round(near.reduced_share, 5),
        },
    )
