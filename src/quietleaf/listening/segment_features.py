"""What tells units of sound apart: level, shape, voicing, crackle, and what lies around them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.segments import PERIODIC_MIN, SoundWindow, Units
from quietleaf.listening.spectra import BANDS
from quietleaf.sound.compiled import kernel

PLAIN = 59
FEATURES = PLAIN + 3 * BANDS
LEAST_UNDER_TOP_DB = 70.0
"""Bands weaker than this are as good as empty."""
VOICE_UNDER_TOP_DB = 12.0
NEAR_FRAMES = 30
AROUND_FRAMES = 50
FAR_FRAMES = 100
CRACKLE_DB = 8.0
VOICED_MIN = 0.55
BAND_FLOOR_SHARE = 0.1
BAND_FLOOR_EVERY = 5


def unit_features(window: SoundWindow, units: Units) -> NDArray[np.float32]:
    """Describe each unit, shape (u, `FEATURES`).

    Notes
    -----
    In order: length; levels against top and floor; shape in time; voicing; spectrum; crackle of
    quarters; the segment and what is around; then three times twelve bands: against the unit's own
    sum, against the voice's shape, over the room's.
    """
    least = window.top_dbov - LEAST_UNDER_TOP_DB
    bands = np.maximum(window.bands_dbov, np.float32(least))
    mels = np.maximum(window.mels_dbov, np.float32(least - 10.0))
    # Below this lies digital silence, against which all would crackle.
    quarters = np.maximum(window.quarters_db, window.quarters_db.max() - np.float32(90.0))
    voice, room = _usual_bands(window, bands)
    features = np.empty((units.start.size, FEATURES), dtype=np.float32)
    _describe(
        units.start,
        units.stop,
        units.segment_start,
        units.segment_stop,
        window.raw_dbov,
        window.level_dbov,
        window.floor_dbov,
        window.top_dbov,
        window.low_dbov,
        quarters,
        mels,
        bands,
        window.periodic,
        window.pitch_hz,
        voice,
        room,
        features,
    )
    return features


def _usual_bands(
    window: SoundWindow, bands: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    loud = (window.raw_dbov > window.top_dbov - VOICE_UNDER_TOP_DB) & (
        window.periodic > PERIODIC_MIN
    )
    spoken = bands[loud] if loud.any() else bands
    voice = (spoken - spoken.max(axis=1, keepdims=True)).mean(axis=0)
    some = bands[::BAND_FLOOR_EVERY]
    room = np.partition(some, int(BAND_FLOOR_SHARE * some.shape[0]), axis=0)
    return voice, room[int(BAND_FLOOR_SHARE * some.shape[0])].copy()


@kernel
def _describe(
    starts: NDArray[np.int64],
    stops: NDArray[np.int64],
    segment_starts: NDArray[np.int64],
    segment_stops: NDArray[np.int64],
    raw: NDArray[np.float32],
    level: NDArray[np.float32],
    floor: NDArray[np.float32],
    top: float,
    low: NDArray[np.float32],
    quarters: NDArray[np.float32],
    mels: NDArray[np.float32],
    bands: NDArray[np.float32],
    periodic: NDArray[np.float32],
    pitch_hz: NDArray[np.float32],
    voice: NDArray[np.float32],
    room: NDArray[np.float32],
    features: NDArray[np.float32],
) -> None:
    frames = raw.size
    crackle = crackle_of(quarters)
    flux = flux_of(mels)
    rough = roughness_of(raw)
    for unit in range(starts.size):
        a, b = starts[unit], stops[unit]
        row = features[unit]
        row[:] = 0.0
        f = 0

        # Levels.
        peak = np.float32(-200.0)
        peak_at = a
        power = 0.0
        for i in range(a, b):
            if level[i] > peak:
                peak = level[i]
                peak_at = i
            power += 10.0 ** (raw[i] / 10.0)
        mean = 10.0 * np.log10(power / (b - a))
        here = floor[(a + b) // 2]
        row[f] = (b - a) / 100.0
        row[f + 1] = peak - top
        row[f + 2] = mean - top
        row[f + 3] = peak - here
        row[f + 4] = mean - here
        row[f + 5] = (peak_at - a) / (b - a)
        f += 6

        # Shape in time.
        rise = np.float32(0.0)
        fall = np.float32(0.0)
        for i in range(max(a - 2, 1), min(b + 2, frames)):
            step = raw[i] - raw[i - 1]
            rise = max(rise, step)
            fall = min(fall, step)
        row[f] = rise
        row[f + 1] = fall
        row[f + 2] = _mean(rough, a, b)
        row[f + 3] = (level[b - 1] - level[a]) / (b - a)
        row[f + 4] = _mean(level, a, min(a + 3, b)) - mean
        row[f + 5] = _mean(level, max(b - 3, a), b) - mean
        f += 6

        # Voicing.
        weighted = 0.0
        most = np.float32(0.0)
        voiced = 0
        pitch, pitch_squares = 0.0, 0.0
        for i in range(a, b):
            weighted += periodic[i] * 10.0 ** (raw[i] / 10.0)
            most = max(most, periodic[i])
            if periodic[i] > VOICED_MIN:
                voiced += 1
                octaves = np.log2(pitch_hz[i])
                pitch += octaves
                pitch_squares += octaves * octaves
        row[f] = _mean(periodic, a, b)
        row[f + 1] = weighted / power
        row[f + 2] = most
        row[f + 3] = voiced / (b - a)
        row[f + 4] = _mean(low, a, b) - _mean(raw, a, b)
        if voiced > 0:
            pitch /= voiced
            row[f + 5] = pitch
            row[f + 6] = np.sqrt(max(pitch_squares / voiced - pitch * pitch, 0.0))
        f += 7

        # Spectrum: flux, crest, flatness, centre and spread of the mels.
        row[f] = _mean(flux, a, b)
        row[f + 1] = flux[a:b].max()
        row[f + 2] = flux[max(a - 2, 0) : a + 2].max()
        shape = np.zeros(mels.shape[1])
        for i in range(a, b):
            for m in range(mels.shape[1]):
                shape[m] += mels[i, m]
        shape /= b - a
        row[f + 3] = shape.max() - shape.mean()
        total, centre, square = 0.0, 0.0, 0.0
        bend = 0.0
        for m in range(mels.shape[1]):
            share = 10.0 ** ((shape[m] - shape.max()) / 10.0)
            total += share
            centre += share * m
            square += share * m * m
            if m > 0:
                bend += abs(shape[m] - shape[m - 1])
        centre /= total
        row[f + 4] = centre
        row[f + 5] = np.sqrt(max(square / total - centre * centre, 0.0))
        row[f + 6] = bend / mels.shape[1]
        f += 7

        # Crackle.
        count = 0
        most = np.float32(0.0)
        second = np.float32(0.0)
        highest = np.float32(-200.0)
        mean_quarter = 0.0
        for i in range(a, b):
            for q in range(4):
                value = crackle[i, q]
                mean_quarter += quarters[i, q]
                highest = max(highest, quarters[i, q])
                if value > CRACKLE_DB:
                    count += 1
                if value > most:
                    second = most
                    most = value
                elif value > second:
                    second = value
        row[f] = count / (b - a)
        row[f + 1] = most
        row[f + 2] = second
        row[f + 3] = highest - mean_quarter / (4 * (b - a))
        width = 0
        for i in range(a, b):
            for q in range(4):
                if quarters[i, q] > highest - 10.0:
                    width += 1
        row[f + 4] = width
        f += 5

        # The segment.
        c, d = segment_starts[unit], segment_stops[unit]
        row[f] = (d - c) / 100.0
        row[f + 1] = (a - c) / 100.0
        row[f + 2] = (d - b) / 100.0
        row[f + 3] = level[c:d].max() - top
        row[f + 4] = _voiced_share(periodic, c, d)
        row[f + 5] = _mean(rough, c, d)
        row[f + 6] = _crackles(crackle, c, d)
        row[f + 7] = _mean(flux, c, d)
        f += 8

        # Around it.
        before, after = max(a - NEAR_FRAMES, 0), min(b + NEAR_FRAMES, frames)
        row[f] = (level[before:a].max() if a > before else here) - peak
        row[f + 1] = (level[b:after].max() if after > b else here) - peak
        row[f + 2] = _loudest_voiced(level, periodic, top, before, a)
        row[f + 3] = _loudest_voiced(level, periodic, top, b, after)
        row[f + 4] = _gap(level, floor, periodic, top, a - 1, -1) / 100.0
        row[f + 5] = _gap(level, floor, periodic, top, b, 1) / 100.0
        begin, end = max(a - AROUND_FRAMES, 0), min(b + AROUND_FRAMES, frames)
        row[f + 6] = _mean(rough, begin, end)
        row[f + 7] = _crackles(crackle, begin, end)
        row[f + 8] = _voiced_share(periodic, begin, end)
        row[f + 9] = _mean(flux, begin, end)
        row[f + 10] = _mean(level, begin, end) - top
        far, further = max(a - FAR_FRAMES, 0), min(b + FAR_FRAMES, frames)
        row[f + 11] = _voiced_share(periodic, far, a)
        row[f + 12] = _voiced_share(periodic, b, further)
        row[f + 13] = _loudest_voiced(level, periodic, top, far, a)
        row[f + 14] = _loudest_voiced(level, periodic, top, b, further)
        row[f + 15] = _mean(level, far, a) - here if a > far else 0.0
        row[f + 16] = _mean(level, b, further) - here if further > b else 0.0
        row[f + 17] = top - here
        row[f + 18] = level[max(a - 2, 0)] - here
        row[f + 19] = level[min(b + 1, frames - 1)] - here
        f += 20

        # Bands.
        for k in range(bands.shape[1]):
            band = 0.0
            for i in range(a, b):
                band += 10.0 ** (bands[i, k] / 10.0)
            row[PLAIN + k] = 10.0 * np.log10(band / (b - a))
        loudest = row[PLAIN : PLAIN + bands.shape[1]].max()
        for k in range(bands.shape[1]):
            band = row[PLAIN + k]
            row[PLAIN + k] = band - loudest
            row[PLAIN + bands.shape[1] + k] = band - loudest - voice[k]
            row[PLAIN + 2 * bands.shape[1] + k] = band - room[k]


@kernel
def _mean(values: NDArray[np.float32], start: int, stop: int) -> float:
    total = 0.0
    for i in range(start, stop):
        total += values[i]
    return total / max(stop - start, 1)


@kernel
def _voiced_share(periodic: NDArray[np.float32], start: int, stop: int) -> float:
    count = 0
    for i in range(start, stop):
        if periodic[i] > VOICED_MIN:
            count += 1
    return count / max(stop - start, 1)


@kernel
def _crackles(crackle: NDArray[np.float32], start: int, stop: int) -> float:
    count = 0
    for i in range(start, stop):
        for q in range(4):
            if crackle[i, q] > CRACKLE_DB:
                count += 1
    return count / max(stop - start, 1)


@kernel
def crackle_of(quarters: NDArray[np.float32]) -> NDArray[np.float32]:
    """By how much each quarter stands over the mean of those 7.5 to 15 ms away on both sides."""
    flat = quarters.reshape(-1)
    found = np.zeros_like(flat)
    for i in range(6, flat.size - 6):
        before = (flat[i - 6] + flat[i - 5] + flat[i - 4] + flat[i - 3]) / 4.0
        after = (flat[i + 3] + flat[i + 4] + flat[i + 5] + flat[i + 6]) / 4.0
        if flat[i] >= flat[i - 1] and flat[i] >= flat[i + 1]:
            found[i] = flat[i] - max(before, after)
    return found.reshape(quarters.shape)


@kernel
def flux_of(mels: NDArray[np.float32]) -> NDArray[np.float32]:
    found = np.zeros(mels.shape[0], dtype=np.float32)
    for i in range(1, mels.shape[0]):
        total = np.float32(0.0)
        for m in range(mels.shape[1]):
            total += abs(mels[i, m] - mels[i - 1, m])
        found[i] = total / mels.shape[1]
    return found


@kernel
def roughness_of(raw: NDArray[np.float32]) -> NDArray[np.float32]:
    found = np.zeros(raw.size, dtype=np.float32)
    for i in range(1, raw.size - 1):
        found[i] = abs(raw[i] - (raw[i - 1] + raw[i + 1]) / 2.0)
    return found


@kernel
def _loudest_voiced(
    level: NDArray[np.float32],
    periodic: NDArray[np.float32],
    top: float,
    start: int,
    stop: int,
) -> float:
    """Against the top, at least -60 dB."""
    found = top - 60.0
    for i in range(start, stop):
        if periodic[i] > VOICED_MIN and level[i] > found:
            found = level[i]
    return found - top


@kernel
def _gap(
    level: NDArray[np.float32],
    floor: NDArray[np.float32],
    periodic: NDArray[np.float32],
    top: float,
    begin: int,
    way: int,
) -> int:
    """Frames to the nearest loud voiced sound, at most `FAR_FRAMES`."""
    i = begin
    for gone in range(FAR_FRAMES):
        if i < 0 or i >= level.size:
            return FAR_FRAMES
        if periodic[i] > 0.6 and level[i] > max(floor[i] + 9.0, top - 21.0):
            return gone
        i += way
    return FAR_FRAMES
