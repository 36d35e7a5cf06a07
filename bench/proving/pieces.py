"""What sessions are made of: sentences, noises, beds and rooms.

Trainers and judges hold voices and recordings out by the same fixed parts: `voice_folds` and the
`half` of each noise.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from bench.proving.labels import KIND_OF_SORT
from bench.proving.shaping import level_frames_db

_T = TypeVar("_T")
Word = tuple[str, float, float]
Half = Literal["known", "unseen"]
OpenSound = tuple[str, str, NDArray[np.float64], int, str]
"""Kind or sort, name, samples, sampling rate, credit. Of a name, what follows a `#` tells variants
of one recording apart: they stay in one half."""

_LONG_S = 20.0
_CUT_PAUSE_S = 0.3
_CUT_LEAST_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """A sentence or phrase, mono; times in seconds of it.

    Attributes
    ----------
    samples : ndarray, shape (n,), full scale 1.0
    start_s, stop_s : float
        Where the voice is active.
    words : tuple of (word, start_s, end_s)
        Empty where they are not known.
    stops_s : tuple of (start_s, end_s)
        Of /p/ and /b/; empty where they are not known.
    """

    voice: str
    name: str
    samples: NDArray[np.float64]
    sample_rate_hz: int
    start_s: float
    stop_s: float
    text: str | None = None
    words: tuple[Word, ...] = ()
    stops_s: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """A short sound, cut to where it sounds.

    Attributes
    ----------
    kind : str
        The finding that it is told as, or `breath-natural`.
    sort : str
        What it is: `page_turn`, `throat_clear`, ...
    half : {"known", "unseen"}
        Trainers that hold recordings out train on the known.
    """

    kind: str
    sort: str
    name: str
    samples: NDArray[np.float64]
    sample_rate_hz: int
    half: Half = "known"
    credit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """A long noise: `hum`, `traffic`, `fan`, `dishes`, `hiss` or `roomtone`."""

    kind: str
    name: str
    samples: NDArray[np.float64]
    sample_rate_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """An impulse response, its first sound at the beginning."""

    name: str
    samples: NDArray[np.float64]
    sample_rate_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendition:
    """One recording of a sentence; word times in seconds of it."""

    name: str
    samples: NDArray[np.float64]
    sample_rate_hz: int
    words: tuple[Word, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """The same words said several times by one speaker."""

    voice: str
    key: str
    renditions: tuple[Rendition, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Everything there is.

    Attributes
    ----------
    clips : mapping of voice to clips in the order of their text
    noises : mapping of kind to noises
    beds : mapping of kind to beds
    repeats : mapping of voice to repeats
    takes, disfluent : tuple of Clip
        Real readings as they are: an unedited one, and hesitant ones whose times are not known.
    origin : str
        Where all this comes from, for the head of a table.
    """

    clips: Mapping[str, tuple[Clip, ...]]
    noises: Mapping[str, tuple[Noise, ...]]
    beds: Mapping[str, tuple[Bed, ...]]
    rooms: tuple[Room, ...]
    repeats: Mapping[str, tuple[Repeat, ...]]
    takes: tuple[Clip, ...]
    disfluent: tuple[Clip, ...]
    origin: str

    @property
    def voices(self) -> tuple[str, ...]:
        """Voices that have clips, sorted."""
        return tuple(sorted(self.clips))

    @property
    def repeat_voices(self) -> tuple[str, ...]:
        """Voices that said the same words several times, sorted."""
        return tuple(sorted(self.repeats))

    def without(
        self,
        *,
        voices: Collection[str] = (),
        noises: Collection[str] = (),
        half: Half | None = None,
    ) -> Pieces:
        """Leave voices, recordings of noises by name, or a half of them out."""

        def kept(noise: Noise) -> bool:
            named = noise.name in noises or recording_of(noise.name) in noises
            return not named and noise.half != half

        return replace(
            self,
            clips={voice: clips for voice, clips in self.clips.items() if voice not in voices},
            repeats={voice: said for voice, said in self.repeats.items() if voice not in voices},
            noises=grouped(
                (noise for group in self.noises.values() for noise in group if kept(noise)),
                lambda noise: noise.kind,
            ),
            takes=tuple(take for take in self.takes if take.voice not in voices),
            disfluent=tuple(take for take in self.disfluent if take.voice not in voices),
        )

    def only(self, half: Half) -> Pieces:
        """Keep one half of the recordings of each kind of noise."""
        return self.without(half="unseen" if half == "known" else "known")

    def with_sounds(self, sounds: Iterable[OpenSound]) -> Pieces:
        """Add noises; kinds that are sorts (`page_turn`) are told as their kind.

        The halves of what is added alternate within each kind, so those of what was there stay.
        """
        added = [
            Noise(
                kind=KIND_OF_SORT.get(kind, kind),
                sort=kind,
                name=name,
                samples=samples,
                sample_rate_hz=rate,
                credit=credit,
            )
            for kind, name, samples, rate, credit in sounds
        ]
        was = [noise for group in self.noises.values() for noise in group]
        return replace(self, noises=grouped([*was, *halved(added)], lambda noise: noise.kind))

    def with_clips(self, clips: Iterable[Clip]) -> Pieces:
        """Add sentences, to voices or as new ones."""
        was = [clip for group in self.clips.values() for clip in group]
        return replace(self, clips=grouped([*was, *clips], lambda clip: clip.voice))

    def with_beds(self, beds: Iterable[Bed]) -> Pieces:
        """Add long noises."""
        was = [bed for group in self.beds.values() for bed in group]
        return replace(self, beds=grouped([*was, *beds], lambda bed: bed.kind))


