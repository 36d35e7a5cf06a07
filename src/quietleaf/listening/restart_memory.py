"""What is remembered of the last minute to find restarts in: phrases, and rows of likely phones.

A fold over chunks that lie where they lie, so that any cutting of the sound gives the same.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.phone_numbers import NET
from quietleaf.listening.phones import PHONES, REACH, STEP, phone_roots, unpacked_net
from quietleaf.listening.restart_rows import Phrase, SpeechRows
from quietleaf.listening.sentence_model import ReaderMemory, likelihood_of
from quietleaf.listening.sound_frames import SoundFrames
from quietleaf.listening.spectra import MELS, NOTHING_DBOV

_NET = unpacked_net(NET)
CLOSED_FRAMES = 12
PHRASE_FRAMES_MIN = 8
PAUSE_FRAMES_FIRST = 300
"""Before the first words."""
_PRIOR_ROWS = 100.0
"""The products of rows are what they usually are until so much was heard."""
_PRIOR_MEAN, _PRIOR_DEVIATION = 0.85, 0.09
_UNDER_TOP_DB = 26.0
"""In an echoing room the ends of words fill the pauses; what is so much softer than the loudest
of a chunk's speech is left out."""
_TOP_PERCENT = 92.0
_TOP_FRAMES_MIN = 100
_VOICED = 0.6
_SEMITONES = 12.0
_CENTRED_LEAST = np.float32(0.1)


@dataclass(slots=True, kw_only=True)
class SpeechMemory:
    """Frames, rows and phrases from some frame on; sums over all that was heard.

    Attributes
    ----------
    first, known : int
        Frames that are remembered, half-open. Rows of phones end `REACH` frames before.
    phrases : list of Phrase
        Those that are over.
    """

    first: int = 0
    known: int = 0
    asked: int = 0
    mels: NDArray[np.float32] = field(default_factory=lambda: np.empty((0, MELS), np.float32))
    level: NDArray[np.float32] = field(default_factory=lambda: np.empty(0, np.float32))
    speech: NDArray[np.bool_] = field(default_factory=lambda: np.empty(0, np.bool_))
    roots: NDArray[np.float32] = field(default_factory=lambda: np.empty((0, PHONES), np.float32))
    shapes: NDArray[np.float32] = field(default_factory=lambda: np.empty((0, MELS), np.float32))
    pitch: NDArray[np.float32] = field(default_factory=lambda: np.empty(0, np.float32))
    root_frame: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    phrases: list[Phrase] = field(default_factory=list)
    searched: int = 0
    phrase_stop: int = -PAUSE_FRAMES_FIRST
    top_dbov: float = NOTHING_DBOV
    mel_sum: NDArray[np.float64] = field(default_factory=lambda: np.zeros(MELS))
    level_sum: float = 0.0
    frames: int = 0
    root_sum: NDArray[np.float64] = field(default_factory=lambda: np.zeros(PHONES))
    root_products: NDArray[np.float64] = field(default_factory=lambda: np.zeros((PHONES, PHONES)))
    rows: int = 0
    reader: ReaderMemory = field(default_factory=ReaderMemory)


def remember(memory: SpeechMemory, chunk: SoundFrames, speech: NDArray[np.bool_]) -> None:
    """Take the next chunk in, with which of its frames are speech, shape (k,)."""
    mels = chunk.spectra.mels_dbov
    if speech.sum() >= _TOP_FRAMES_MIN or memory.top_dbov == NOTHING_DBOV:
        of_speech = chunk.level_dbov[speech]
        memory.top_dbov = (
            float(np.percentile(of_speech, _TOP_PERCENT)) if of_speech.size else memory.top_dbov
        )
    speech = speech & (chunk.level_dbov > memory.top_dbov - _UNDER_TOP_DB)
    memory.mels = np.concatenate([memory.mels, mels])
    memory.level = np.concatenate([memory.level, chunk.level_dbov])
    memory.speech = np.concatenate([memory.speech, speech])
    voiced = chunk.spectra.periodic >= _VOICED
    pitch = np.where(voiced, _SEMITONES * np.log2(chunk.spectra.pitch_hz), np.float32(np.nan))
    memory.pitch = np.concatenate([memory.pitch, pitch.astype(np.float32)])
    memory.known += chunk.count
    memory.mel_sum += mels[speech].sum(axis=0, dtype=np.float64)
    memory.level_sum += float(chunk.level_dbov[speech].sum(dtype=np.float64))
    memory.frames += int(speech.sum())
    _ask(memory, memory.known - REACH)
    _find_phrases(memory, memory.known - CLOSED_FRAMES)


def rest_of_speech(memory: SpeechMemory) -> None:
    """Finish as if silence followed."""
    last = memory.mels[-1:] if memory.mels.size else np.zeros((1, MELS), np.float32)
    memory.mels = np.concatenate([memory.mels, np.repeat(last, REACH, axis=0)])
    _ask(memory, memory.known)
    memory.mels = memory.mels[:-REACH]
    memory.speech = np.concatenate([memory.speech, np.zeros(CLOSED_FRAMES, np.bool_)])
    _find_phrases(memory, memory.known)
    memory.speech = memory.speech[:-CLOSED_FRAMES]


