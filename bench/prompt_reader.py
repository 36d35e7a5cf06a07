"""A reader of prompts: begins one, and reads another that begins with the same words.

So the second rendition is a true one. Both go on differently, but for the words they share.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bench.prompts import RATE_HZ, Prompt
from bench.proving.shaping import Samples, active_db, faded, gain_of, level_frames_db
from bench.proving.spoken import Said

_WORDS_MIN = 3
_LENGTH_S = (1.0, 9.0)
_SOUNDING_DB = 32.0
_SHARED = 0.75
_LONG_SHARE = 0.6
_TRIES = 60


class PromptReader:
    """Reads prompts in any order; where words lie in them is told by their letters alone."""

    rate_hz = RATE_HZ

    def __init__(self, prompts: Sequence[Prompt]) -> None:
        cut = [(prompt, _cut(prompt.samples)) for prompt in prompts]
        self._prompts = [
            (prompt, sound)
            for prompt, sound in cut
            if len(prompt.words) >= _WORDS_MIN
            and _LENGTH_S[0] <= sound.size / RATE_HZ <= _LENGTH_S[1]
        ]
        self._begun: dict[tuple[str, ...], list[int]] = {}
        for index, (prompt, _) in enumerate(self._prompts):
            self._begun.setdefault(prompt.words[:2], []).append(index)

    def next(self, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Say a prompt, three of four times one that others begin like."""
        shared = [mates for mates in self._begun.values() if len(mates) > 1]
        for _ in range(_TRIES):
            index = int(draw.integers(len(self._prompts)))
            if draw.random() < _SHARED:
                mates = shared[int(draw.integers(len(shared)))]
                index = mates[int(draw.integers(len(mates)))]
            said = self._say(index, self._words_shared(index, draw), frozenset())
            if said.key not in barred:
                return said
        return None

    def again(self, said: Said, draw: np.random.Generator) -> Said | None:
        """Say another prompt that begins with the words that ``said`` tells of."""
        if not said.words:
            return None
        index = next(i for i, (one, _) in enumerate(self._prompts) if one.name == said.name)
        words = self._prompts[index][0].words
        mates = [
            mate
            for mate in self._begun[words[:2]]
            if self._prompts[mate][0].name not in said.used
            and _shared(self._prompts[mate][0].words, words) >= len(said.words)
        ]
        if not mates:
            return None
        return self._say(mates[int(draw.integers(len(mates)))], len(said.words), said.used)

    def alike(self, said: Said, barred: frozenset[str], draw: np.random.Generator) -> Said | None:
        """Say another prompt that begins alike."""
        del barred
        return self.again(said, draw)

    def room_recordings(self) -> list[Samples]:
        """Give some of the prompts."""
        return [sound for _, sound in self._prompts[:60]]

    def _words_shared(self, index: int, draw: np.random.Generator) -> int:
        words = self._prompts[index][0].words
        shared = [
            _shared(self._prompts[mate][0].words, words)
            for mate in self._begun[words[:2]]
            if mate != index
        ]
        if not shared:
            return 0
        most = max(shared)
        return most if draw.random() < _LONG_SHARE else min(most, int(draw.integers(2, 4)))

    def _say(self, index: int, count: int, used: frozenset[str]) -> Said:
        prompt, sound = self._prompts[index]
        length_s = sound.size / RATE_HZ
        letters = np.cumsum([len(word) + 1.0 for word in prompt.words])
        ends_s = 0.03 + (length_s - 0.06) * letters / letters[-1]
        starts_s = np.concatenate([[0.03], ends_s[:-1]])
        return Said(
            key=" ".join(prompt.words[:2]),
            name=prompt.name,
            samples=sound,
            rate_hz=RATE_HZ,
            start_s=0.02,
            stop_s=length_s - 0.03,
            text=" ".join(prompt.words),
            words=tuple(
                (prompt.words[word], float(starts_s[word]), float(ends_s[word]) - 0.01)
                for word in range(count)
            ),
            used=used | {prompt.name},
        )


def _shared(some: Sequence[str], others: Sequence[str]) -> int:
    """Count the words that two begin with together."""
    count = 0
    while count < min(len(some), len(others)) and some[count] == others[count]:
        count += 1
    return count


def _cut(samples: Samples) -> Samples:
    """Cut to where it sounds, at 0 dBov."""
    level = level_frames_db(samples, RATE_HZ)
    heard = np.flatnonzero(level > np.percentile(level, 92.0) - _SOUNDING_DB)
    hop = RATE_HZ // 100
    first = max(0, int(heard[0]) * hop - 2 * hop)
    sound = faded(samples[first : (int(heard[-1]) + 4) * hop], RATE_HZ, 0.008, 0.02)
    return sound * gain_of(-active_db(sound, RATE_HZ))
