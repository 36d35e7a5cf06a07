"""Noises under words: stretches of speech that hold what a voice alone does not.

A unit of sound is told as what is loudest in it, and of most words the word is louder. So speech
is looked at once more in short windows: noise fills the gaps between harmonics, lasts through a
stop, crackles inside a vowel, or has highs that this reader's vowels never have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.segment_features import crackle_of, flux_of, roughness_of
from quietleaf.listening.segments import SoundWindow
from quietleaf.listening.sound_kind_names import NOISE_KINDS
from quietleaf.listening.spectra import BANDS
from quietleaf.listening.trees import shares_of, tree_scores, unpacked
from quietleaf.listening.under_numbers import KIND_TREES, TREES
from quietleaf.sound.compiled import kernel

WINDOW_FRAMES = 16
HOP_FRAMES = 8
ACTIVE_SHARE_MIN = 0.7
OVER_FLOOR_DB, UNDER_TOP_DB = 6.0, 38.0
KEPT_LIKELIHOOD = 0.6
VOICED_MIN = 0.6
_USUAL_VOICED_MIN = 0.7
_USUAL_UNDER_TOP_DB = 15.0
_USUAL_EVERY = 5
_USUAL_COUNT_MIN = 10
_BANDS_UNDER_TOP_DB = 70.0
_CRACKLE_DB = 8.0
_NO_VOICE_DB = -99.0
_SOME_MELS = (0, 3, 6, 10, 14, 18, 21, 23)
_PLAIN = 22
_OF_BANDS = 4 * BANDS
_VOICED = BANDS + 3
_PITCH = 2
_OF_MELS = 3 + len(_SOME_MELS)
_COMPARED = (0, 4, 9, 11, 14)
"""Of the features: the peak, voicing, roughness, flux, crackle."""
_OWN = _PLAIN + _OF_BANDS + _VOICED + _PITCH + _OF_MELS
FEATURES = _OWN + 2 * len(_COMPARED)
_TREES, _KIND_TREES = unpacked(TREES), unpacked(KIND_TREES)


@dataclass(frozen=True, slots=True, kw_only=True)
class DisturbedWindows:
    """Windows of 16 frames, in order, that may hold a noise.

    Attributes
    ----------
    start : ndarray, shape (w,), int64
        Frames of 10 ms.
    likelihood : ndarray, shape (w,), float32
        At least `KEPT_LIKELIHOOD`.
    shares : ndarray, shape (w, 5), float32
        If so, how likely it is each of `NOISE_KINDS`.
    over_top_db : ndarray, shape (w,), float32
        The peak against the reader's usual top.
    """

    start: NDArray[np.int64]
    likelihood: NDArray[np.float32]
    shares: NDArray[np.float32]
    over_top_db: NDArray[np.float32]


def disturbed_windows(window: SoundWindow) -> DisturbedWindows:
    """Find those that begin in the chunk that is asked for."""
    starts, features = window_features(window)
    scores = tree_scores(features, _TREES)
    likelihood = shares_of(scores)[:, 0] if starts.size else np.empty(0, dtype=np.float32)
    kept = likelihood >= KEPT_LIKELIHOOD
    return DisturbedWindows(
        start=starts[kept] + window.first,
        likelihood=likelihood[kept],
        shares=shares_of(tree_scores(features[kept], _KIND_TREES)),
        over_top_db=features[kept, 0],
    )


def joined_windows(chunks: Sequence[DisturbedWindows]) -> DisturbedWindows:
    """Put the windows of successive chunks into one; of none, none."""
    none = np.empty(0, dtype=np.float32)
    return DisturbedWindows(
        start=np.concatenate([none.astype(np.int64), *(one.start for one in chunks)]),
        likelihood=np.concatenate([none, *(one.likelihood for one in chunks)]),
        shares=np.concatenate(
            [np.empty((0, len(NOISE_KINDS)), dtype=np.float32), *(one.shares for one in chunks)]
        ),
        over_top_db=np.concatenate([none, *(one.over_top_db for one in chunks)]),
    )


def window_features(window: SoundWindow) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
    """Describe the windows that begin in the chunk that is asked for and hold sound throughout.

    Returns
    -------
    starts : ndarray, shape (w,), int64
        Counted from the first frame of ``window``.
    features : ndarray, shape (w, `FEATURES`), float32
        Levels; voicing; shape in time; crackle; twelve bands against their loudest, the same
        against this reader's vowels, over the room's, against the loudest there is; of voiced
        frames, how far bands stand over what this reader's vowels have; pitch; mels, and what is
        least of some in the window; last, how far some of these differ from the windows before
        and after.
    """
    begin, end = window.asked
    level = window.level_dbov
    active = (level > window.floor_dbov + OVER_FLOOR_DB) & (level > window.top_dbov - UNDER_TOP_DB)
    grid = np.arange(0, level.size - WINDOW_FRAMES + 1, HOP_FRAMES)
    counts = np.concatenate([[0], np.cumsum(active)])
    share = (counts[grid + WINDOW_FRAMES] - counts[grid]) / WINDOW_FRAMES
    near = (grid >= begin - WINDOW_FRAMES) & (grid < end + WINDOW_FRAMES)
    described = grid[(share >= ACTIVE_SHARE_MIN) & near]
    least = np.float32(window.top_dbov - _BANDS_UNDER_TOP_DB)
    bands = np.maximum(window.bands_dbov, least)
    mels = np.maximum(window.mels_dbov, least - np.float32(10.0))
    quarters = np.maximum(window.quarters_db, window.quarters_db.max() - np.float32(90.0))
    flux = flux_of(mels)
    usual = _usual(window, bands, flux, active)
    own = np.empty((described.size, _OWN), dtype=np.float32)
    _describe(
        described,
        window.raw_dbov,
        window.floor_dbov,
        np.float32(window.top_dbov),
        window.low_dbov,
        window.periodic,
        window.pitch_hz,
        bands,
        mels,
        crackle_of(quarters),
        flux,
        roughness_of(window.raw_dbov),
        usual,
        np.array(_SOME_MELS),
        own,
    )
    features = np.concatenate([own, _compared(described, own)], axis=1)
    asked = (described >= begin) & (described < end)
    return described[asked], features[asked]


def _usual(
    window: SoundWindow,
    bands: NDArray[np.float32],
    flux: NDArray[np.float32],
    active: NDArray[np.bool_],
) -> NDArray[np.float32]:
    """Give what is usual: of vowels, median and 90th percentile; room; loudest; flux, voicing."""
    raw = window.raw_dbov
    some = np.zeros(raw.size, dtype=np.bool_)
    some[::_USUAL_EVERY] = True
    loud = some & (raw > window.top_dbov - _USUAL_UNDER_TOP_DB)
    vowels = loud & (window.periodic > _USUAL_VOICED_MIN)
    if np.count_nonzero(vowels) < _USUAL_COUNT_MIN:
        vowels = loud if loud.any() else some
    sounding = some & active if (some & active).any() else some
    shape = bands[vowels] - raw[vowels, np.newaxis]
    usual = np.zeros((5, BANDS), dtype=np.float32)
    usual[0] = _ranked(shape, 0.5)
    usual[1] = _ranked(shape, 0.9)
    usual[2] = _ranked(bands[some], 0.1)
    usual[3] = _ranked(bands[sounding], 0.97)
    usual[4, 0] = _ranked(flux[sounding], 0.5)
    usual[4, 1] = _ranked(window.periodic[vowels], 0.5)
    return usual


def _ranked(values: NDArray[np.float32], share: float) -> NDArray[np.float32]:
    rank = int(share * (values.shape[0] - 1))
    # Along rows that lie one after the other this takes a third of the time.
    found: NDArray[np.float32] = np.partition(np.ascontiguousarray(values.T), rank)[..., rank]
    return found


def _compared(starts: NDArray[np.int64], own: NDArray[np.float32]) -> NDArray[np.float32]:
    """Give differences to the windows next to each; 0 where there is none."""
    columns = []
    for apart in (-WINDOW_FRAMES, WINDOW_FRAMES):
        at = np.searchsorted(starts, starts + apart)
        there = np.minimum(at, max(starts.size - 1, 0))
        met = starts[there] == starts + apart if starts.size else np.empty(0, dtype=np.bool_)
        for feature in _COMPARED:
            columns.append(np.where(met, own[:, feature] - own[there, feature], np.float32(0.0)))
    return np.stack(columns, axis=1).astype(np.float32)


@kernel
def _describe(
    starts: NDArray[np.int64],
    raw: NDArray[np.float32],
    floor: NDArray[np.float32],
    top: np.float32,
    low: NDArray[np.float32],
    periodic: NDArray[np.float32],
    pitch_hz: NDArray[np.float32],
    bands: NDArray[np.float32],
    mels: NDArray[np.float32],
    crackle: NDArray[np.float32],
    flux: NDArray[np.float32],
    rough: NDArray[np.float32],
    usual: NDArray[np.float32],
    some_mels: NDArray[np.int64],
    features: NDArray[np.float32],
) -> None:
    count = bands.shape[1]
    mel_count = mels.shape[1]
    shape = np.zeros(mel_count)
    # Windows overlap: each frame's powers are worked out once.
    powers = np.empty((bands.shape[0], count))
    done = 0
    for index in range(starts.size):
        a = starts[index]
        b = a + WINDOW_FRAMES
        for i in range(max(a, done), b):
            for k in range(count):
                powers[i, k] = 10.0 ** (bands[i, k] / 10.0)
        done = b
        row = features[index]
        row[:] = 0.0
        peak, least, rise, fall = raw[a], raw[a], np.float32(-200.0), np.float32(200.0)
        most_rough, most_flux = np.float32(0.0), np.float32(0.0)
        most, second, many, crackles = np.float32(0.0), np.float32(0.0), 0, 0.0
        voiced, most_per, least_per = 0, np.float32(0.0), np.float32(1.0)
        level, per, roughness, change, lows = 0.0, 0.0, 0.0, 0.0, 0.0
        for i in range(a, b):
            peak = max(peak, raw[i])
            least = min(least, raw[i])
            level += raw[i]
            per += periodic[i]
            most_per = max(most_per, periodic[i])
            least_per = min(least_per, periodic[i])
            roughness += rough[i]
            most_rough = max(most_rough, rough[i])
            change += flux[i]
            most_flux = max(most_flux, flux[i])
            lows += low[i]
            if periodic[i] > VOICED_MIN:
                voiced += 1
            if i > a:
                rise = max(rise, raw[i] - raw[i - 1])
                fall = min(fall, raw[i] - raw[i - 1])
            here = np.float32(0.0)
            for q in range(4):
                here = max(here, crackle[i, q])
            crackles += float(here)
            if here > _CRACKLE_DB:
                many += 1
            if here > most:
                second = most
                most = here
            elif here > second:
                second = here
        weighted, weights = 0.0, 0.0
        for i in range(a, b):
            weight = max(raw[i] - peak + 30.0, 0.0) + 0.001
            weighted += weight * periodic[i]
            weights += weight
        level /= WINDOW_FRAMES
        per /= WINDOW_FRAMES
        change /= WINDOW_FRAMES
        row[0] = peak - top
        row[1] = level - top
        row[2] = least - top
        row[3] = peak - floor[a + WINDOW_FRAMES // 2]
        row[4] = per
        row[5] = most_per
        row[6] = least_per
        row[7] = voiced / WINDOW_FRAMES
        row[8] = weighted / weights
        row[9] = roughness / WINDOW_FRAMES
        row[10] = most_rough
        row[11] = change
        row[12] = most_flux
        row[13] = change - usual[4, 0]
        row[14] = most
        row[15] = second
        row[16] = many / WINDOW_FRAMES
        row[17] = crackles / WINDOW_FRAMES
        row[18] = lows / WINDOW_FRAMES - level
        row[19] = rise
        row[20] = fall
        row[21] = per - usual[4, 1]
        f = _PLAIN

        loudest = np.float32(-200.0)
        for k in range(count):
            power = 0.0
            for i in range(a, b):
                power += powers[i, k]
            row[f + k] = 10.0 * np.log10(power / WINDOW_FRAMES)
            loudest = max(loudest, row[f + k])
        vowel = usual[0].max()
        for k in range(count):
            band = row[f + k]
            row[f + k] = band - loudest
            row[f + count + k] = band - loudest - usual[0, k] + vowel
            row[f + 2 * count + k] = band - usual[2, k]
            row[f + 3 * count + k] = band - usual[3, k]
        f += 4 * count

        for k in range(count + 3):
            row[f + k] = _NO_VOICE_DB
        if voiced > 0:
            mean_high, mean_middle, most_high = 0.0, 0.0, -200.0
            for k in range(count):
                over = np.float32(-200.0)
                for i in range(a, b):
                    if periodic[i] > VOICED_MIN:
                        over = max(over, bands[i, k] - raw[i])
                row[f + k] = over - usual[1, k]
            for i in range(a, b):
                if periodic[i] > VOICED_MIN:
                    under = _most(bands, i, 2, 5)
                    high = _most(bands, i, 8, count) - under
                    mean_high += high
                    mean_middle += _most(bands, i, 5, 8) - under
                    most_high = max(most_high, high)
            row[f + count] = most_high
            row[f + count + 1] = mean_high / voiced
            row[f + count + 2] = mean_middle / voiced
        f += count + 3

        row[f] = -1.0
        row[f + 1] = -1.0
        if voiced > 2:
            mean, square, jump, before = 0.0, 0.0, 0.0, 0.0
            for i in range(a, b):
                if periodic[i] > VOICED_MIN:
                    octave = np.log2(pitch_hz[i])
                    mean += octave
                    square += octave * octave
                    if before > 0.0:
                        jump = max(jump, abs(octave - before))
                    before = octave
            mean /= voiced
            row[f] = np.sqrt(max(square / voiced - mean * mean, 0.0))
            row[f + 1] = jump
        f += 2

        crest, whole, bend, twice = -200.0, 0.0, 0.0, 0.0
        for m in range(mel_count):
            shape[m] = 0.0
            for i in range(a, b):
                shape[m] += mels[i, m]
            shape[m] /= WINDOW_FRAMES
            crest = max(crest, shape[m])
            whole += shape[m]
        for m in range(1, mel_count):
            bend += abs(shape[m] - shape[m - 1])
            if m > 1:
                twice += abs(shape[m] - 2.0 * shape[m - 1] + shape[m - 2])
        row[f] = crest - whole / mel_count
        row[f + 1] = bend / (mel_count - 1)
        row[f + 2] = twice / (mel_count - 2)
        for k in range(some_mels.size):
            quiet = np.float32(200.0)
            for i in range(a, b):
                quiet = min(quiet, mels[i, some_mels[k]])
            row[f + 3 + k] = quiet - top


@kernel
def _most(bands: NDArray[np.float32], frame: int, start: int, stop: int) -> float:
    most = float(bands[frame, start])
    for k in range(start + 1, stop):
        most = max(most, float(bands[frame, k]))
    return most
