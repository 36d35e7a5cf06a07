"""Recognises words: a general recogniser of speech, where its extra and a station's model are.

The model lies in a folder that the station brings, as CTranslate2 keeps a Whisper model. Nothing is
ever fetched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import soxr
from numpy.typing import NDArray

from quietleaf.errors import Invalid
from quietleaf.listening.recognised import Stretch, sounding_rows

RATE_HZ = 16_000
LONG_S = 30.0
"""The most that is heard at once."""
_FILES = ("model.bin", "config.json", "tokenizer.json")
_FRAMES_PER_S = 100
_SILENCE_FRAMES = 30
"""After a stretch, so that it is heard to end."""
_STEP_FRAMES = 20
_PIECES_A_S, _PIECES_MORE = 6, 6
_MARKS = ' .,!?-…"'
_LIKELY_LEAST = 1e-12
_THREADS = 2


class Recogniser(Protocol):
    """Recognises what is said in a few seconds."""

    def get_used_to(
        self, sounds: Sequence[NDArray[np.float64]], sample_rate_hz: int
    ) -> NDArray[np.float32]:
        """Tell the language that most of some sounds are in, and keep to it.

        Returns
        -------
        rows : ndarray, shape (k, d), float32
            What the sounds look like to the recogniser, as the rows of a `Stretch`.
        """

    def listen(self, samples: NDArray[np.float64], sample_rate_hz: int) -> Stretch:
        """Hear a stretch, shape (n,), of at most `LONG_S`."""

    def likelihoods_in(self, said: Stretch, sound: Stretch) -> NDArray[np.float64]:
        """Say how likely what was heard in one stretch is in the sound of another.

        Both must come from `listen`.

        Returns
        -------
        likelihoods : ndarray, shape (n,), nats
            Of each piece of ``said``, after the pieces before it.
        """


def open_recogniser(folder: Path) -> Recogniser | None:
    """Load a model, in about a second; None where the extra is not installed.

    Raises
    ------
    Invalid
        If the folder does not hold a model.
    """
    check_model(folder)
    try:
        import faster_whisper  # noqa: F401
    except ImportError:
        return None
    try:
        return WhisperRecogniser(folder)
    except (RuntimeError, ValueError) as error:
        raise Invalid(
            "recogniser/model",
            f"The model in {folder} cannot be loaded: it is none of Whisper's, or its files are "
            "not whole. Bring it again.",
        ) from error


def check_model(folder: Path) -> None:
    """Refuse a folder that lacks a model's files; that they are whole shows when it is loaded."""
    missing = [name for name in _FILES if not (folder / name).is_file()]
    if missing:
        raise Invalid(
            "recogniser/folder",
            f"A model of a recogniser is a folder with {', '.join(_FILES)}; {folder} lacks "
            f"{', '.join(missing)}. Name the folder that the model lies in.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heard(Stretch):
    tokens: tuple[int, ...]
    encoded: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """A sound as the model sees it, with silence after it: frames of mels, and rows that sound."""

    encoded: Any
    frames: int
    rows: NDArray[np.float32]


class WhisperRecogniser:
    """A model of Whisper's kind; see `Recogniser`.

    Windows are as short as what is heard: a model that was taught on 30 s hears 5 s as well, in a
    seventh of the time.
    """

    def __init__(self, folder: Path) -> None:
        from faster_whisper import WhisperModel

        # As a folder, and with its own list of pieces, nothing is looked for elsewhere.
        self._whisper: Any = WhisperModel(
            str(folder),
            device="cpu",
            compute_type="int8",
            cpu_threads=_THREADS,
            local_files_only=True,
        )
        self._speak("en")

    def get_used_to(
        self, sounds: Sequence[NDArray[np.float64]], sample_rate_hz: int
    ) -> NDArray[np.float32]:
        """See `Recogniser.get_used_to`."""
        likely: dict[str, float] = {}
        rows = []
        for samples in sounds:
            seen = self._look(samples, sample_rate_hz)
            rows.append(seen.rows)
            if self._whisper.model.is_multilingual:
                (told,) = self._whisper.model.detect_language(seen.encoded)
                for name, likelihood in told:
                    likely[name] = likely.get(name, 0.0) + likelihood
        if likely:
            self._speak(max(likely, key=lambda name: likely[name]).strip("<|>"))
        return np.concatenate(rows)

    def listen(self, samples: NDArray[np.float64], sample_rate_hz: int) -> Stretch:
        """See `Recogniser.listen`."""
        seen = self._look(samples, sample_rate_hz)
        pieces_most = int(_PIECES_MORE + _PIECES_A_S * seen.frames / _FRAMES_PER_S)
        (heard,) = self._whisper.model.generate(
            seen.encoded,
            [self._prompt],
            beam_size=1,
            max_length=len(self._prompt) + pieces_most,
        )
        ids = [token for token in heard.sequences_ids[0] if token < self._tokens.eot]
        words = self._tokens.decode(ids).strip(_MARKS)
        tokens = tuple(self._tokens.encode(" " + words)) if words else ()
        return _Heard(
            pieces=tuple(self._tokens.decode([token]) for token in tokens),
            likelihoods=self._likelihoods(tokens, seen.encoded),
            rows=seen.rows,
            tokens=tokens,
            encoded=seen.encoded,
        )

    def likelihoods_in(self, said: Stretch, sound: Stretch) -> NDArray[np.float64]:
        """See `Recogniser.likelihoods_in`."""
        assert isinstance(said, _Heard), "it was listened to here"
        assert isinstance(sound, _Heard), "it was listened to here"
        return self._likelihoods(said.tokens, sound.encoded)

    def _speak(self, language: str) -> None:
        from faster_whisper.tokenizer import Tokenizer

        self._tokens: Any = Tokenizer(
            self._whisper.hf_tokenizer,
            self._whisper.model.is_multilingual,
            task="transcribe",
            language=language,
        )
        self._prompt: list[int] = self._whisper.get_prompt(
            self._tokens, [], without_timestamps=True
        )

    def _look(self, samples: NDArray[np.float64], sample_rate_hz: int) -> _Seen:
        heard = soxr.resample(samples, sample_rate_hz, RATE_HZ).astype(np.float32)
        heard = heard[: round(LONG_S * RATE_HZ)]
        hop = RATE_HZ // _FRAMES_PER_S
        frames = -(-(heard.size // hop + _SILENCE_FRAMES) // _STEP_FRAMES) * _STEP_FRAMES
        frames = min(frames, round(LONG_S * _FRAMES_PER_S))
        padded = np.pad(heard, (0, max(0, frames * hop - heard.size)))
        mels = self._whisper.feature_extractor(padded, padding=0)[:, :frames]
        encoded = self._whisper.encode(mels)
        rows = np.asarray(encoded)[0]
        sounding = sounding_rows(heard, RATE_HZ)
        return _Seen(
            encoded=encoded,
            frames=frames,
            rows=rows[sounding[sounding < rows.shape[0]]].astype(np.float32),
        )

    def _likelihoods(self, tokens: tuple[int, ...], encoded: Any) -> NDArray[np.float64]:
        if not tokens:
            return np.zeros(0)
        # Where the pieces lie is not asked for, so that the number of frames does not matter.
        (laid,) = self._whisper.model.align(
            encoded, self._tokens.sot_sequence, [list(tokens)], 2 * _STEP_FRAMES
        )
        likely = np.array(laid.text_token_probs[: len(tokens)], dtype=np.float64)
        return np.log(np.maximum(likely, _LIKELY_LEAST))
