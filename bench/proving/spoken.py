"""A sentence as it was said once, and what becomes of it: broken off, doubled, joined."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from bench.proving.pieces import Word
from bench.proving.shaping import Samples, faded, frame_powers

_WORDS_OF_ATTEMPT = (2, 7)
_ATTEMPT_S = (0.4, 3.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Successive words of one sentence."""

    key: str
    first: int
    stop: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A sentence as it was said once; active at 0 dBov.

    Attributes
    ----------
    key : str
        Begins as what has the same key begins.
    start_s, stop_s : float
        Where the voice is active.
    runs : tuple of Run
        Empty for clips.
    used : frozenset of str
        Recordings that were used for these words so far.
    """

    key: str
    name: str
    samples: Samples
    rate_hz: int
    start_s: float
    stop_s: float
    text: str | None
    words: tuple[Word, ...]
    stops_s: tuple[tuple[float, float], ...] = ()
    runs: tuple[Run, ...] = ()
    used: frozenset[str] = frozenset()


def broken_off(said: Said, draw: np.random.Generator, least_s: float = 0.0) -> Said | None:
    """Break a sentence off after 2-7 words: at a word's end, inside one, or where it is quieter.

    ``least_s`` asks for more than that; None where the sentence is too short.
    """
    spoken_s = said.stop_s - said.start_s
    most_s = min(0.85 * spoken_s, max(_ATTEMPT_S[1], least_s + 1.5))
    if said.words:
        ends = [
            (index + 1, end_s)
            for index, (_, _, end_s) in enumerate(said.words)
            if _WORDS_OF_ATTEMPT[0] <= index + 1 <= _WORDS_OF_ATTEMPT[1] + (4 if least_s else 0)
            and max(least_s, _ATTEMPT_S[0] / 2) < end_s - said.start_s < most_s
        ]
        if not ends:
            return None
        count, stop_s = ends[int(draw.integers(len(ends)))]
        if draw.random() < 0.35 and count < len(said.words):
            _, first_s, end_s = said.words[count]
            stop_s = min(first_s + float(draw.uniform(0.25, 0.8)) * (end_s - first_s), said.stop_s)
        words = tuple(word for word in said.words if word[2] <= stop_s + 0.02)
    else:
        low_s = max(least_s, _ATTEMPT_S[0])
        if most_s <= low_s + 0.1:
            return None
        stop_s = said.start_s + float(draw.uniform(low_s, most_s))
        if draw.random() < 0.6:
            stop_s = _quieter(said, stop_s)
        words = ()
    rate = said.rate_hz
    # A word is not cut as by a knife: the voice stops within a few hundredths.
    sound = faded(
        said.samples[: round(stop_s * rate)], rate, 0.004, float(draw.uniform(0.01, 0.03))
    )
    return replace(
        said,
        samples=sound,
        stop_s=min(stop_s, said.stop_s),
        words=words,
        text=" ".join(word for word, _, _ in words) if words else None,
        stops_s=tuple(pair for pair in said.stops_s if pair[1] < stop_s),
    )


def doubled(said: Said, draw: np.random.Generator) -> Said | None:
    """Say one or two words in the middle twice, without a pause, as texts do."""
    count = len(said.words)
    if count < 6:
        return None
    first = int(draw.integers(2, count - 3))
    stop = first + int(draw.integers(1, 3))
    rate = said.rate_hz
    from_s, to_s = said.words[first][1], said.words[stop - 1][2]
    if to_s - from_s < 0.15:
        return None
    cut, end = round(from_s * rate), round(to_s * rate)
    middle = faded(said.samples[cut:end], rate, 0.004, 0.006)
    sound = np.concatenate([said.samples[:end], middle, said.samples[end:]])
    by_s = to_s - from_s
    words = [*said.words[:stop]]
    words += [(word, a + by_s, b + by_s) for word, a, b in said.words[first:]]
    return replace(
        said,
        samples=sound,
        stop_s=said.stop_s + by_s,
        words=tuple(words),
        text=" ".join(word for word, _, _ in words),
        stops_s=tuple((a + by_s, b + by_s) if a >= from_s else (a, b) for a, b in said.stops_s),
    )


def stretched(said: Said, sound: Samples, tempo: float) -> Said:
    """Take another sound for the same words, said ``tempo`` times as fast."""
    return replace(
        said,
        samples=sound,
        start_s=said.start_s / tempo,
        stop_s=min(said.stop_s / tempo, sound.size / said.rate_hz),
        words=tuple((word, a / tempo, b / tempo) for word, a, b in said.words),
        stops_s=tuple((a / tempo, b / tempo) for a, b in said.stops_s),
    )


def joined(head: Said, head_s: float, tail: Said, tail_s: float, count: int) -> Said:
    """Splice the beginning of one, its first ``count`` words, before the rest of another."""
    rate = head.rate_hz
    first = faded(head.samples[: round(head_s * rate)], rate, 0.004, 0.01)
    last = faded(tail.samples[round(tail_s * rate) :], rate, 0.006, 0.01)
    by_s = head_s - tail_s
    words = [*head.words[:count]]
    words += [(word, a + by_s, b + by_s) for word, a, b in tail.words[count:]]
    return Said(
        key=tail.key,
        name=f"{head.name}+{tail.name}",
        samples=np.concatenate([first, last]),
        rate_hz=rate,
        start_s=head.start_s,
        stop_s=tail.stop_s + by_s,
        text=" ".join(word for word, _, _ in words),
        words=tuple(words),
    )


def _quieter(said: Said, near_s: float) -> float:
    rate = said.rate_hz
    first = max(0, round((near_s - 0.2) * rate))
    part = said.samples[first : round((near_s + 0.2) * rate)]
    power = frame_powers(part, rate)
    return first / rate + (int(np.argmin(power)) + 0.5) / 100
