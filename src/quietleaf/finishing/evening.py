"""The voice made even: one constant gain a sentence, moved inside the pauses.

Nothing pumps: the room tone between two words of a sentence keeps its level to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.pauses import Island
from quietleaf.finishing.plan import RATE_HZ, Sentence
from quietleaf.finishing.survey import FRAME_SAMPLES, Survey
from quietleaf.listening.structure import active_power

_ACTIVE_DB = 14.0
_OFFSET_DB = -0.691
WHOLE_WEIGHT_S = 1.5
"""Shorter sentences are moved by less: they say less about the voice."""
SPAN_DB_MOST = 12.0
SENTENCE_DB_MOST = 4.0
SENTENCE_SHARE = 0.7
UNEVEN_LU = 1.5
"""A span whose sentences spread by more is drawn together; else only what leaves +-1 LU moves."""
DEAD_BAND_LU = 1.0
SPAN_DEAD_BAND_LU = 1.5
"""Two excerpts of one untouched reader differ by as much."""
_NOT_READ_LU = 10.0
_STRAY_LU = 8.0
"""A murmur or a shout so far from the rest says nothing about the voice of its span."""
_BLIND_SENTENCES = 4
_BLIND_STEP_LU = 2.5
_BLIND_NEIGHBOUR_LU = 2.0
_JOIN_SENTENCES = 3
_SHORT_SPAN_S = 8.0
_FAR_READER_LU = 14.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Span:
    start: int
    stop: int
    loudness: float
    spread: float
    length_s: float


def even_sentences(
    survey: Survey,
    islands: tuple[Island, ...],
    span_starts: tuple[int, ...] = (),
    joins: tuple[int, ...] = (),
) -> tuple[Sentence, ...]:
    """Give each sentence its gain.

    Parameters
    ----------
    islands : tuple of Island
        Stretches of speech between pauses.
    span_starts : tuple of int
        Samples where another take or another reader begins, as far as the timeline tells.
        Others are found by their level.
    joins : tuple of int
        Samples where spans meet: readers move where they stop, so a step that is found near one
        began there.

    Returns
    -------
    sentences : tuple of Sentence
        Loudness is K-weighted, of the 20 ms frames within 14 dB of their 95th percentile.

    Notes
    -----
    With M the loudness of a span (one take, one reader) and L of a sentence in it,
    ``gain = clip(target - M, 12) - clip(k w (L - M), 4)``, w = min(1, length / 1.5 s). Where the
    sentences of a span spread by over 1.5 LU, k = 0.7; else a good reader's own expression is
    kept and only what lies more than 1 LU off is brought back to 1 LU. Spans that are all within
    1.5 LU of each other are left where they are.
    """
    loudness = np.array([_loudness(survey, island) for island in islands])
    lengths = np.array([(one.stop - one.start) * FRAME_SAMPLES / RATE_HZ for one in islands])
    spans = _spans(islands, loudness, lengths, span_starts, joins)
    near = np.abs(loudness - _middle(loudness, lengths)) < _FAR_READER_LU
    whole = _mean_loudness(loudness[near], lengths[near])
    apart = max(span.loudness for span in spans) - min(span.loudness for span in spans)
    sentences = []
    for span in spans:
        shift = float(np.clip(whole - span.loudness, -SPAN_DB_MOST, SPAN_DB_MOST))
        if apart <= SPAN_DEAD_BAND_LU:
            shift = 0.0
        for index in range(span.start, span.stop):
            own, reason = _own_gain(span, float(loudness[index]), float(lengths[index]))
            if shift:
                reason = f"{reason}; its span is moved by {shift:+.1f} dB"
            sentences.append(
                Sentence(
                    start=islands[index].start * FRAME_SAMPLES,
                    stop=islands[index].stop * FRAME_SAMPLES,
                    loudness_lufs=round(float(loudness[index]), 2),
                    gain_db=round(shift + own, 2),
                    reason=reason,
                )
            )
    return tuple(sentences)


def _own_gain(span: _Span, loudness: float, length_s: float) -> tuple[float, str]:
    off = loudness - span.loudness
    if off < -_NOT_READ_LU:
        return 0.0, f"{-off:.1f} LU under its span: not taken for reading"
    if span.stop - span.start == 1 or span.length_s < _SHORT_SPAN_S:
        return 0.0, "nothing of its own span to be held against"
    if span.spread > UNEVEN_LU:
        weight = SENTENCE_SHARE * min(1.0, length_s / WHOLE_WEIGHT_S)
        gain = -float(np.clip(weight * off, -SENTENCE_DB_MOST, SENTENCE_DB_MOST))
        return gain, f"{off:+.1f} LU from an uneven span: drawn towards it"
    beyond = off - float(np.clip(off, -DEAD_BAND_LU, DEAD_BAND_LU))
    beyond *= min(1.0, length_s / WHOLE_WEIGHT_S)
    gain = -float(np.clip(beyond, -SENTENCE_DB_MOST, SENTENCE_DB_MOST))
    if gain == 0.0:
        return 0.0, f"{off:+.1f} LU from its span: kept"
    return gain, f"{off:+.1f} LU from its span: brought to within {DEAD_BAND_LU:g} LU"


def _loudness(survey: Survey, island: Island) -> float:
    frames = survey.k_power[island.start : island.stop].astype(np.float64)
    whole = frames.size // 4 * 4
    longer = frames[:whole].reshape(-1, 4).mean(axis=1) if whole else frames
    power = active_power(longer, _ACTIVE_DB)
    return _OFFSET_DB + 10.0 * float(np.log10(max(power, 1e-12)))


def _mean_loudness(loudness: NDArray[np.float64], lengths: NDArray[np.float64]) -> float:
    power = np.average(10.0 ** (loudness / 10.0), weights=lengths)
    return 10.0 * float(np.log10(power))


def _middle(loudness: NDArray[np.float64], lengths: NDArray[np.float64]) -> float:
    """Give the weighted median: one sentence far off does not move it."""
    order = np.argsort(loudness)
    reached = np.cumsum(lengths[order])
    return float(loudness[order[np.searchsorted(reached, reached[-1] / 2.0)]])


def _spread(loudness: NDArray[np.float64], lengths: NDArray[np.float64]) -> float:
    """Give the standard deviation of the sentences, longer ones counting for more."""
    mean = np.average(loudness, weights=lengths)
    return float(np.sqrt(np.average((loudness - mean) ** 2, weights=lengths)))


def _spans(
    islands: tuple[Island, ...],
    loudness: NDArray[np.float64],
    lengths: NDArray[np.float64],
    span_starts: tuple[int, ...],
    joins: tuple[int, ...],
) -> list[_Span]:
    starts = np.array([island.start * FRAME_SAMPLES for island in islands])
    stops = np.array([island.stop * FRAME_SAMPLES for island in islands])
    middles = (starts + stops) // 2
    at_joins = np.searchsorted(middles, np.array(joins, dtype=np.int64))
    edges = {0, len(islands)}
    edges |= {int(np.searchsorted(middles, place)) for place in span_starts}
    edges |= set(_steps(loudness, lengths, at_joins))
    ordered = sorted(edges)
    spans = []
    for start, stop in pairwise(ordered):
        part, weight = loudness[start:stop], lengths[start:stop]
        read = np.abs(part - _middle(part, weight)) < _STRAY_LU
        spans.append(
            _Span(
                start=start,
                stop=stop,
                loudness=_mean_loudness(part[read], weight[read]),
                spread=_spread(part[read], weight[read]),
                length_s=float(weight.sum()),
            )
        )
    return spans


def _steps(
    loudness: NDArray[np.float64], lengths: NDArray[np.float64], at_joins: NDArray[np.int64]
) -> list[int]:
    """Find changes of reader or place by level: four sentences before against four after."""
    long_ones = np.flatnonzero(lengths >= WHOLE_WEIGHT_S / 1.5)
    levels = loudness[long_ones]
    found: list[tuple[float, int]] = []
    for index in range(_BLIND_SENTENCES, levels.size - _BLIND_SENTENCES + 1):
        step = abs(_step_lu(levels, index))
        neighbours = abs(levels[index] - levels[index - 1])
        if step > _BLIND_STEP_LU and neighbours > _BLIND_NEIGHBOUR_LU:
            found.append((step, index))
    chosen: list[int] = []
    for _, index in sorted(found, reverse=True):
        if all(abs(index - other) >= _BLIND_SENTENCES for other in chosen):
            chosen.append(index)
    joined = np.searchsorted(long_ones, at_joins).tolist()
    return [int(long_ones[_at_a_join(index, joined, levels)]) for index in chosen]


def _step_lu(levels: NDArray[np.float64], index: int) -> float:
    """Give the step before a sentence: medians of up to four on each side."""
    before = levels[max(0, index - _BLIND_SENTENCES) : index]
    return float(np.median(levels[index : index + _BLIND_SENTENCES]) - np.median(before))


def _at_a_join(index: int, joined: list[int], levels: NDArray[np.float64]) -> int:
    """Give the join with the greatest step of the same direction near by, or the place itself."""
    sign = np.sign(_step_lu(levels, index))
    steps = {
        join: sign * _step_lu(levels, join)
        for join in joined
        if abs(join - index) < _BLIND_SENTENCES
        and _JOIN_SENTENCES <= join <= levels.size - _JOIN_SENTENCES
    }
    return max(
        (join for join, step in steps.items() if step > _BLIND_STEP_LU),
        key=lambda join: steps[join],
        default=index,
    )
