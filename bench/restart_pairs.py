"""Sessions with false starts, and pairs of phrase starts in them, known for what they are.

True second renditions (words said several times, prompts that begin alike), warped ones, texts that
programs say, and clean readings that hold what is alike but no fault.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bench.dialogues import dialogue_voices, load_dialogues
from bench.made_reader import VOICES, MadeReader
from bench.made_rooms import made_rooms
from bench.prompt_reader import PromptReader
from bench.prompts import load_prompts, prompt_voices
from bench.proving.labels import Label, of_kind
from bench.proving.mess import CLEAN, RESTARTS_TRUE, RESTARTS_WARPED, Mess, Microphone
from bench.proving.pieces import Pieces
from bench.proving.readers import Reader
from bench.proving.session import Session, make_session, read_seconds
from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.restart_pairs import PAIR_NUMBERS, Pair
from quietleaf.listening.restart_search import PairMemory, end_pairs, step_pairs
from quietleaf.listening.sound_frames import SoundFrames, sound_frames
from quietleaf.listening.sound_kinds import end_kinds, start_kinds, step_kinds

Sort = Literal["true", "prompt", "warped", "made", "clean"]
LENGTH_S = 420.0
_SESSIONS: dict[Sort, int] = {"true": 8, "prompt": 4, "warped": 1, "made": 2, "clean": 1}
_SEEDS: dict[Sort, int] = {
    "true": 1000,
    "prompt": 2000,
    "warped": 3000,
    "made": 5000,
    "clean": 4000,
}
_DIALOGUES = 200
_ROOMS = 12
_READ_S_MIN = 60.0
_MICROPHONES: tuple[Microphone, ...] = ("plain", "plain", "dark", "bright", "thin", "boxy")
_IN_ROOM, _ON_ROOM_TONE, _OFTEN = 0.3, 0.4, 0.6
_FLOOR_DBFS, _SPEECH_DBOV = (-75.0, -45.0), (-33.0, -15.0)
_EARLY_S, _LATE_S = 0.05, 0.6
_SAME_WORDS, _SAME_SHARE = 3, 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPairs:
    """One session.

    Attributes
    ----------
    pairs : tuple of Pair
    numbers : ndarray, shape (n, 62), float32
    is_restart : ndarray, shape (n,), bool
    counts : ndarray, shape (n,), bool
        False where the same words were said twice and nobody called it a restart: by sound it is.
    """

    sort: Sort
    voice: str
    in_room: bool
    length_s: float
    labels: tuple[Label, ...]
    pairs: tuple[Pair, ...]
    numbers: NDArray[np.float32]
    is_restart: NDArray[np.bool_]
    counts: NDArray[np.bool_]


def known_pairs(pieces: Pieces) -> Iterator[KnownPairs]:
    """Make all sessions, and find the pairs in them."""
    for sort, session in made_sessions(pieces):
        yield pairs_of_session(sort, session)


def made_sessions(pieces: Pieces) -> Iterator[tuple[Sort, Session]]:
    """Make all sessions, the same each time."""
    pieces = replace(
        pieces,
        clips={
            **pieces.clips,
            **{voice: load_dialogues(voice, _DIALOGUES) for voice in dialogue_voices()},
        },
        rooms=(*pieces.rooms, *made_rooms(_ROOMS)),
    )
    readers: dict[str, Reader] = {
        voice: PromptReader(load_prompts(voice)) for voice in prompt_voices()
    }
    readers |= {voice: MadeReader(voice, np.random.default_rng(0)) for voice in VOICES}
    read = [voice for voice in pieces.voices if read_seconds(pieces, voice) >= _READ_S_MIN]
    voices: dict[Sort, Sequence[str]] = {
        "true": pieces.repeat_voices,
        "prompt": prompt_voices(),
        "warped": read,
        "made": VOICES,
        "clean": read,
    }
    for sort, of_sort in voices.items():
        for voice in of_sort:
            for index in range(_SESSIONS[sort]):
                seed = _SEEDS[sort] + index + sum(map(ord, voice))
                session = make_session(
                    pieces,
                    seed,
                    voice=voice,
                    length_s=LENGTH_S,
                    mess=_mess(sort, seed, len(pieces.rooms)),
                    reader=readers.get(voice),
                )
                yield sort, session


def pairs_of_session(sort: Sort, session: Session) -> KnownPairs:
    """Find the pairs of a session, and what they are."""
    memory = PairMemory()
    pairs: list[Pair] = []
    for chunk, speech in chunks_with_speech(session.samples, session.sample_rate_hz):
        pairs += step_pairs(memory, chunk, speech)
    pairs += end_pairs(memory)
    numbers = np.array([pair.numbers for pair in pairs], dtype=np.float32)
    is_restart = np.array([_is_restart(pair, session.labels) for pair in pairs], dtype=np.bool_)
    same = np.array([_says_the_same(pair, session.labels) for pair in pairs], dtype=np.bool_)
    return KnownPairs(
        sort=sort,
        voice=session.voice,
        in_room=bool(of_kind(session.labels, "room")),
        length_s=session.length_s,
        labels=session.labels,
        pairs=tuple(pairs),
        numbers=numbers.reshape(-1, len(PAIR_NUMBERS)),
        is_restart=is_restart,
        counts=is_restart | ~same,
    )


def chunks_with_speech(
    samples: NDArray[np.float64], sample_rate_hz: int
) -> Iterator[tuple[SoundFrames, NDArray[np.bool_]]]:
    """Give the chunks of a recording, shape (n,), each with which of its frames are speech."""
    chunks = sound_frames(samples, sample_rate_hz)
    kinds = start_kinds()
    for index, chunk in enumerate(chunks):
        told = step_kinds(kinds, chunk)
        if told is not None:
            yield chunks[index - 1], told.speech
    last = end_kinds(kinds)
    if last is not None:
        yield chunks[-1], last.speech


def _mess(sort: Sort, seed: int, rooms: int) -> Mess:
    draw = np.random.default_rng(seed)
    mess = CLEAN if sort == "clean" else RESTARTS_WARPED if sort == "warped" else RESTARTS_TRUE
    return replace(
        mess,
        speech_dbov=_SPEECH_DBOV,
        floor_dbfs=_FLOOR_DBFS,
        room=int(draw.integers(rooms)) if draw.random() < _IN_ROOM else None,
        microphone=_MICROPHONES[int(draw.integers(len(_MICROPHONES)))],
        floor="roomtone" if draw.random() < _ON_ROOM_TONE else mess.floor,
        restarts=3.0 if sort in ("true", "prompt") and draw.random() < _OFTEN else mess.restarts,
    )


def _is_restart(pair: Pair, labels: Sequence[Label]) -> bool:
    """Say whether a pair begins at a try and at a later try, or at what was read in the end."""
    before_s, again_s = pair.before.first / FRAMES_PER_S, pair.again.first / FRAMES_PER_S
    tries = of_kind(labels, "restart")
    begun = [one for one in tries if _within(before_s, one.detail["pause_before_s"])]
    ended = [one for one in tries if _within(again_s, one.detail["pause_again_s"])]
    return any(
        one.detail["chain"] == other.detail["chain"] and one.start_s <= other.start_s
        for one in begun
        for other in ended
    )


def _within(at_s: float, pause_s: tuple[float, float]) -> bool:
    return pause_s[0] - _EARLY_S <= at_s <= pause_s[1] + _LATE_S


def _says_the_same(pair: Pair, labels: Sequence[Label]) -> bool:
    """Say whether two sentences in a row share nearly all words of the first."""
    said = of_kind(labels, "speech")
    first = _begun_at(said, pair.before.first / FRAMES_PER_S)
    second = _begun_at(said, pair.again.first / FRAMES_PER_S)
    if first is None or second != first + 1:
        return False
    words, others = (str(said[at].detail["text"] or "").lower().split() for at in (first, second))
    longest = 0
    for start in range(len(words)):
        for other in range(len(others)):
            same = 0
            while words[start + same : start + same + 1] == others[other + same : other + same + 1]:
                if start + same >= len(words):
                    break
                same += 1
            longest = max(longest, same)
    return longest >= max(_SAME_WORDS, _SAME_SHARE * len(words))


def _begun_at(said: Sequence[Label], at_s: float) -> int | None:
    near = [i for i, one in enumerate(said) if -0.15 <= at_s - one.start_s < _LATE_S]
    return near[-1] if near else None
