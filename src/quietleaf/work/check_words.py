"""Check whether the opening and closing words of a recording were read as they are written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from quietleaf.listening.expected_words import expected_words, pieces_of
from quietleaf.listening.speech_graph import GRAPH_COSTS, speech_graph
from quietleaf.listening.words_check import (
    PartCheck,
    WordsCheck,
    compared,
    listened_s,
    not_checked,
)
from quietleaf.planning.words import WordsPart
from quietleaf.storage.aligner import Aligner
from quietleaf.storage.sound_source import SoundSource

NO_ALIGNER = (
    "The extra that listens for known words is not installed here. "
    "Install it with: pip install 'quietleaf[alignment]'."
)
NOT_ENGLISH = (
    "Words are listened for in English alone, and most of these are in no English dictionary."
)
ENGLISH_SHARE = 0.7
"""So much of the fixed words must be in the dictionary. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetWords:
    """The words that were to be said first and last; empty where there are none."""

    opening: tuple[WordsPart, ...] = ()
    closing: tuple[WordsPart, ...] = ()


def check_words(words: SetWords, sound: SoundSource, aligner: Aligner | None) -> WordsCheck:
    """Listen for the opening words at the start of a sound, and for the closing ones at its end.

    Parameters
    ----------
    aligner : Aligner or None
        None where the extra is not installed: then nothing is checked, and the check says so.
    """
    return WordsCheck(
        opening=_part(words.opening, sound, aligner, at_end=False),
        closing=_part(words.closing, sound, aligner, at_end=True),
    )


def _part(
    parts: Sequence[WordsPart], sound: SoundSource, aligner: Aligner | None, *, at_end: bool
) -> PartCheck | None:
    words = expected_words(parts)
    if not words:
        return None
    if aligner is None:
        return not_checked(NO_ALIGNER)
    fixed = [piece for piece in pieces_of(words) if piece.kind == "word"]
    known = sum(all(aligner.knows(word) for word in piece.ways[0]) for piece in fixed)
    if known < ENGLISH_SHARE * len(fixed):
        return not_checked(NOT_ENGLISH)
    info = sound.info
    frames = min(info.frames, round(listened_s(words) * info.sample_rate_hz))
    start = info.frames - frames if at_end else 0
    samples = sound.read(start, start + frames).mean(axis=1)
    start_s, end_s = start / info.sample_rate_hz, (start + frames) / info.sample_rate_hz
    said = tuple(
        replace(one, start_s=start_s + one.start_s, end_s=start_s + one.end_s)
        for one in aligner.follow(samples, info.sample_rate_hz, speech_graph(words, GRAPH_COSTS))
    )
    return compared(words, said, start_s, end_s)
