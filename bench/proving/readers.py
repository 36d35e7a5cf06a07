"""Readers of sessions: what they say next, and how they say it again.

A reader of clips says a sentence again as the same clip with tempo, level and tone changed
(warped). A reader of repeats builds sentences of runs of words, and says them again from other
recordings of the same words (true): never the same recording twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from bench.proving.pieces import Clip, Repeat, Word
from bench.proving.shaping import (
    Samples,
    active_db,
    faded,
    frame_powers,
    gain_of,
    resampled,
    tempo_changed,
    tilted,
)
from bench.proving.spoken import Run, Said, joined, stretched

BEFORE_S, AFTER_S = 0.03, 0.08
_KEPT_LEVEL_DB = 3.0
_SOUNDING_DB = -32.0
LONGEST_S = 20.0


class Reader(Protocol):
    """Who reads a session."""

    rate_hz: int

    def next(self, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Say another sentence whose key is not barred; None if there is none."""

    def again(self, said: Said, draw: np.random.Generator) -> Said | None:
        """Say the same once more; None if there is no other recording."""

    def alike(self, said: Said, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Say a sentence that begins as this one did and goes on otherwise."""

    def room_recordings(self) -> list[Samples]:
        """Give what the room tone is taken from."""


class ClipReader:
    """Reads clips in their order, then in shuffled rounds."""

    def __init__(self, clips: Sequence[Clip], rate_hz: int | None = None) -> None:
        self.rate_hz = rate_hz or clips[0].sample_rate_hz
        usable = [
            _at_rate(clip, self.rate_hz)
            for clip in clips
            if clip.stop_s - clip.start_s <= LONGEST_S
        ]
        self.said = [_said_of_clip(clip) for clip in _levelled(usable)]
        self._as_read = {said.name: said for said in self.said}
        self._rounds = dict.fromkeys((said.key for said in self.said), 0)
        self._recordings = [clip.samples for clip in usable]

    def next(self, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Say the next of those said least."""
        free = [said for said in self.said if said.key not in barred]
        if not free:
            return None
        least = min(self._rounds[said.key] for said in free)
        free = [said for said in free if self._rounds[said.key] == least]
        chosen = free[0] if least == 0 else free[int(draw.integers(len(free)))]
        self._rounds[chosen.key] += 1
        return chosen

    def again(self, said: Said, draw: np.random.Generator) -> Said:
        """Warp: tempo 0.9-1.1 with or without pitch, level +-3 dB, tilt +-3 dB, a little noise."""
        said = self._as_read.get(said.name, said)
        tempo = float(draw.uniform(0.9, 1.1))
        rate = said.rate_hz
        if draw.random() < 0.75:
            sound = tempo_changed(said.samples, rate, tempo)
        else:
            tempo = 1.0 + (tempo - 1.0) / 2.0
            sound = resampled(said.samples, rate * tempo, rate)
        sound = tilted(sound, rate, float(draw.uniform(-3.0, 3.0)))
        sound = sound * gain_of(float(draw.uniform(-3.0, 3.0)))
        sound = sound + gain_of(float(draw.uniform(-60.0, -40.0))) * faded(
            draw.normal(size=sound.size), rate, 0.02, 0.02
        )
        return stretched(said, sound, tempo)

    def alike(self, said: Said, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Splice the first 2 or 3 words before the rest of another clip."""
        count = int(draw.integers(2, 4))
        others = [
            other
            for other in self.said
            if other.key not in barred and len(other.words) > count + 4 and other.key != said.key
        ]
        if len(said.words) < count + 3 or not others:
            return None
        begun = self.again(said, draw)
        other = others[int(draw.integers(len(others)))]
        head_s = begun.words[count - 1][2]
        tail_s = other.words[count][1]
        return joined(begun, head_s, other, tail_s, count)

    def room_recordings(self) -> list[Samples]:
        """Give the clips as recorded, at the level that what is said has."""
        return [clip * gain_of(-active_db(clip, self.rate_hz)) for clip in self._recordings]


class RepeatReader:
    """Reads sentences built of runs of words that were recorded several times."""

    def __init__(self, repeats: Sequence[Repeat], rate_hz: int | None = None) -> None:
        self.rate_hz = rate_hz or repeats[0].renditions[0].sample_rate_hz
        self._repeats = {repeat.key: _repeat_at_rate(repeat, self.rate_hz) for repeat in repeats}
        self._digits = all(len(repeat.renditions[0].words) == 1 for repeat in repeats)
        self._covers = {
            repeat.key: [len(rendition.words) for rendition in repeat.renditions]
            for repeat in repeats
        }

    def next(self, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Draw words for a sentence: 4-8 digits, or 1-3 runs of sentences."""
        for _ in range(50):
            runs = self._draw_runs(draw)
            if self._key(runs) not in barred:
                return self._say(runs, frozenset(), draw)
        return None

    def again(self, said: Said, draw: np.random.Generator) -> Said | None:
        """Say the same runs from recordings not used yet."""
        return self._say(said.runs, said.used, draw)

    def alike(self, said: Said, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Keep the first 2 or 3 words, then draw others."""
        count = int(draw.integers(2, 4))
        kept: tuple[Run, ...] = ()
        for run in said.runs:
            left = count - sum(one.stop - one.first for one in kept)
            if left > 0:
                kept += (replace(run, stop=min(run.stop, run.first + left)),)
        others = self._draw_runs(draw)
        goes_on = others[0].key == kept[-1].key and others[0].first == kept[-1].stop
        if goes_on or self._key(others) in barred:
            return None
        return self._say(kept + others, said.used, draw)

    def room_recordings(self) -> list[Samples]:
        """Give all recordings, each at 0 dBov."""
        return [
            rendition.samples * gain_of(-active_db(rendition.samples, self.rate_hz))
            for repeat in self._repeats.values()
            for rendition in repeat.renditions
        ]

    def _draw_runs(self, draw: np.random.Generator) -> tuple[Run, ...]:
        keys = sorted(self._repeats)
        if self._digits:
            chosen = draw.choice(keys, int(draw.integers(4, 9)))
            return tuple(Run(key=str(key), first=0, stop=1) for key in chosen)
        runs: list[Run] = []
        wanted = int(draw.integers(5, 12))
        for key in draw.permutation(keys):
            # As many words as at least three recordings hold.
            held = sorted(self._covers[str(key)], reverse=True)
            count = held[min(2, len(held) - 1)]
            if count < 2:
                continue
            first = 0 if draw.random() < 0.5 else int(draw.integers(0, count - 1))
            length = min(count - first, int(draw.integers(2, 7)))
            runs.append(Run(key=str(key), first=first, stop=first + length))
            if sum(run.stop - run.first for run in runs) >= wanted:
                break
        return tuple(runs)

    def _key(self, runs: tuple[Run, ...]) -> str:
        if self._digits:
            return " ".join(run.key for run in runs[:2])
        return f"{runs[0].key} {runs[0].first}"

    def _say(
        self, runs: tuple[Run, ...], used: frozenset[str], draw: np.random.Generator
    ) -> Said | None:
        rate = self.rate_hz
        parts: list[Samples] = []
        words: list[Word] = []
        names = set(used)
        at = 0
        for run in runs:
            repeat = self._repeats[run.key]
            free = [
                one
                for one in repeat.renditions
                if len(one.words) >= run.stop and one.name not in names
            ]
            if not free:
                return None
            chosen = free[int(draw.integers(len(free)))]
            names.add(chosen.name)
            spoken = chosen.words[run.first : run.stop]
            first, stop = round(spoken[0][1] * rate), round(spoken[-1][2] * rate)
            part = chosen.samples[first:stop]
            part = part * gain_of(float(draw.uniform(-1.5, 1.5)) - active_db(part, rate))
            part = faded(part, rate, 0.004, 0.008)
            begun_s = at / rate - first / rate
            words += [(word, begun_s + a, begun_s + b) for word, a, b in spoken]
            gap = round(draw.uniform(0.02, 0.1) * rate) if self._digits else 0
            parts += [part, np.zeros(gap)]
            at += part.size + gap
        sound = np.concatenate(parts[:-1])
        return Said(
            key=self._key(runs),
            name="+".join(f"{run.key}[{run.first}:{run.stop}]" for run in runs),
            samples=sound,
            rate_hz=rate,
            start_s=_sounding_s(sound, rate),
            stop_s=sound.size / rate,
            text=" ".join(word for word, _, _ in words),
            words=tuple(words),
            runs=runs,
            used=frozenset(names),
        )


def _sounding_s(samples: Samples, rate: int) -> float:
    """Find where a word is first heard: its closure before a stop is silent."""
    power = frame_powers(samples, rate)
    return int(np.argmax(power > 10.0 ** (_SOUNDING_DB / 10.0))) / 100


def _at_rate(clip: Clip, rate: int) -> Clip:
    samples = resampled(clip.samples, clip.sample_rate_hz, rate)
    return replace(clip, samples=samples, sample_rate_hz=rate)


def _repeat_at_rate(repeat: Repeat, rate: int) -> Repeat:
    return replace(
        repeat,
        renditions=tuple(
            replace(
                one,
                samples=resampled(one.samples, one.sample_rate_hz, rate),
                sample_rate_hz=rate,
            )
            for one in repeat.renditions
        ),
    )


def _levelled(clips: Sequence[Clip]) -> list[Clip]:
    """Bring clips to 0 dBov, but for up to 3 dB that they differ from one another."""
    levels = np.array([active_db(_active(clip), clip.sample_rate_hz) for clip in clips])
    away: NDArray[np.float64] = np.clip(levels - np.median(levels), -_KEPT_LEVEL_DB, _KEPT_LEVEL_DB)
    return [
        replace(clip, samples=clip.samples * gain_of(float(kept - level)))
        for clip, level, kept in zip(clips, levels, away, strict=True)
    ]


def _active(clip: Clip) -> Samples:
    rate = clip.sample_rate_hz
    return clip.samples[round(clip.start_s * rate) : round(clip.stop_s * rate)]


def _said_of_clip(clip: Clip) -> Said:
    rate = clip.sample_rate_hz
    first = max(0, round((clip.start_s - BEFORE_S) * rate))
    stop = min(clip.samples.size, round((clip.stop_s + AFTER_S) * rate))
    first_s = first / rate
    return Said(
        key=clip.name,
        name=clip.name,
        samples=faded(clip.samples[first:stop], rate, 0.01, 0.03),
        rate_hz=rate,
        start_s=clip.start_s - first_s,
        stop_s=clip.stop_s - first_s,
        text=clip.text,
        words=tuple((word, max(0.0, a - first_s), b - first_s) for word, a, b in clip.words),
        stops_s=tuple((a - first_s, b - first_s) for a, b in clip.stops_s if a >= first_s),
    )
