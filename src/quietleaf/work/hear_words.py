"""Ask a recogniser what the sound alone leaves open: what was read twice, how long words are."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.recognised import HeardWords, Stretch
from quietleaf.listening.restart_choice import Proposal
from quietleaf.listening.restart_words import Voice, voice_of, word_numbers
from quietleaf.listening.restart_words_model import likelihood_by_words
from quietleaf.listening.restarts import findings_by_words
from quietleaf.storage.recogniser import Recogniser
from quietleaf.storage.sound_source import SoundSource
from quietleaf.work.tools import Progress, no_progress

NO_RECOGNISER = (
    "The extra that recognises words is not installed here, so what was read twice was told by the "
    "sound alone. Install it with: pip install 'quietleaf[words]'."
)
HEARD_S = 5.0
"""So much of each of two stretches is compared, and of each place where the voice is learned."""
COUNTED_S = 10.0
"""Words are counted in so much at once: in longer places such models leave words out."""
RECOGNISING = "Recognising words"
_COUNTED_PLACES = 30
_HEARD_S_MIN = 1.0
_LEAD_S = 0.1
_PAUSE_S_LEAST, _PAUSE_S_KEPT = 0.05, 0.15
"""So much of the pause after a first try is left out, and is heard with it."""
_PLACES = 12
_KEPT = 24
"""Stretches that are remembered: all that begin within the half minute that pairs span, nearly."""


def hear_words(
    asked: Sequence[Proposal],
    sound: SoundSource,
    recogniser: Recogniser,
    progress: Progress = no_progress,
) -> HeardWords:
    """Tell what was read twice by the words of what may have been, and count words in places.

    Parameters
    ----------
    asked : sequence of Proposal
        In order of where they begin again.
    """
    if sound.info.duration_s < _HEARD_S_MIN:
        return HeardWords(restarts=(), places_s=np.empty((0, 2)), words=0)
    ear = Ear(sound=sound, recogniser=recogniser)
    places_s = counted_places_s(sound.info.duration_s)
    steps = len(asked) + len(places_s)
    told = []
    for one in asked:
        likelihood = likelihood_by_words(one.likelihood, one.pair.numbers, ear.numbers_of(one))
        told.append(replace(one, likelihood=likelihood))
        progress(RECOGNISING, len(told) / steps)
    words = 0
    for index, (start_s, end_s) in enumerate(places_s.tolist(), start=1):
        words += ear.words_in(start_s, end_s)
        progress(RECOGNISING, (len(told) + index) / steps)
    return HeardWords(restarts=findings_by_words(told), places_s=places_s, words=words)


def counted_places_s(duration_s: float) -> NDArray[np.float64]:
    """Choose where words are counted: places all over a recording, or all of a short one.

    Examples
    --------
    >>> counted_places_s(25.0)
    array([[ 0. ,  8.3],
           [ 8.3, 16.7],
           [16.7, 25. ]])
    """
    count = min(_COUNTED_PLACES, max(1, math.ceil(duration_s / COUNTED_S)))
    middles_s = (np.arange(count) + 0.5) * duration_s / count
    half_s = min(COUNTED_S, duration_s / count) / 2.0
    places_s: NDArray[np.float64] = np.column_stack([middles_s - half_s, middles_s + half_s])
    return places_s.round(1)


@dataclass(slots=True, kw_only=True)
class Ear:
    """A recogniser that listens to one recording."""

    sound: SoundSource
    recogniser: Recogniser
    _voice: Voice | None = None
    _heard: OrderedDict[tuple[float, float], Stretch] = field(default_factory=OrderedDict)

    def words_in(self, start_s: float, end_s: float) -> int:
        """Count the words between two moments."""
        self._learn()
        samples = self._samples(start_s, end_s)
        text = self.recogniser.listen(samples, self.sound.info.sample_rate_hz).text
        return sum(any(letter.isalnum() for letter in word) for word in text.split())

    def numbers_of(self, one: Proposal) -> NDArray[np.float64]:
        """Measure by its words how likely a proposal is a restart; as `word_numbers` gives them."""
        voice = self._learn()
        begun_s, again_s = one.first / FRAMES_PER_S, one.stop / FRAMES_PER_S
        pause_s = max(_PAUSE_S_LEAST, one.pair.again.pause / FRAMES_PER_S - _PAUSE_S_KEPT)
        tried = self._listen(begun_s, min(again_s - pause_s, begun_s + HEARD_S))
        said = self._listen(again_s, again_s + HEARD_S)
        return word_numbers(
            tried,
            said,
            self.recogniser.likelihoods_in(tried, said),
            self.recogniser.likelihoods_in(said, tried),
            voice,
        )

    def _learn(self) -> Voice:
        """Learn language and voice from places all over the recording, the first time."""
        if self._voice is not None:
            return self._voice
        duration_s = self.sound.info.duration_s
        starts_s = np.linspace(0.0, max(0.0, duration_s - HEARD_S), _PLACES)
        rows = self.recogniser.get_used_to(
            [self._samples(float(start_s), float(start_s) + HEARD_S) for start_s in starts_s],
            self.sound.info.sample_rate_hz,
        )
        self._voice = voice_of(rows)
        return self._voice

    def _listen(self, start_s: float, stop_s: float) -> Stretch:
        name = (start_s, stop_s)
        if name not in self._heard:
            samples = self._samples(start_s - _LEAD_S, stop_s)
            self._heard[name] = self.recogniser.listen(samples, self.sound.info.sample_rate_hz)
            if len(self._heard) > _KEPT:
                self._heard.popitem(last=False)
        return self._heard[name]

    def _samples(self, start_s: float, stop_s: float) -> NDArray[np.float64]:
        rate = self.sound.info.sample_rate_hz
        start = max(0, round(start_s * rate))
        stop = min(self.sound.info.frames, max(start + 1, round(stop_s * rate)))
        samples: NDArray[np.float64] = self.sound.read(start, stop).mean(axis=1)
        return samples