def recording_of(name: str) -> str:
    """Give the recording that a noise is a variant of."""
    return name.partition("#")[0]


def halved(noises: Iterable[Noise]) -> list[Noise]:
    """Put the recordings of each kind into the two halves by turns, in the order they come."""
    order: dict[str, list[str]] = {}
    put = []
    for noise in noises:
        names = order.setdefault(noise.kind, [])
        recording = recording_of(noise.name)
        if recording not in names:
            names.append(recording)
        half: Half = "unseen" if names.index(recording) % 2 else "known"
        put.append(replace(noise, half=half))
    return put


def grouped(things: Iterable[_T], key: Callable[[_T], str]) -> dict[str, tuple[_T, ...]]:
    """Group things by a name, in the order they come."""
    groups: dict[str, list[_T]] = {}
    for thing in things:
        groups.setdefault(key(thing), []).append(thing)
    return {name: tuple(group) for name, group in groups.items()}


def voice_folds(voices: Iterable[str], count: int) -> tuple[tuple[str, ...], ...]:
    """Deal voices into so many folds, always the same: sorted, by turns."""
    dealt = sorted(voices)
    return tuple(tuple(dealt[fold::count]) for fold in range(count))


def phrases_of(clip: Clip) -> list[Clip]:
    """Cut a long recording into phrases at its pauses; a short one stays as it is."""
    rate = clip.sample_rate_hz
    if clip.samples.size <= _LONG_S * rate:
        return [clip]
    level = level_frames_db(clip.samples, rate)
    spoken = np.flatnonzero(level > np.percentile(level, 92.0) - 26.0)
    breaks = np.flatnonzero(np.diff(spoken) > _CUT_PAUSE_S * 100)
    firsts = [int(spoken[0]), *(int(spoken[at + 1]) for at in breaks)]
    lasts = [*(int(spoken[at]) for at in breaks), int(spoken[-1])]
    cut: list[Clip] = []
    begun = firsts[0]
    for index, last in enumerate(lasts):
        if (last - begun) / 100 < _CUT_LEAST_S and index + 1 < len(lasts):
            continue
        first = max(0, begun - 10) * rate // 100
        stop = min(clip.samples.size, (last + 15) * rate // 100)
        cut.append(
            replace(
                clip,
                name=f"{clip.name}#{len(cut)}",
                samples=clip.samples[first:stop],
                start_s=begun / 100 - first / rate,
                stop_s=(last + 1) / 100 - first / rate,
                text=None,
                words=(),
                stops_s=(),
            )
        )
        begun = firsts[index + 1] if index + 1 < len(firsts) else last
    return cut