def forget(memory: SpeechMemory, before: int) -> None:
    """Forget frames before some frame; phrases stay until they begin before it."""
    before = min(before, memory.asked - REACH, memory.searched)
    gone = before - memory.first
    if gone <= 0:
        return
    memory.mels = memory.mels[gone:]
    memory.level = memory.level[gone:]
    memory.pitch = memory.pitch[gone:]
    memory.speech = memory.speech[gone:]
    kept = int(np.searchsorted(memory.root_frame, before))
    memory.roots, memory.root_frame = memory.roots[kept:], memory.root_frame[kept:]
    memory.shapes = memory.shapes[kept:]
    memory.first = before


def speech_rows(memory: SpeechMemory) -> SpeechRows:
    """Give the rows that are remembered, with how alike two at random are."""
    mean = memory.root_sum / max(1, memory.rows)
    products = memory.root_products / max(1, memory.rows)
    expected = float(mean @ mean)
    variance = max(0.0, float((products**2).sum()) - expected**2)
    share = memory.rows / (memory.rows + _PRIOR_ROWS)
    at = memory.root_frame - memory.first
    centred = memory.roots - mean.astype(np.float32)
    centred /= np.linalg.norm(centred, axis=1, keepdims=True) + _CENTRED_LEAST
    return SpeechRows(
        roots=memory.roots,
        centred=centred,
        pitch_st=memory.pitch[at],
        frame=memory.root_frame,
        shapes=memory.shapes,
        level_db=(memory.level[at] + memory.level[at + 1]) / 2.0,
        mean=share * expected + (1.0 - share) * _PRIOR_MEAN,
        deviation=share * variance**0.5 + (1.0 - share) * _PRIOR_DEVIATION,
    )


def speech_level_db(memory: SpeechMemory) -> float:
    """Give the mean level of all speech so far."""
    return memory.level_sum / max(1, memory.frames)


def _ask(memory: SpeechMemory, stop: int) -> None:
    """Ask the net for the rows up to a frame; keep those of speech."""
    stop -= stop % STEP
    if stop <= memory.asked or not memory.frames:
        memory.asked = max(memory.asked, stop)
        return
    first = memory.asked - REACH
    missing = max(0, memory.first - first)
    seen = memory.mels[max(0, first - memory.first) : stop + REACH - memory.first]
    if missing:
        seen = np.concatenate([np.repeat(seen[:1], missing, axis=0), seen])
    mean = (memory.mel_sum / memory.frames).astype(np.float32)
    frame = np.arange(memory.asked, stop, STEP)
    frame = frame[memory.speech[frame - memory.first]]
    roots = phone_roots(seen, frame - memory.asked + REACH, mean, _NET)
    shapes = memory.mels[frame - memory.first] - mean
    shapes -= shapes.mean(axis=1, keepdims=True)
    shapes /= np.linalg.norm(shapes, axis=1, keepdims=True) + np.float32(1.0)
    memory.shapes = np.concatenate([memory.shapes, shapes])
    memory.roots = np.concatenate([memory.roots, roots])
    memory.root_frame = np.concatenate([memory.root_frame, frame])
    memory.root_sum += roots.sum(axis=0, dtype=np.float64)
    wide = roots.astype(np.float64)
    memory.root_products += wide.T @ wide
    memory.rows += roots.shape[0]
    memory.asked = stop


def _find_phrases(memory: SpeechMemory, stop: int) -> None:
    """Find the phrases that ended before a frame."""
    begun = memory.searched - memory.first
    spoken = np.flatnonzero(memory.speech[begun : stop + CLOSED_FRAMES - memory.first])
    if not spoken.size:
        memory.searched = max(memory.searched, stop)
        return
    breaks = np.flatnonzero(np.diff(spoken) > CLOSED_FRAMES)
    firsts = spoken[np.concatenate([[0], breaks + 1])] + memory.searched
    stops = spoken[np.concatenate([breaks, [spoken.size - 1]])] + memory.searched + 1
    searched = stop
    for first, end in zip(firsts.tolist(), stops.tolist(), strict=True):
        if end > stop:
            searched = first
            break
        if end - first >= PHRASE_FRAMES_MIN:
            _add(memory, first, end)
    memory.searched = max(memory.searched, searched)


def _add(memory: SpeechMemory, first: int, stop: int) -> None:
    pause = first - memory.phrase_stop
    begun = memory.phrases[-1].first if memory.phrases else first
    likelihood = (
        likelihood_of(memory.reader, pause * 0.01, (memory.phrase_stop - begun) * 0.01)
        if memory.phrases
        else 1.0
    )
    before = memory.level[max(0, memory.phrase_stop - memory.first + 5) : first - memory.first - 5]
    noise_db = float(before.max()) - speech_level_db(memory) if before.size else -60.0
    memory.phrases.append(
        Phrase(first=first, stop=stop, pause=pause, likelihood=likelihood, noise_db=noise_db)
    )
    memory.phrase_stop = stop
