"""Find the numbers of the sentence model: `python -m bench.sentence_maker` prints them.

From the shared recordings and a seed alone: hill climbing by random steps on the mean over takes of
the logarithmic loss, with a pull to where it began. Readers whose pauses are all alike are
made and added, so that they have sentences too.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bench.sentence_takes import SAME_S, KnownTake, known_takes
from quietleaf.listening.sentence_model import ReaderMemory, likelihood_of, reader_grid
from quietleaf.listening.sentence_numbers import NUMBERS, ReaderNumbers
from quietleaf.listening.sentence_starts import SentenceStart, sentence_starts
from tests.helpers import find_recordings

SEED = 0
LIKELY_AT = 0.65
"""The odds are moved so that this likelihood, as learned, becomes 1/2: places that are no sentence
start cost more than one sentence too many."""
BEGIN = ReaderNumbers(
    length_mean=math.log(0.6),
    length_spread=0.55,
    shorter_mean=0.85,
    shorter_spread=0.35,
    sentence_rate=math.log(1 / 6),
    inner_rate=math.log(1 / 3),
    rate_spread=0.5,
    between_spread=0.28,
    inner_spread=0.42,
    longer=0.7,
    stray=0.01,
    slope=5.0,
    middle=0.4,
    rates=1.0,
    offset=0.3,
    kept=0.985,
)
_LEFT = {"rate_spread", "longer", "stray", "kept"}
_ADDED = {"length_mean", "sentence_rate", "inner_rate", "offset"}
_LIGHT = {"p225": 0.3, "p226": 0.3}
"""Sentences read one at a time, with drawn gaps between."""
_EVEN_S = (0.4, 0.5, 0.6, 0.7, 0.8, 1.0)
_EVEN_WEIGHT = 0.25
_PULL = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardPauses:
    """Pauses of one take in order, the first words left out; ``weight`` 0: not known what it is."""

    pause_s: NDArray[np.float64]
    speech_s: NDArray[np.float64]
    is_start: NDArray[np.bool_]
    weight: NDArray[np.float64]
    take_weight: float


def heard_pauses(take: KnownTake, starts: tuple[SentenceStart, ...]) -> HeardPauses:
    """Set what was found beside the truth."""
    rate = take.sample_rate_hz
    begun = np.array([start.pause_start for start in starts]) / rate
    ended = np.array([start.pause_stop for start in starts]) / rate
    is_start = _marked(take.starts_s, begun, ended)
    is_open = _marked(take.open_s, begun, ended) & ~is_start
    return HeardPauses(
        pause_s=(ended - begun)[1:],
        speech_s=begun[1:] - ended[:-1],
        is_start=is_start[1:],
        weight=np.where(is_open[1:], 0.0, 1.0),
        take_weight=_LIGHT.get(take.voice, 1.0),
    )


def even_readers() -> list[HeardPauses]:
    """Make readers who pause between sentences alone."""
    draw = np.random.default_rng(5)
    made = []
    for usual_s in _EVEN_S:
        steps = draw.normal(size=(25, 2))
        made.append(
            HeardPauses(
                pause_s=usual_s * np.exp(0.15 * steps[:, 0]),
                speech_s=3.0 * np.exp(0.35 * steps[:, 1]),
                is_start=np.ones(25, dtype=np.bool_),
                weight=np.ones(25),
                take_weight=_EVEN_WEIGHT,
            )
        )
    return made


def likelihoods(heard: HeardPauses, numbers: ReaderNumbers) -> list[float]:
    """Say how likely each pause is one before a sentence."""
    grid = reader_grid(numbers)
    reader = ReaderMemory(numbers=numbers, grid=grid, cells=grid.prior.copy())
    return [
        likelihood_of(reader, float(pause_s), float(speech_s))
        for pause_s, speech_s in zip(heard.pause_s, heard.speech_s, strict=True)
    ]


def find_numbers(
    heard: list[HeardPauses], begin: ReaderNumbers = BEGIN, steps: int = 350
) -> ReaderNumbers:
    """Climb; the offset comes moved by `LIKELY_AT`."""
    all_heard = [*heard, *even_readers()]
    draw = np.random.default_rng(SEED)
    moved = math.log(LIKELY_AT / (1.0 - LIKELY_AT))
    best = begin if begin is BEGIN else replace(begin, offset=begin.offset + moved)
    least = _loss(all_heard, best)
    names = [name for name in asdict(BEGIN) if name not in _LEFT]
    stride = 0.25
    for index in range(steps):
        change = {}
        for name in draw.choice(names, 3, replace=False):
            by = stride * draw.normal()
            value = getattr(best, name)
            change[name] = float(value + by if name in _ADDED else value * np.exp(by))
        tried = replace(best, **change)
        loss = _loss(all_heard, tried)
        if loss < least:
            best, least = tried, loss
        if index % 50 == 49:
            stride *= 0.7
    return replace(best, offset=best.offset - moved)


def _loss(heard: list[HeardPauses], numbers: ReaderNumbers) -> float:
    losses, weights = [], []
    for one in heard:
        found = np.clip(likelihoods(one, numbers), 1e-4, 1.0 - 1e-4)
        loss = -np.where(one.is_start, np.log(found), np.log(1.0 - found))
        if one.weight.sum() > 0.0:
            losses.append(float(np.average(loss, weights=one.weight)))
            weights.append(one.take_weight)
    away = 0.0
    for name, value in asdict(numbers).items():
        begun = getattr(BEGIN, name)
        if name in _ADDED - {"offset"}:
            away += (value - begun) ** 2
        elif name not in _LEFT | {"offset"}:
            away += math.log(value / begun) ** 2
    return float(np.average(losses, weights=weights)) + _PULL * away


def _marked(
    onsets_s: tuple[float, ...], begun: NDArray[np.float64], ended: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Mark the pause of each onset: the nearest of those that it may belong to."""
    marked = np.zeros(begun.size, dtype=np.bool_)
    for onset_s in onsets_s:
        near = np.flatnonzero((begun - 0.2 <= onset_s) & (onset_s <= ended + SAME_S))
        if near.size:
            marked[near[np.argmin(np.abs(ended[near] - onset_s))]] = True
    return marked


def main() -> None:
    """Print what was found beside what is in use."""
    takes = known_takes(find_recordings())
    heard = [
        heard_pauses(take, sentence_starts(take.samples, take.sample_rate_hz)) for take in takes
    ]
    found = find_numbers(heard)
    for name, value in asdict(found).items():
        print(f"    {name}={round(value, 4)},  # in use: {getattr(NUMBERS, name)}")


if __name__ == "__main__":
    main()
