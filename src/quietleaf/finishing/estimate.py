"""What the survey tells of the master before it is rendered: how loud any drive would make it.

The survey's frames of 5 ms know their K-weighted power and their greatest sample. That is enough to
work the limiter frame by frame: on five readings driven 0 to 9 dB further than -23 LUFS, with what
it takes from the loudness under 1 LU, the rendered sound differed by at most 0.05 LU.
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
from quietleaf.units import db_of_power

_BETWEEN_SAMPLES = 1.02
"""Speech is so much greater between its samples, where it is loud."""
_LEAST_LEFT = 1e-3
_OFFSET_DB = -0.691
_BLOCK_HOPS = 4
_ABSOLUTE_GATE_LUFS = -70.0
_RELATIVE_GATE = 0.1
_NEAR_FINAL_POWER = 0.05
_NOTHING = 1e-12
_NEAR_LU = 0.001
_STEPS_MOST = 30
_SLOPE_LEAST = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The master's frames of 5 ms, before gain and limiter.

    Attributes
    ----------
    loudness_lufs : float
        Integrated, one channel.
    energy : float
        The sum of the K-weighted mean squares of the frames that the loudness is the mean of.
    k_power, peak : ndarray, shape (k,)
        Of each frame: K-weighted mean square, greatest magnitude.
    """

    loudness_lufs: float
    energy: float
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
    each = HOP_SAMPLES // FRAME_SAMPLES
    hops = k_power[: kept.size // each * each].reshape(-1, each).mean(axis=1)
    # Gated as it will be, at about its final level: a faint recording is no silence.
    scale = _NEAR_FINAL_POWER / max(float(hops.max(initial=0.0)), _NOTHING)
    hops *= scale
    loudness = integrated_loudness_lufs(hops)
    if loudness is None:
        return None
    blocks = np.lib.stride_tricks.sliding_window_view(hops, _BLOCK_HOPS).mean(axis=1)
    loud = blocks[blocks > 10.0 ** ((_ABSOLUTE_GATE_LUFS - _OFFSET_DB) / 10.0)]
    count = np.count_nonzero(loud > loud.mean() * _RELATIVE_GATE)
    loudness -= db_of_power(scale)
    return Estimate(
        loudness_lufs=loudness,
        energy=10.0 ** ((loudness - _OFFSET_DB) / 10.0) * count * each,
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
    lost = float((estimate.k_power * (1.0 - gain * gain)).sum())
    left = max(1.0 - lost / estimate.energy, _LEAST_LEFT)
    return Tried(
        gain_db=gain_db,
        aim_dbtp=aim_dbtp,
        loudness_lufs=estimate.loudness_lufs + gain_db + db_of_power(left),
        lost_lu=-db_of_power(left),
        reduction_db=max(0.0, -20.0 * float(np.log10(gain.min()))),
        reduced_share=float(np.mean(gain < 1.0)),
    )


def drive_for(estimate: Estimate, wanted_lufs: float, aim_dbtp: float, most_db: float) -> Tried:
    """Find the gain, up to ``most_db``, that would give a loudness."""
    gain_db = min(wanted_lufs - estimate.loudness_lufs, most_db)
    tried = estimated_drive(estimate, gain_db, aim_dbtp)
    slope = 1.0
    for _ in range(_STEPS_MOST):
        assert tried.loudness_lufs is not None
        missing = wanted_lufs - tried.loudness_lufs
        if abs(missing) < _NEAR_LU or (missing > 0.0 and gain_db >= most_db):
            break
        # Beyond some gain a dB of it gives less than a dB.
        gain_db = min(gain_db + missing / slope, most_db)
        nearer = estimated_drive(estimate, gain_db, aim_dbtp)
        assert nearer.loudness_lufs is not None
        if gain_db != tried.gain_db:
            slope = (nearer.loudness_lufs - tried.loudness_lufs) / (gain_db - tried.gain_db)
            slope = min(max(slope, _SLOPE_LEAST), 1.0)
        tried = nearer
    return tried


def _gains(survey: Survey, layout: Layout) -> NDArray[np.float64]:
    """Give each frame the gain of its sentence; what lies between belongs to the one before."""
    starts = np.array([sentence.start // FRAME_SAMPLES for sentence in layout.sentences])
    gains = np.array([sentence.gain_db for sentence in layout.sentences])
    frames = np.arange(survey.k_power.size)
    index = np.maximum(np.searchsorted(starts, frames, side="right") - 1, 0)
    ratios: NDArray[np.float64] = 10.0 ** (gains[index] / 20.0)
    return ratios
