"""Opening and closing words listened for: with an aligner by hand, and with the real one."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import as_file, files

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.speech_graph import SpeechGraph, SpokenWord
from quietleaf.planning.words import WordsPart
from quietleaf.storage.aligner import open_aligner
from quietleaf.storage.codecs import open_sound
from quietleaf.storage.sound_source import SoundInfo, read_in_blocks
from quietleaf.work.check_words import NO_ALIGNER, NOT_ENGLISH, SetWords, check_words

SAMPLE = "sample.flac"
OPENING = (
    "This is the Marrowby Reading Service. You are listening to Marrowby in Five, from The "
    "Marrowby Courier of Wednesday 25 November 2026. The reader is Ada Fenwick."
)
CLOSING = (
    "That was Marrowby in Five, from The Marrowby Courier of {date}, read by {reader} for everyone "
    "who cannot read print. We are back on the next weekday at six."
)


class Silence:
    """So many seconds of zeros, 48 kHz mono."""

    def __init__(self, length_s: float) -> None:
        self.info = SoundInfo(
            sample_rate_hz=48_000, channels=1, frames=round(48_000 * length_s), encoding="zeros"
        )

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        return read_in_blocks(self, block_frames)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        return np.zeros((stop - start, 1))


class Repeating:
    """Hears the right words, a second each from the start of what it is given."""

    def __init__(self) -> None:
        self.heard_s: list[float] = []

    def knows(self, word: str) -> bool:
        return word.isascii() and word != "wir"

    def follow(
        self, samples: NDArray[np.float64], sample_rate_hz: int, graph: SpeechGraph
    ) -> tuple[SpokenWord, ...]:
        self.heard_s.append(samples.size / sample_rate_hz)
        said: dict[int, str] = {}
        for arc in graph.arcs:
            if arc.piece is not None:
                said.setdefault(arc.piece, arc.word)
        return tuple(
            SpokenWord(word=word, piece=piece, start_s=piece, end_s=piece + 1.0)
            for piece, word in sorted(said.items())
        )


def set_words(opening: str = "", closing: str = "") -> SetWords:
    return SetWords(
        opening=(WordsPart(text=opening, filled=False),),
        closing=(WordsPart(text=closing, filled=False),),
    )


def test_the_closing_words_are_listened_for_at_the_end() -> None:
    sound, aligner = Silence(60.0), Repeating()
    check = check_words(set_words(closing="That is all for today."), sound, aligner)
    assert check.opening is None
    assert check.closing is not None
    (heard_s,) = aligner.heard_s
    assert 5.0 < heard_s < 20.0
    assert check.closing.start_s == pytest.approx(60.0 - heard_s, abs=1e-3)


def test_a_short_recording_is_listened_to_whole() -> None:
    aligner = Repeating()
    check_words(set_words(opening="This is all."), Silence(1.0), aligner)
    assert aligner.heard_s == [1.0]


def test_without_the_extra_nothing_is_checked_and_that_is_said() -> None:
    check = check_words(set_words(opening="This is all."), Silence(1.0), None)
    assert check.opening is not None
    assert (check.opening.state, check.opening.why_not) == ("not checked", NO_ALIGNER)


def test_words_that_are_not_english_are_not_checked_and_that_is_said() -> None:
    words = set_words(opening="Wir wünschen Ihnen überall schöne Tage.")
    check = check_words(words, Silence(1.0), Repeating())
    assert check.opening is not None
    assert (check.opening.state, check.opening.why_not) == ("not checked", NOT_ENGLISH)


def test_the_example_is_read_as_written_and_other_words_are_told(aligner: None) -> None:
    wrong = CLOSING.format(date="Thursday 26 November 2026", reader="Tomas Vale")
    with as_file(files("quietleaf.example").joinpath(SAMPLE)) as path, open_sound(path) as sound:
        check = check_words(set_words(OPENING, wrong), sound, open_aligner())
    opening, closing = check.opening, check.closing
    assert opening is not None
    assert (opening.state, opening.findings) == ("read", ())
    assert opening.start_s == pytest.approx(1.5, abs=0.1)  # the maker's own label
    assert opening.end_s == pytest.approx(16.63, abs=0.3)
    assert closing is not None
    found = {finding.kind: finding for finding in closing.findings if finding.severity == "hear"}
    assert set(found) == {"weekday", "day", "name"}
    assert found["weekday"].heard == "Wednesday"
    assert found["day"].heard == "twenty fifth"
    assert found["name"].expected == "Tomas Vale"
    assert 228.0 < found["weekday"].start_s < found["name"].start_s < 244.5
