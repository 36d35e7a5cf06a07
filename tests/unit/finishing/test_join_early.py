"""Where the reader goes on: early, late, with leaking headphones; every part is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from quietleaf.finishing.join_early import find_leak, goes_on
from quietleaf.listening.structure import structure_of_sound
from tests.voices import RATE_HZ, SPEECH_DBOV, Made

MARK_S = 1.5
RESUME_S = 4.5
NEAR_S = 0.05


@dataclass(frozen=True, kw_only=True)
class Heard:
    """The microphone around a lead-in of 3 s, and where the sentence begins in it, in seconds."""

    sound: NDArray[np.float64]
    lead_in: NDArray[np.float64]
    word: float


def lead_in(seed: int = 70) -> NDArray[np.float64]:
    made = Made(seed=seed)
    made.speech(1.1)
    made.pause(0.3)
    made.speech(1.45)
    made.pause(0.15)
    return made.samples()


def heard(
    word_s: float, *, leak_db: float | None = None, sorry: bool = False, seed: int = 31
) -> Heard:
    made = Made(seed=seed)
    made.pause(0.2)
    made.speech(1.1)
    made.pause(0.5)
    if sorry:
        made.speech(0.5, SPEECH_DBOV - 4.0)
    made.pause(word_s - made.length_s)
    made.speech(2.6)
    made.pause(0.5)
    made.speech(1.5)
    sound = made.samples()
    played = lead_in()
    if leak_db is not None:
        band = butter(2, [400.0, 4_000.0], "bandpass", fs=RATE_HZ, output="sos")
        leaked = sosfilt(band, played)
        leaked *= 10 ** ((SPEECH_DBOV + leak_db) / 20) / np.sqrt(np.mean(leaked**2))
        at = round((RESUME_S + 0.03) * RATE_HZ) - played.size
        sound[at : at + leaked.size] += leaked
    return Heard(sound=sound, lead_in=played, word=word_s)


def voice_s(made: Heard, *, known: bool = True) -> float | None:
    found = goes_on(
        made.sound,
        RATE_HZ,
        mark=round(MARK_S * RATE_HZ),
        resume=round(RESUME_S * RATE_HZ),
        lead_in=made.lead_in if known else None,
    )
    return None if found is None else found.voice / RATE_HZ


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize("word_s", [2.4, 3.6, 4.4, 4.6, 5.4, 9.0])
def test_the_sentence_is_found_early_or_late(word_s: float, known: bool) -> None:
    assert voice_s(heard(word_s), known=known) == pytest.approx(word_s, abs=NEAR_S)


@pytest.mark.parametrize("leak_db", [-20.0, -30.0, -45.0])
@pytest.mark.parametrize("word_s", [3.8, 4.3, 5.2])
def test_headphones_that_leak_are_not_the_reader(word_s: float, leak_db: float) -> None:
    assert voice_s(heard(word_s, leak_db=leak_db)) == pytest.approx(word_s, abs=NEAR_S)


def test_what_is_said_at_the_press_is_no_sentence() -> None:
    assert voice_s(heard(5.2, sorry=True)) == pytest.approx(5.2, abs=NEAR_S)


def test_a_leak_is_gauged() -> None:
    made = heard(5.2, leak_db=-25.0)
    structure = structure_of_sound(made.sound, RATE_HZ)
    assert structure is not None
    leak = find_leak(made.sound, RATE_HZ, made.lead_in, round(RESUME_S * RATE_HZ), structure)
    assert leak is not None
    # The loud parts of speech lie some decibels over its mean.
    assert SPEECH_DBOV - 26.0 < leak.level_dbov < SPEECH_DBOV - 19.0
    assert leak.stop / RATE_HZ == pytest.approx(RESUME_S + 0.03, abs=0.1)
    quiet = slice(round(1.7 * RATE_HZ), round(4.5 * RATE_HZ))
    left = np.mean(np.square((made.sound - leak.sound)[quiet]))
    assert left < 0.05 * np.mean(np.square(made.sound[quiet]))


@pytest.mark.parametrize("word_s", [3.0, 5.2])
def test_without_a_leak_none_is_found(word_s: float) -> None:
    made = heard(word_s)
    structure = structure_of_sound(made.sound, RATE_HZ)
    assert structure is not None
    resume = round(RESUME_S * RATE_HZ)
    assert find_leak(made.sound, RATE_HZ, made.lead_in, resume, structure) is None


def test_a_leak_is_not_in_the_room_tone_that_is_kept() -> None:
    made = heard(5.2, leak_db=-25.0)
    found = goes_on(
        made.sound,
        RATE_HZ,
        mark=round(MARK_S * RATE_HZ),
        resume=round(RESUME_S * RATE_HZ),
        lead_in=made.lead_in,
    )
    assert found is not None
    assert found.leak is not None
    assert found.clean_from / RATE_HZ > RESUME_S + 0.03


@pytest.mark.parametrize(("spoken_s", "gap_s"), [(0.4, 0.9), (1.0, 1.4)])
def test_a_hesitant_beginning_stays(spoken_s: float, gap_s: float) -> None:
    made = Made(seed=8)
    made.pause(0.2)
    made.speech(1.1)
    made.pause(1.6)
    word, _ = made.speech(spoken_s)
    made.pause(gap_s)
    assert made.length_s < RESUME_S + gap_s
    made.speech(2.5)
    found = voice_s(Heard(sound=made.samples(), lead_in=lead_in(), word=word))
    assert found == pytest.approx(word, abs=NEAR_S)


def test_nobody_who_goes_on_is_found() -> None:
    made = Made(seed=9)
    made.speech(1.2)
    made.pause(6.0)
    assert voice_s(Heard(sound=made.samples(), lead_in=lead_in(), word=0.0)) is None
