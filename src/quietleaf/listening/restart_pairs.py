"""What is measured of a phrase start and a later one: was what they begin the same?

The stretch from one phrase start to a later one is laid along what follows the later one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from statistics import median

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.restart_alignment import columns_for, first_look
from quietleaf.listening.restart_measures import LOOK_ROWS, MATCH_COST, MEASURES, measure_along
from quietleaf.listening.restart_rows import ROW_S, Phrase, SpeechRows

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
_PAUSE_S_MOST = 3.0
_PROBE_ROWS = 100
_PROBE_MEAN = np.float32(0.7)
_MATCHED_COSTS = MATCH_COST * np.arange(1, _PROBE_ROWS + 1, dtype=np.float32)
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
    measures = np.empty(len(MEASURES))
    measure_along(
        rows.gains(slice(first, first + count), slice(stop, end)),
        rows.shapes,
        rows.centred,
        rows.level_db,
        rows.pitch_st,
        first,
        stop,
        measures,
    )
    of = dict(zip(MEASURES, measures.tolist(), strict=True))
    matched, end_column, total, score = (
        of["matched"],
        of["matched_end"],
        of["total"],
        of["look_mean"],
    )
    look = min(count, LOOK_ROWS)
    among = cohort[:, look - 1] / look if cohort.size else np.zeros(1, dtype=np.float32)
    rivals = others[:, look - 1] / look if others.size else np.zeros(1, dtype=np.float32)
    between = list(phrases[before:again])
    pause_s = min(said.pause * 0.01, _PAUSE_S_MOST)
    before_s = min(tried.pause * 0.01, _PAUSE_S_MOST)
    near = phrases[max(0, again - _USUAL_PHRASES) : again + 1]
    usual = median(one.pause for one in near if one.pause >= _USUAL_FRAMES_MIN)
    next_s = _sentence_s([one for one in phrases[again:] if one.first < horizon])
    pause_there_s, beyond_s = _beyond(phrases[again:], int(rows.frame[stop + int(end_column)]))
    of |= {
        "length_s": length * ROW_S,
        "matched_s": matched * ROW_S,
        "rest_s": (length - matched) * ROW_S,
        "matched_mean": total / matched,
        "matched_sum": total,
        "matched_root": total / matched**0.5,
        "first_least": min(of["first_03"], of["first_05"]),
        "again_pause_s": pause_s,
        "before_pause_s": before_s,
        "again_pause_log": log(pause_s),
        "before_pause_log": log(before_s),
        "apart_s": (said.first - tried.first) * 0.01,
        "phrases": len(between),
        "next_phrase_s": (said.stop - said.first) * 0.01,
        "last_phrase_s": (between[-1].stop - between[-1].first) * 0.01,
        "cohort_deviations": (score - float(among.mean())) / (float(among.std()) + 0.15),
        "cohort_best": score - float(among.max()),
        "cohort_mean": score - float(among.mean()),
        "others_best": score - float(rivals.max()),
        "others_mean": score - float(rivals.mean()),
        "before_likelihood": tried.likelihood,
        "again_likelihood": said.likelihood,
        "bends": of["bends"] / matched,
        "tempo": (end_column + 1) / matched,
        "pause_there_s": pause_there_s,
        "beyond_s": beyond_s,
        "pause_noise_db": said.noise_db,
        "before_noise_db": tried.noise_db,
        "spoken_share": length * ROW_S / ((said.first - tried.first) * 0.01),
        "pause_usual": log(said.pause / usual),
        "before_usual": log(tried.pause / usual),
        "next_sentence_s": next_s,
        "next_ratio": length * ROW_S / (next_s + length * ROW_S),
        "backwards": _backwards(rows, first, stop),
        "usual_mean": rows.mean,
        "usual_deviation": rows.deviation,
    }
    return np.array([of[name] for name in PAIR_NUMBERS], dtype=np.float32)


def _is_promising(rows: SpeechRows, first: int, stop: int, length: int, known: int) -> bool:
    """Say whether a long stretch is worth laying along: by its first 2 s."""
    end = min(known, stop + columns_for(_PROBE_ROWS))
    curve = np.empty(_PROBE_ROWS, dtype=np.float32)
    first_look(rows.gains(slice(first, first + _PROBE_ROWS), slice(stop, end)), curve)
    if length >= _ALIKE_ROWS and curve[-1] < _PROBE_MEAN * _PROBE_ROWS:
        return False
    return length < _LONG_ROWS or int(np.argmax(curve - _MATCHED_COSTS)) >= _MATCHED_ROWS


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
    curve = np.empty(count, dtype=np.float32)
    first_look(np.ascontiguousarray(gains[::-1, ::-1]), curve)
    return float(curve[-1]) / count
