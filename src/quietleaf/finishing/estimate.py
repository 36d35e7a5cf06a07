"""What the survey tells of the master before it is rendered: how loud any drive would make it.

The survey's frames of 5 ms know their K-weighted power and their greatest sample. That is enough to
work the limiter frame by frame: on five readings driven 0 to 9 dB further than -23 LUFS, where it
takes 0 to 2.6 LU from the loudness, the rendered sound differed by at most 0.06 LU.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.assembly import kept_ranges
from quietleaf.finishing.drive import cut_of
from quietleaf.finishing.limiter import RELEASE_MS, released_gains
from quietleaf.finishing.plan import RATE_HZ, Layout
from quietleaf.finishing.survey import FRAME_SAMPLES, Survey
from quietleaf.finishing.trial import HOP_SAMPLES, Tried
from quietleaf.listening.loudness import integrated_loudness_lufs
from quietleaf.units import db_of_power, ratio_of_db

_BETWEEN_SAMPLES = 1.02
"""Speech is so much greater between its samples, where it is loud."""
_NEAR_FINAL_POWER = 0.05
_NOTHING = 1e-12
_NEAR_LU = 0.001
_NEAR_DB = 0.002
_STEP_DB = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The master's frames of 5 ms, before gain and limiter.

    Attributes
    ----------
    loudness_lufs : float
        Integrated, one channel.
    k_power, peak : ndarray, shape (k,)
        Of each frame: K-weighted mean square, greatest magnitude.
    """

    loudness_lufs: float
    k_power: NDArray[np.float64]
    peak: NDArray[np.float64]


def estimate_of(survey: Survey, layout: Layout) -> Estimate | None:
    """Take the frames that the layout keep, each with its sentence's gain.

    Returns
    -------
    estimate : Estimate or None
        None where there is no loudness: silence, or less than 0.4 s. Room tone that is laid at
        the ends is left out; it lies under the gate.
    """
    gains = _gains(survey, layout)
    kept = np.concatenate(
        [np.arange(a // FRAME_SAMPLES, b // FRAME_SAMPLES) for a, b in kept_ranges(layout)]
    )
    kept = kept[kept < gains.size]
    k_power = survey.k_power[kept] * gains[kept] ** 2
    # Gated as it will be, at about its final level: a faint recording is no silence.
    scale = _NEAR_FINAL_POWER / max(float(k_power.max(initial=0.0)), _NOTHING)
    loudness = integrated_loudness_lufs(_hops(k_power * scale))
    if loudness is None:
        return None
    return Estimate(
        loudness_lufs=loudness - db_of_power(scale),
        k_power=k_power,
        peak=survey.peak[kept] * gains[kept],
    )


def estimated_drive(estimate: Estimate, gain_db: float, aim_dbtp: float) -> Tried:
    """Estimate what a drive would give."""
    gain = released_gains(
        estimate.peak * _BETWEEN_SAMPLES,
        cut_of(gain_db, aim_dbtp),
        RELEASE_MS,
        RATE_HZ / FRAME_SAMPLES,
    )
    power = estimate.k_power * gain * gain * ratio_of_db(2.0 * gain_db)
    loudness = integrated_loudness_lufs(_hops(power))
    unlimited = estimate.loudness_lufs + gain_db
    return Tried(
        gain_db=gain_db,
        aim_dbtp=aim_dbtp,
        loudness_lufs=loudness,
        lost_lu=0.0 if loudness is None else max(unlimited - loudness, 0.0),
        reduction_db=max(0.0, -20.0 * float(np.log10(gain.min()))),
        reduced_share=float(np.mean(gain < 1.0)),
    )


def drive_for(estimate: Estimate, wanted_lufs: float, aim_dbtp: float, most_db: float) -> Tried:
    """Find the gain, up to ``most_db``, that would give a loudness."""
    low_db = min(wanted_lufs - estimate.loudness_lufs, most_db)
    tried = estimated_drive(estimate, low_db, aim_dbtp)
    if _reaches(tried, wanted_lufs):
        return tried
    # A greater gain is louder, though by less and less: halve the interval that it lies in.
    high_db = low_db
    while high_db < most_db and not _reaches(tried, wanted_lufs):
        low_db, high_db = high_db, min(high_db + _STEP_DB, most_db)
        tried = estimated_drive(estimate, high_db, aim_dbtp)
    while high_db - low_db > _NEAR_DB:
        middle_db = (low_db + high_db) / 2.0
        tried = estimated_drive(estimate, middle_db, aim_dbtp)
        low_db, high_db = (
            (low_db, middle_db) if _reaches(tried, wanted_lufs) else (middle_db, high_db)
        )
    return tried


def _reaches(tried: Tried, wanted_lufs: float) -> bool:
    return tried.loudness_lufs is not None and tried.loudness_lufs >= wanted_lufs - _NEAR_LU


def _hops(k_power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the mean squares of 100 ms."""
    each = HOP_SAMPLES // FRAME_SAMPLES
    hops: NDArray[np.float64] = (
        k_power[: k_power.size // each * each].reshape(-1, each).mean(axis=1)
    )
    return hops


def _gains(survey: Survey, layout: Layout) -> NDArray[np.float64]:
    """Give each frame the gain of its sentence; what lies between belongs to the one before."""
    starts = np.array([sentence.start // FRAME_SAMPLES for sentence in layout.sentences])
    gains = np.array([sentence.gain_db for sentence in layout.sentences])
    frames = np.arange(survey.k_power.size)
    index = np.maximum(np.searchsorted(starts, frames, side="right") - 1, 0)
    ratios: NDArray[np.float64] = 10.0 ** (gains[index] / 20.0)
    return ratios
