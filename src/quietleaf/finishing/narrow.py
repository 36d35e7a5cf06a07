"""The sound for a narrow channel: its band, hissing sounds turned down, the loudest held back.

A fold. Its law: any cutting into blocks gives the same, to rounding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, ellip, sosfilt

from quietleaf.finishing.plan import RATE_HZ
from quietleaf.sound.compiled import kernel
from quietleaf.units import ratio_of_db

_LOW_ORDER = 4
_HIGH_ORDER = 8
_RIPPLE_DB = 0.1
_STOP_DB = 60.0
HISS_FROM_HZ = 2_500.0
_HISS_ORDER = 2
_SHELF_FROM_HZ = 1_500.0
"""What is turned down begins gently below, by a shelf of the first order: it stays in phase."""
HISS_UNDER_SPEECH_DB = 6.0
"""Hissing sounds that come nearer to the voice than this are turned down."""
HISS_DB_MOST = 6.0
_HISS_ATTACK_S, _HISS_RELEASE_S = 0.002, 0.06
COMPRESS_RATIO = 2.0
COMPRESS_DB_MOST = 6.0
_COMPRESS_ATTACK_S, _COMPRESS_RELEASE_S = 0.02, 0.3
_LEVEL_S = 0.02


@dataclass(slots=True, kw_only=True)
class NarrowMemory:
    """What is kept from block to block.

    Attributes
    ----------
    voice : float
        Level of the voice, as a ratio; 0 where nothing but the band is wanted.
    state : ndarray, shape (4,)
        Level and gain of the hissing band, then of the whole.
    """

    band: NDArray[np.float64]
    band_state: NDArray[np.float64]
    hiss: NDArray[np.float64]
    hiss_state: NDArray[np.float64]
    shelf: NDArray[np.float64]
    shelf_state: NDArray[np.float64]
    voice: float
    state: NDArray[np.float64]


def start_narrow(low_hz: float, high_hz: float, speech_dbov: float | None = None) -> NarrowMemory:
    """Begin with silence.

    Parameters
    ----------
    low_hz, high_hz : float
        The band: 0.1 dB of ripple inside, 60 dB of loss a little above it.
    speech_dbov : float or None
        The active level of the voice: hissing sounds and the loudest words are held against it.
        None leaves both alone.
    """
    high_pass = butter(_LOW_ORDER, low_hz, "highpass", fs=RATE_HZ, output="sos")
    low_pass = ellip(_HIGH_ORDER, _RIPPLE_DB, _STOP_DB, high_hz, fs=RATE_HZ, output="sos")
    band = np.concatenate([high_pass, low_pass])
    hiss = butter(_HISS_ORDER, HISS_FROM_HZ, "highpass", fs=RATE_HZ, output="sos")
    shelf = butter(1, _SHELF_FROM_HZ, "highpass", fs=RATE_HZ, output="sos")
    return NarrowMemory(
        band=band,
        band_state=np.zeros((band.shape[0], 2)),
        hiss=hiss,
        hiss_state=np.zeros((hiss.shape[0], 2)),
        shelf=shelf,
        shelf_state=np.zeros((shelf.shape[0], 2)),
        voice=0.0 if speech_dbov is None else ratio_of_db(speech_dbov),
        state=np.array([0.0, 1.0, 0.0, 1.0]),
    )


def step_narrow(memory: NarrowMemory, samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shape the next block, shape (n,), 48 kHz."""
    shaped: NDArray[np.float64]
    shaped, memory.band_state = sosfilt(memory.band, samples, zi=memory.band_state)
    if memory.voice == 0.0:
        return shaped
    hiss, memory.hiss_state = sosfilt(memory.hiss, shaped, zi=memory.hiss_state)
    upper, memory.shelf_state = sosfilt(memory.shelf, shaped, zi=memory.shelf_state)
    _hold(
        shaped,
        hiss,
        upper,
        memory.voice * ratio_of_db(-HISS_UNDER_SPEECH_DB),
        ratio_of_db(-HISS_DB_MOST),
        memory.voice,
        1.0 - 1.0 / COMPRESS_RATIO,
        ratio_of_db(-COMPRESS_DB_MOST),
        _keeps(),
        memory.state,
    )
    return shaped


def _keeps() -> NDArray[np.float64]:
    """Give by how much each smoothed value stays from sample to sample."""
    times_s = (
        *(_HISS_ATTACK_S, _HISS_RELEASE_S),
        *(_COMPRESS_ATTACK_S, _COMPRESS_RELEASE_S),
        *(_HISS_ATTACK_S, _LEVEL_S),
    )
    return np.exp(-1.0 / (np.array(times_s) * RATE_HZ))


@kernel
def _hold(
    shaped: NDArray[np.float64],
    hiss: NDArray[np.float64],
    upper: NDArray[np.float64],
    hiss_limit: float,
    hiss_least: float,
    limit: float,
    slope: float,
    least: float,
    keeps: NDArray[np.float64],
    state: NDArray[np.float64],
) -> None:
    hiss_power, hiss_gain, power, gain = state[0], state[1], state[2], state[3]
    for i in range(shaped.size):
        hiss_power = hiss[i] * hiss[i] + (hiss_power - hiss[i] * hiss[i]) * keeps[4]
        level = np.sqrt(hiss_power)
        wanted = max(hiss_limit / level, hiss_least) if level > hiss_limit else 1.0
        keep = keeps[0] if wanted < hiss_gain else keeps[1]
        hiss_gain = wanted + (hiss_gain - wanted) * keep
        value = shaped[i] + (hiss_gain - 1.0) * upper[i]
        power = value * value + (power - value * value) * keeps[5]
        level = np.sqrt(power)
        wanted = max((limit / level) ** slope, least) if level > limit else 1.0
        keep = keeps[2] if wanted < gain else keeps[3]
        gain = wanted + (gain - wanted) * keep
        shaped[i] = value * gain
    state[0], state[1], state[2], state[3] = hiss_power, hiss_gain, power, gain
