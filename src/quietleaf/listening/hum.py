"""Hum of the mains: lines at multiples of 50 or 60 Hz that stay while voices move."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Level
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.mask_ranges import ranges_of
from quietleaf.listening.percentiles import percentiles

_FAMILIES_HZ = (50.0, 60.0)
_HARMONICS = 6
_NEAR_BINS = 8
_LINE_BINS = 2
_DRIFTS_HZ = np.arange(-5, 6) * 0.1
_HOP_S = 0.5
_SPECTRA = 12
_EVERY = 2
_PERCENT = 30.0
_EXCESS_DB_MIN = 10.0
_EXCESS_DB_MAX = 20.0
_SUM_DB_MIN = 18.0
_STAYS_DB_MIN = 10.0
_ROWS_MIN = 3
_ROWS_APART = 20
_REACH_S = _HOP_S * _SPECTRA
_MIDDLE_S = 0.5 * (_REACH_S - _HOP_S)
_WIDER_S = 0.6


@dataclass(slots=True, kw_only=True)
class HumMemory:
    """What was heard of hum so far.

    Attributes
    ----------
    rate_hz : float
        Of the low sound.
    before : ndarray, shape (c, m) or None
        Its last half second.
    recent : ndarray, shape (k, 2, 6, 17), dB
        Spectra around the lines, as far back as rows still reach.
    rows : list of ndarray, shape (r, 3), float32
        A row for each second, of the 6 s from there on: how much the better family's lines stand
        out in all (dB), the frequency of the mains, and the power of the lines.
    """

    rate_hz: float
    before: NDArray[np.float64] | None = None
    recent: NDArray[np.float64] = field(
        default_factory=lambda: np.empty((0, len(_FAMILIES_HZ), _HARMONICS, 2 * _NEAR_BINS + 1))
    )
    rows: list[NDArray[np.float32]] = field(default_factory=list)


def step_hum(memory: HumMemory, low: NDArray[np.float64]) -> None:
    """Take in the low sound of the next chunk, shape (c, n)."""
    half = memory.rate_hz * _HOP_S
    tail = round(half)
    if memory.before is None:
        memory.before = np.zeros((low.shape[0], tail))
    sound = np.concatenate([memory.before, low], axis=1)
    memory.before = sound[:, sound.shape[1] - tail :].copy()
    length = 2 * tail
    if sound.shape[1] < length:
        return
    starts = np.floor(np.arange(int(low.shape[1] / half)) * half).astype(np.int64)
    starts = starts[starts + length <= sound.shape[1]]
    recent = np.concatenate([memory.recent, _lines_db(sound, starts, length, memory.rate_hz)])
    rows = np.arange(0, recent.shape[0] - _SPECTRA + 1, _EVERY)
    if rows.size:
        windows = np.lib.stride_tricks.sliding_window_view(recent, _SPECTRA, axis=0)[rows]
        steady = percentiles(windows, (_PERCENT,))[0]
        memory.rows.append(_rows(steady, memory.rate_hz / length))
        recent = recent[int(rows[-1]) + _EVERY :]
    memory.recent = recent.copy()


def hum_findings(memory: HumMemory, level: Level, limits: HearingLimits) -> list[Finding]:
    """Turn what was heard into findings.

    Returns
    -------
    findings : list of Finding
        Kind ``hum``; the value is how far the lines lie under the voice.

    Notes
    -----
    Spectra of 1 s each half second (Hann); of each bin the 30th percentile of 6 s: voices move
    and pause, hum stays. Lines are what stands 10 dB or more over the median of 8 Hz either side
    at the first six multiples of a frequency within 0.5 Hz of 50 or 60. Together, each counted
    with at most 20 dB, they come to 18 dB or more for three seconds, and to 10 around them. Ours,
    from measurements on made and real hum.
    """
    if not memory.rows:
        return []
    rows = np.concatenate(memory.rows).astype(np.float64)
    found = []
    for start, stop in ranges_of(rows[:, 0] >= _STAYS_DB_MIN, closed=_ROWS_APART):
        if np.count_nonzero(rows[start:stop, 0] >= _SUM_DB_MIN) >= _ROWS_MIN:
            first = 0.0 if start == 0 else start + _MIDDLE_S - _WIDER_S
            last = stop - 1 + (_REACH_S if stop == rows.shape[0] else _MIDDLE_S + _WIDER_S)
            found.append(_finding(rows[start:stop], first, last, level, limits))
    return found


def _finding(
    rows: NDArray[np.float64], start_s: float, end_s: float, level: Level, limits: HearingLimits
) -> Finding:
    rows = rows[rows[:, 0] >= _STAYS_DB_MIN]
    frequency_hz = float(np.median(rows[:, 1]))
    speech_dbov = level.active_speech_dbov or 0.0
    below_db = speech_dbov - 10.0 * float(np.log10(np.median(rows[:, 2])))
    heard = below_db < limits.hum_below_speech_db
    return Finding(
        kind="hum",
        start_s=start_s,
        end_s=end_s,
        severity="hear" if heard else "note",
        value=below_db,
        limit=limits.hum_below_speech_db,
        unit="dB under the voice",
        advice=f"The mains hum here, at {frequency_hz:.0f} Hz and its multiples. "
        "Listen: if it disturbs, look for a loose cable or a power supply near the microphone."
        if heard
        else f"A faint hum of the mains, at {frequency_hz:.0f} Hz and its multiples. "
        "Nothing to do for this reading.",
    )


def _lines_db(
    sound: NDArray[np.float64], starts: NDArray[np.int64], length: int, rate_hz: float
) -> NDArray[np.float64]:
    """Give spectra around each line, of the mean power of the channels."""
    window = np.hanning(length + 1)[:length]
    bin_hz = rate_hz / length
    middles = np.rint(np.outer(_FAMILIES_HZ, np.arange(1, _HARMONICS + 1)) / bin_hz).astype(
        np.int64
    )
    bins = middles[:, :, np.newaxis] + np.arange(-_NEAR_BINS, _NEAR_BINS + 1)
    power = np.zeros((starts.size, *bins.shape))
    for channel in sound:
        cut = np.lib.stride_tricks.sliding_window_view(channel, length)[starts] * window
        spectrum = np.fft.rfft(cut, axis=1)[:, bins]
        power += spectrum.real**2 + spectrum.imag**2
    power *= 2.0 / (length * np.sum(window**2) * sound.shape[0])
    return 10.0 * np.log10(np.maximum(power, 1e-20))


def _rows(steady_db: NDArray[np.float64], bin_hz: float) -> NDArray[np.float32]:
    around = np.median(steady_db, axis=3, keepdims=True)
    excess = steady_db - around
    multiples = np.arange(1, _HARMONICS + 1)
    # The bins in which the lines of each drift lie, shape (families, drifts, harmonics).
    exact = (np.array(_FAMILIES_HZ)[:, np.newaxis, np.newaxis] + _DRIFTS_HZ[:, np.newaxis]) * (
        multiples / bin_hz
    )
    nominal = np.rint(np.outer(_FAMILIES_HZ, multiples) / bin_hz)[:, np.newaxis, :]
    places = np.rint(exact - nominal).astype(np.int64) + _NEAR_BINS
    families = np.arange(len(_FAMILIES_HZ))[:, np.newaxis, np.newaxis]
    lines = excess[:, families, multiples - 1, places]
    counted = np.where(lines >= _EXCESS_DB_MIN, np.minimum(lines, _EXCESS_DB_MAX), 0.0)
    sums = (counted + 1e-3 * lines).sum(axis=3).reshape(steady_db.shape[0], -1)
    best = sums.argmax(axis=1)
    family, drift = np.divmod(best, _DRIFTS_HZ.size)
    row = np.arange(steady_db.shape[0])
    hz = np.array(_FAMILIES_HZ)[family] + _DRIFTS_HZ[drift]
    its = places[family, drift]
    power = np.maximum(10.0 ** (steady_db / 10.0) - 10.0 ** (around / 10.0), 0.0)
    near = its[:, :, np.newaxis] + np.arange(-_LINE_BINS, _LINE_BINS + 1)
    near = np.clip(near, 0, 2 * _NEAR_BINS)
    level = power[row[:, None, None], family[:, None, None], (multiples - 1)[None, :, None], near]
    level = level.sum(axis=2) * (lines[row, family, drift] >= _EXCESS_DB_MIN)
    return np.stack([sums[row, best], hz, level.sum(axis=1)], axis=1).astype(np.float32)
