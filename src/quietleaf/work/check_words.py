"""Check whether the opening and closing words of a recording were read as they are written."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

from quietleaf.listening.expected_words import DatePieces, Piece, expected_words, pieces_of
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
ENGLISH_SHARE = 0.85
"""So much of the fixed words must be in the dictionary. Ours: of closing words in seven other
languages up to 0.78 are in it, of English ones all but names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetWords:
    """The words that were to be said first and last; empty where there are none."""

    opening: tuple[WordsPart, ...] = ()
    closing: tuple[WordsPart, ...] = ()


NO_WORDS = SetWords()


def words_to_text(words: SetWords) -> str:
    """Write words out as JSON, for another process."""
    return json.dumps(asdict(words))


def words_from_text(text: str) -> SetWords:
    """Read what `words_to_text` wrote."""
    told = json.loads(text)
    return SetWords(**{name: tuple(WordsPart(**part) for part in told[name]) for name in told})


def check_words(words: SetWords, sound: SoundSource, aligner: Aligner | None) -> WordsCheck:
    """Listen for the opening words at the start of a sound, and for the closing ones at its end.

    Parameters
    ----------
    aligner : Aligner or None
        None where the extra is not installed: then nothing is checked, and the check says so.
    """
    opening, closing = expected_words(words.opening), expected_words(words.closing)
    if aligner is None:
        why_not = NO_ALIGNER
    else:
        # Both are in one language, and either alone may be short.
        why_not = "" if _is_english((*opening, *closing), aligner) else NOT_ENGLISH
    if aligner is None or why_not:
        none = not_checked(why_not)
        return WordsCheck(opening=none if opening else None, closing=none if closing else None)
    return WordsCheck(
        opening=_part(opening, sound, aligner, at_end=False) if opening else None,
        closing=_part(closing, sound, aligner, at_end=True) if closing else None,
    )


def _is_english(words: Sequence[Piece | DatePieces], aligner: Aligner) -> bool:
    fixed = [piece for piece in pieces_of(words) if piece.kind == "word"]
    known = sum(all(aligner.knows(word) for word in piece.ways[0]) for piece in fixed)
    return known >= ENGLISH_SHARE * len(fixed)


def _part(
    words: Sequence[Piece | DatePieces], sound: SoundSource, aligner: Aligner, *, at_end: bool
) -> PartCheck:
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
