"""Lays words along sound: a general recogniser of English, where the extra is installed.

It needs no network: its model and its dictionary come in the package.
"""

from __future__ import annotations

import math
from typing import Any, Protocol

import numpy as np
import soxr
from numpy.typing import NDArray

from quietleaf.listening.letter_sounds import Sounds, guessed_sounds, unrhotic
from quietleaf.listening.speech_graph import Arc, SpeechGraph, SpokenWord

RATE_HZ = 16_000
FRAMES_PER_S = 100
_PEAK = 20_000
"""Where the loudest sample is put, of 32,767."""
_MOST_WAYS = 9


class Aligner(Protocol):
    """Finds the way through a graph of words that lies best on a sound."""

    def knows(self, word: str) -> bool:
        """Say whether a lower-case word is in its dictionary."""

    def follow(
        self, samples: NDArray[np.float64], sample_rate_hz: int, graph: SpeechGraph
    ) -> tuple[SpokenWord, ...]:
        """Find what was said: the words and sounds of the best way, in order of time.

        Parameters
        ----------
        samples : ndarray, shape (n,), float64
            Any level.

        Returns
        -------
        said : tuple of SpokenWord
            Empty where no way lies along the sound at all.
        """


def open_aligner() -> Aligner | None:
    """Load the recogniser, in about half a second; None where the extra is not installed."""
    try:
        import pocketsphinx  # noqa: F401
    except ImportError:
        return None
    return SphinxAligner()


class SphinxAligner:
    """The recogniser's alignment; see `Aligner`."""

    def __init__(self) -> None:
        from pocketsphinx import Decoder

        # Costs count in full beside the sound, and scores are those of all sounds: then a cost
        # means the same everywhere.
        # The lattice is left out: from a graph with ways back it takes for ever.
        self._decoder: Any = Decoder(
            lm=None,
            loglevel="FATAL",
            lw=1.0,
            wip=1.0,
            compallsen=True,
            bestpath=False,
            beam=1e-56,
            pbeam=1e-56,
            wbeam=1e-40,
            maxhmmpf=-1,
        )
        self._added: set[str] = set()
        self._name = ""

    def knows(self, word: str) -> bool:
        """See `Aligner.knows`."""
        return self._decoder.lookup_word(word) is not None

    def follow(
        self, samples: NDArray[np.float64], sample_rate_hz: int, graph: SpeechGraph
    ) -> tuple[SpokenWord, ...]:
        """See `Aligner.follow`."""
        self._learn(graph)
        # One that is in use cannot be taken away: the one before it can.
        before, self._name = self._name, "even" if self._name == "odd" else "odd"
        drawn = self._decoder.create_fsg(
            self._name,
            graph.first,
            graph.last,
            [
                (arc.start, arc.stop, math.exp(-arc.cost), *([label] if label else []))
                for arc in graph.arcs
                for label in [_label(arc)]
            ],
        )
        self._decoder.add_fsg(self._name, drawn)
        self._decoder.activate_search(self._name)
        if before:
            self._decoder.remove_search(before)
        self._decoder.start_utt()
        self._decoder.process_raw(_pcm(samples, sample_rate_hz), full_utt=True)
        self._decoder.end_utt()
        return () if self._decoder.hyp() is None else self._said()

    def _said(self) -> tuple[SpokenWord, ...]:
        found = []
        for segment in self._decoder.seg():
            label = segment.word.partition("(")[0]
            if not label or label[0] in "<[":
                continue
            piece, _, word = label.partition(":")
            found.append(
                SpokenWord(
                    word="" if piece == "~" else word,
                    piece=int(piece) if piece.isdigit() else None,
                    start_s=segment.start_frame / FRAMES_PER_S,
                    end_s=(segment.end_frame + 1) / FRAMES_PER_S,
                )
            )
        return tuple(found)

    def _learn(self, graph: SpeechGraph) -> None:
        """Teach the recogniser the labels of a graph, each spoken as its word is."""
        fresh: dict[str, tuple[Sounds, ...]] = {}
        for arc in graph.arcs:
            label = _label(arc)
            if label and label not in self._added and label not in fresh:
                fresh[label] = self._ways(arc.word) if arc.word else ((arc.sound,),)
        entries = [
            (label if count == 1 else f"{label}({count})", " ".join(sounds))
            for label, ways in fresh.items()
            for count, sounds in enumerate(ways, start=1)
        ]
        for label, sounds in entries:
            self._decoder.add_word(label, sounds, label == entries[-1][0])
        self._added.update(fresh)

    def _ways(self, word: str) -> tuple[Sounds, ...]:
        """Say how a word may be spoken."""
        known = self._known(word) or guessed_sounds(word, self._known)
        ways = dict.fromkeys(known)
        ways |= dict.fromkeys(unrhotic(way) for way in known)
        return tuple(ways)[:_MOST_WAYS]

    def _known(self, word: str) -> list[Sounds]:
        found: list[Sounds] = []
        while sounds := self._decoder.lookup_word(f"{word}({len(found) + 1})" if found else word):
            found.append(tuple(sounds.split()))
        return found


def _label(arc: Arc) -> str:
    if arc.sound:
        return f"~:{arc.sound}"
    if not arc.word:
        return ""
    return f"{'' if arc.piece is None else arc.piece}:{arc.word}"


def _pcm(samples: NDArray[np.float64], sample_rate_hz: int) -> bytes:
    heard = soxr.resample(samples, sample_rate_hz, RATE_HZ)
    loudest = float(np.abs(heard).max(initial=0.0))
    whole = np.rint(heard * (_PEAK / loudest if loudest > 0.0 else 0.0))
    pcm: bytes = whole.astype("<i2").tobytes()
    return pcm
