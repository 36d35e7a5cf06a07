"""The character of a room's noise: hum, rumble, a fan, hiss."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import welch

from quietleaf.listening.room_hum import Hum, a_weight_db

NoiseKind = Literal["hum", "rumble", "fan", "hiss"]
_SLOT_S = 0.05
_NOTHING_DBOV = -150.0
"""No room, and no converter: exact zeros, or arithmetic on them."""
_LOW_HZ = 20.0
_RUMBLE_TO_HZ = 120.0
_HISS_FROM_HZ = 2_000.0
_HUM_SHARE = 0.5
_RUMBLE_SHARE = 0.8
_HISS_SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNoise:
    """The noise of the still seconds.

    Attributes
    ----------
    floor_dbov : float
        Median of 50 ms, above 20 Hz.
    bump_db : float
        How far the loudest 50 ms stands over that.
    kind : {"hum", "rumble", "fan", "hiss"}
        What it is most like.
    low_db, middle_db, high_db : float
        Level under 120 Hz, up to 2 kHz, and above, each against the whole.
    """

    floor_dbov: float
    bump_db: float
    kind: NoiseKind
    low_db: float
    middle_db: float
    high_db: float


def room_noise(
    still: NDArray[np.float64], sample_rate_hz: int, hum: Hum | None
) -> RoomNoise | None:
    """Measure the noise of a room.

    Parameters
    ----------
    still : ndarray, shape (n,), full scale 1.0
        Sound without speech.

    Returns
    -------
    noise : RoomNoise or None
        None for digital silence (the half of it is enough), or under a quarter of a second.

    Notes
    -----
    ``hum``: the mains are at least half of what is heard of it (weighting A). ``rumble``: four
    fifths of its power lie under 120 Hz.
    ``hiss``: what is above 2 kHz is half of what is heard or more. ``fan``: the rest, a broad
    noise that is strongest below. Ours, after measurements on real noises.

    Examples
    --------
    >>> hiss = 0.001 * np.random.default_rng(1).standard_normal(5 * 48_000)
    >>> noise = room_noise(hiss, 48_000, None)
    >>> round(noise.floor_dbov), noise.kind
    (-60, 'hiss')
    """
    slot = round(_SLOT_S * sample_rate_hz)
    slots = still.size // slot
    if slots < 5:
        return None
    length = min(still.size, 1 << (sample_rate_hz // 4).bit_length())
    frequencies, density = welch(
        still, sample_rate_hz, nperseg=length, average="median", detrend="constant"
    )
    heard = frequencies >= _LOW_HZ
    frequencies, power = frequencies[heard], density[heard] * float(sample_rate_hz) / length
    total = float(np.sum(power))
    if total <= 0.0:
        return None
    levels = _slot_levels(still[: slots * slot].reshape(slots, slot))
    floor = float(np.median(levels))
    if floor < _NOTHING_DBOV:
        return None
    weights = np.array([10.0 ** (a_weight_db(float(hz)) / 10.0) for hz in frequencies])
    weighed = power * weights
    low = frequencies < _RUMBLE_TO_HZ
    high = frequencies >= _HISS_FROM_HZ
    shares = [float(np.sum(power[part])) / total for part in (low, ~low & ~high, high)]
    low_db, middle_db, high_db = (10.0 * math.log10(max(share, 1e-12)) for share in shares)
    heard_total = float(np.sum(weighed))

    kind: NoiseKind = "fan"
    if hum is not None and 10.0 ** (hum.heard_dbov / 10.0) >= _HUM_SHARE * heard_total:
        kind = "hum"
    elif shares[0] >= _RUMBLE_SHARE:
        kind = "rumble"
    elif float(np.sum(weighed[high])) >= _HISS_SHARE * heard_total:
        kind = "hiss"
    return RoomNoise(
        floor_dbov=floor,
        bump_db=float(np.max(levels)) - floor,
        kind=kind,
        low_db=low_db,
        middle_db=middle_db,
        high_db=high_db,
    )


def _slot_levels(slots: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the level of each slot: without its mean, 50 ms hold what is above 20 Hz."""
    powers = np.var(slots, axis=1)
    return np.asarray(10.0 * np.log10(np.maximum(powers, 1e-30)))
