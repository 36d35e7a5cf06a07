"""What is measured of a phrase start and a later one: was what they begin the same?

The stretch from one phrase start to a later one is laid along what follows the later one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.restart_alignment import columns_for, first_looks, laid_along, path_back
from quietleaf.listening.restart_melody import middle, said_alike
from quietleaf.listening.restart_rows import ROW_S, Phrase, SpeechRows

LOOK_ROWS = 40
"""0.8 s of each start are held against all others near by."""
WHOLE_ROWS = 300
"""So much of an attempt is laid along its re-read: 6 s."""
PAIR_NUMBERS = (
    "length_s",
    "matched_s",
    "rest_s",
    "matched_mean",
    "whole_mean",
    "matched_sum",
    "matched_root",
    "first_03",
    "first_05",
    "first_08",
    "first_20",
    "first_least",
    "worst_03",
    "last_03",
    "last_015",
    "again_pause_s",
    "before_pause_s",
    "again_pause_log",
    "before_pause_log",
    "apart_s",
    "phrases",
    "next_phrase_s",
    "last_phrase_s",
    "fall_db",
    "cohort_deviations",
    "cohort_best",
    "cohort_mean",
    "others_best",
    "others_mean",
    "before_likelihood",
    "again_likelihood",
    "bends",
    "tempo",
    "pause_there_s",
    "beyond_s",
    "pause_noise_db",
    "before_noise_db",
    "level_step_db",
    "shape_matched",
    "shape_05",
    "shape_whole",
    "shape_worst",
    "spoken_share",
    "centred_05",
    "centred_matched",
    "centred_whole",
    "centred_worst",
    "gain_quarter",
    "gain_share",
    "levels_alike",
    "pitch_apart_st",
    "pitch_spread_st",
    "end_pitch_st",
    "end_fall_st",
    "there_pitch_st",
    "pause_usual",
    "before_usual",
    "next_sentence_s",
    "next_ratio",
    "backwards",
    "usual_mean",
    "usual_deviation",
)
_MATCH_COST = np.float32(1.0)
_PAUSE_S_MOST = 3.0
_PROBE_ROWS = 100
_PROBE_MEAN = np.float32(0.7)
_ALIKE_ROWS = 125
"""Stretches of 2.5 s and more are as alike as this over their first 2 s, or no restarts: ours,
which loses one of a thousand and spares a third of the work."""
_LONG_ROWS = 325
_MATCHED_ROWS = 75
_USUAL_FRAMES_MIN, _USUAL_PHRASES = 20, 40
_SENTENCE_LIKELIHOOD = 0.5
_SENTENCE_S_MOST = 12.0
_BACK_ROWS = 20
"""Of 6.5 s and more at least 1.5 s must match: loses two of a thousand, spares half the work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two phrase starts, and what was measured of them.

    Attributes
    ----------
    before, again : Phrase
        The first of the attempt, and the first of what was read again.
    numbers : ndarray, shape (62,)
    """

    before: Phrase
    again: Phrase
    numbers: NDArray[np.float32]


def pair_numbers(
    rows: SpeechRows,
    phrases: Sequence[Phrase],
    before: int,
    again: int,
    horizon: int,
    cohort: NDArray[np.float32],
    others: NDArray[np.float32],
) -> NDArray[np.float32] | None:
    """Measure a pair.

    Parameters
    ----------
    before, again : int
        Which phrases begin the attempt and what was read again.
    horizon : int
        The frame up to which is known what was said.
    cohort, others : ndarray, shape (c, `LOOK_ROWS`), (o, `LOOK_ROWS`)
        Curves of the same attempt along other starts near by, and of other attempts along the
        same start.

    Returns
    -------
    numbers : ndarray, shape (62,), or None
        In the order of `PAIR_NUMBERS`. A long stretch that is soon unlike is not measured.
    """
    tried, said = phrases[before], phrases[again]
    first, stop = rows.row_at(tried.first), rows.row_at(said.first)
    length = stop - first
    count = min(length, WHOLE_ROWS)
    known = rows.row_at(horizon)
    if length > _PROBE_ROWS and not _is_promising(rows, first, stop, length, known):
        return None
    end = min(known, stop + columns_for(count))
    gains = rows.gains(slice(first, first + count), slice(stop, end))
    curve = np.empty(count, dtype=np.float32)
    ends = np.empty(count, dtype=np.int64)
    steps = np.empty(gains.shape, dtype=np.int8)
    laid_along(gains, curve, ends, steps)
    over = curve - _MATCH_COST * np.arange(1, count + 1, dtype=np.float32)
    matched = int(np.argmax(over)) + 1
    path = np.empty(count, dtype=np.float32)
    columns = np.empty(count, dtype=np.int64)
    path_back(gains, steps, count - 1, int(ends[-1]), path, columns)
    shapes = _along(rows.shapes, first, stop, columns)
    centred = _along(rows.centred, first, stop, columns)
    whole_columns = columns
    half = np.empty(matched, dtype=np.float32)
    columns = np.empty(matched, dtype=np.int64)
    bends = path_back(gains, steps, matched - 1, int(ends[matched - 1]), half, columns)
    shapes_half = _along(rows.shapes, first, stop, columns)
    centred_half = _along(rows.centred, first, stop, columns)
    firsts = [
        float(curve[min(rows_, count) - 1]) / min(rows_, count) for rows_ in (15, 25, 40, 100)
    ]
    look = min(count, LOOK_ROWS)
    score = float(curve[look - 1]) / look
    among = cohort[:, look - 1] / look if cohort.size else np.zeros(1, dtype=np.float32)
    rivals = others[:, look - 1] / look if others.size else np.zeros(1, dtype=np.float32)
    there = stop + int(ends[matched - 1])
    levels = rows.level_db
    total = float(curve[matched - 1])
    between = list(phrases[before:again])
    pause_s = min(said.pause * 0.01, _PAUSE_S_MOST)
    before_s = min(tried.pause * 0.01, _PAUSE_S_MOST)
    near = phrases[max(0, again - _USUAL_PHRASES) : again + 1]
    usual = middle(np.array([one.pause for one in near if one.pause >= _USUAL_FRAMES_MIN]))
    next_s = _sentence_s([one for one in phrases[again:] if one.first < horizon])
    pause_there_s, beyond_s = _beyond(phrases[again:], int(rows.frame[there]))
    return np.array(
        [
            length * ROW_S,
            matched * ROW_S,
            (length - matched) * ROW_S,
            total / matched,
            float(curve[-1]) / count,
            total,
            total / matched**0.5,
            *firsts,
            min(firsts[:2]),
            _worst(path),
            float(path[-15:].mean()),
            float(path[-8:].mean()),
            pause_s,
            before_s,
            np.log(pause_s),
            np.log(before_s),
            (said.first - tried.first) * 0.01,
            len(between),
            (said.stop - said.first) * 0.01,
            (between[-1].stop - between[-1].first) * 0.01,
            float(levels[stop - 4 : stop].mean() - middle(levels[first:stop])),
            (score - float(among.mean())) / (float(among.std()) + 0.15),
            score - float(among.max()),
            score - float(among.mean()),
            score - float(rivals.max()),
            score - float(rivals.mean()),
            tried.likelihood,
            said.likelihood,
            bends / matched,
            int(ends[matched - 1] + 1) / matched,
            pause_there_s,
            beyond_s,
            said.noise_db,
            tried.noise_db,
            middle(levels[stop : there + 1]) - middle(levels[first : first + matched]),
            float(shapes_half.mean()),
            float(shapes[:25].mean()),
            float(shapes.mean()),
            _worst(shapes),
            length * ROW_S / ((said.first - tried.first) * 0.01),
            float(centred[:25].mean()),
            float(centred_half.mean()),
            float(centred.mean()),
            _worst(centred),
            float(np.sort(half)[matched // 4]),
            float((half > 0.5).mean()),
            *said_alike(rows, first, stop, whole_columns, int(ends[matched - 1]), matched, length),
            float(np.log(said.pause / usual)),
            float(np.log(tried.pause / usual)),
            next_s,
            length * ROW_S / (next_s + length * ROW_S),
            _backwards(rows, first, stop),
            rows.mean,
            rows.deviation,
        ],
        dtype=np.float32,
    )


def _is_promising(rows: SpeechRows, first: int, stop: int, length: int, known: int) -> bool:
    """Say whether a long stretch is worth laying along: by its first 2 s."""
    end = min(known, stop + columns_for(_PROBE_ROWS))
    gains = rows.gains(slice(first, first + _PROBE_ROWS), slice(stop, end))[np.newaxis]
    curves = np.empty((1, _PROBE_ROWS), dtype=np.float32)
    first_looks(gains, np.array([_PROBE_ROWS]), np.array([gains.shape[2]]), curves)
    if length >= _ALIKE_ROWS and curves[0, -1] < _PROBE_MEAN * _PROBE_ROWS:
        return False
    over = curves[0] - _MATCH_COST * np.arange(1, _PROBE_ROWS + 1, dtype=np.float32)
    return length < _LONG_ROWS or int(np.argmax(over)) >= _MATCHED_ROWS


def _along(
    vectors: NDArray[np.float32], first: int, stop: int, columns: NDArray[np.int64]
) -> NDArray[np.float32]:
    """Give the products of vectors along a path; 0 before it."""
    alike: NDArray[np.float32] = np.einsum(
        "ij,ij->i", vectors[first : first + columns.size], vectors[stop + np.maximum(columns, 0)]
    )
    alike[columns < 0] = 0.0
    return alike


def _worst(path: NDArray[np.float32]) -> float:
    """Give the lowest mean over 0.3 s."""
    if path.size <= 15:
        return float(path.mean())
    sums = np.cumsum(np.concatenate([[0.0], path]))
    return float((sums[15:] - sums[:-15]).min() / 15)


def _beyond(phrases: Sequence[Phrase], frame: int) -> tuple[float, float]:
    """Say how long the pause is where the attempt ended, if there is one, and what is said on."""
    for phrase, following in zip(phrases, [*phrases[1:], None], strict=True):
        if frame < phrase.stop - 12:
            return 0.0, min((phrase.stop - frame) * 0.01, 5.0)
        if frame < phrase.stop + 1:
            pause_s = following.pause * 0.01 if following is not None else 1.0
            return min(pause_s, _PAUSE_S_MOST), (phrase.stop - frame) * 0.01
    return 1.0, 0.0


def _sentence_s(phrases: Sequence[Phrase]) -> float:
    """Say how long is spoken until another sentence is likely to begin."""
    spoken = 0
    for index, phrase in enumerate(phrases):
        if index and phrase.likelihood >= _SENTENCE_LIKELIHOOD:
            break
        spoken += phrase.stop - phrase.first
    return min(spoken * 0.01, _SENTENCE_S_MOST)


def _backwards(rows: SpeechRows, first: int, stop: int) -> float:
    """Say how alike is what was said before either start."""
    count = min(_BACK_ROWS, first)
    if count < _BACK_ROWS // 2:
        return 0.0
    gains = rows.gains(slice(first - count, first), slice(max(0, stop - count - 8), stop))
    curves = np.empty((1, count), dtype=np.float32)
    back = np.ascontiguousarray(gains[::-1, ::-1])[np.newaxis]
    first_looks(back, np.array([count]), np.array([back.shape[2]]), curves)
    return float(curves[0, -1]) / count
