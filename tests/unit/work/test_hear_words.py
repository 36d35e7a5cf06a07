"""A recogniser asked about what may have been read twice: by hand, and a real one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bench.proving.mess import RESTARTS_TRUE
from bench.proving.recordings import load_pieces
from bench.proving.scores import score_restarts
from bench.proving.session import make_session
from quietleaf.errors import Invalid
from quietleaf.listening import listen
from quietleaf.listening.pace import SYLLABLES_A_NUCLEUS, SYLLABLES_A_WORD, syllables_a_word
from quietleaf.listening.recognised import HeardWords, Stretch
from quietleaf.listening.restart_choice import Proposal
from quietleaf.listening.restart_pairs import PAIR_NUMBERS, Pair
from quietleaf.listening.restart_rows import Phrase
from quietleaf.storage.recogniser import open_recogniser
from quietleaf.storage.sound_source import SoundInfo, read_in_blocks
from quietleaf.work.hear_recording import HearRecording, hear_recording
from quietleaf.work.hear_words import RECOGNISING, hear_words
from tests.signals import write_wave
from tests.voices import RATE_HZ as VOICE_RATE_HZ
from tests.voices import Made

RATE_HZ = 100


class Counted:
    """A minute of samples that tell where they lie, in seconds."""

    def __init__(self) -> None:
        self.info = SoundInfo(
            sample_rate_hz=RATE_HZ, channels=1, frames=60 * RATE_HZ, encoding="counted"
        )

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        return read_in_blocks(self, block_frames)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        return np.arange(start, stop)[:, np.newaxis] / RATE_HZ


class Knowing:
    """Hears one sound over and over from 20 s on, and others before."""

    def __init__(self) -> None:
        self.heard_s: list[tuple[float, float]] = []
        self.learned_s: list[float] = []

    def get_used_to(
        self, sounds: Sequence[NDArray[np.float64]], sample_rate_hz: int
    ) -> NDArray[np.float32]:
        self.learned_s = [float(sound[0]) for sound in sounds]
        return np.random.default_rng(1).normal(size=(500, 120)).astype(np.float32)

    def listen(self, samples: NDArray[np.float64], sample_rate_hz: int) -> Stretch:
        self.heard_s.append((float(samples[0]), float(samples[-1])))
        seed = 7 if samples[0] > 20.0 else round(100 * samples[0])
        rows = np.random.default_rng(seed).normal(size=(40, 120)).astype(np.float32)
        return Stretch(pieces=(" as", " said"), likelihoods=np.full(2, -0.2), rows=rows)

    def likelihoods_in(self, said: Stretch, sound: Stretch) -> NDArray[np.float64]:
        return np.full(2, -0.2 if np.array_equal(said.rows, sound.rows) else -9.0)


def maybe(first_s: float, again_s: float, likelihood: float = 0.5) -> Proposal:
    def phrase(at_s: float) -> Phrase:
        first = round(100 * at_s)
        return Phrase(first=first, stop=first + 80, pause=60, likelihood=0.8, noise_db=-50.0)

    numbers = np.zeros(len(PAIR_NUMBERS), dtype=np.float32)
    pair = Pair(before=phrase(first_s), again=phrase(again_s), numbers=numbers)
    return Proposal(pair=pair, likelihood=likelihood)


def test_what_words_bear_out_is_found_and_nothing_else() -> None:
    told: list[tuple[str, float]] = []
    asked = [maybe(3.0, 5.0, 0.9), maybe(30.0, 32.0), maybe(40.0, 58.0)]
    found = hear_words(asked, Counted(), Knowing(), lambda step, done: told.append((step, done)))
    assert [(one.kind, one.start_s, one.end_s) for one in found.restarts] == [
        ("restart", 29.7, 31.7),
        ("restart", 39.7, 57.7),
    ]
    # Three pairs, and words counted in six places of ten seconds.
    assert {step for step, _ in told} == {RECOGNISING}
    assert [done for _, done in told] == pytest.approx([part / 9 for part in range(1, 10)])


def test_a_few_seconds_of_each_are_listened_to_once() -> None:
    recogniser = Knowing()
    hear_words([maybe(30.0, 32.0), maybe(22.0, 32.0)], Counted(), recogniser)
    # A first try with a little of the pauses around it, and what was read again.
    expected_s = [(29.9, 31.54), (31.9, 36.99), (21.9, 26.99)]
    assert np.array(recogniser.heard_s[:3]) == pytest.approx(np.array(expected_s))
    assert recogniser.learned_s == pytest.approx(list(np.linspace(0.0, 55.0, 12)), abs=0.01)


def test_words_are_counted_all_over_a_recording() -> None:
    recogniser = Knowing()
    told = hear_words([], Counted(), recogniser)
    assert told.restarts == ()
    assert told.words == 6 * 2
    assert told.places_s[[0, -1]].tolist() == [[0.0, 10.0], [50.0, 60.0]]
    assert len(recogniser.heard_s) == 6
    nuclei = np.arange(0, 6_000, 100).astype(np.uint32)
    assert syllables_a_word(nuclei, told.places_s, 30) == pytest.approx(2 * SYLLABLES_A_NUCLEUS)
    # Hardly any words, and words that are none.
    assert syllables_a_word(nuclei, told.places_s, 5) == SYLLABLES_A_WORD
    assert syllables_a_word(nuclei, told.places_s, 600) == SYLLABLES_A_WORD


def test_what_a_recogniser_says_goes_before_what_the_sound_says() -> None:
    made = Made(seed=4)
    made.pause(1.0)
    made.speech(9.0)
    made.pause(1.0)
    state = listen.start(VOICE_RATE_HZ, 1)
    listen.step(state, made.samples()[:, np.newaxis])
    alone = listen.result(state)
    (restart,) = hear_words([maybe(30.0, 32.0)], Counted(), Knowing()).restarts
    words = HeardWords(restarts=(restart,), places_s=np.array([[0.0, 11.0]]), words=20)
    told = listen.result(state, words=words)
    assert [one for one in alone.findings if one.kind == "restart"] == []
    assert [one for one in told.findings if one.kind == "restart"] == [restart]
    assert (alone.verdict, told.verdict) == ("ready", "needs an ear")
    spoken_s = told.speech_s[-1, 1] - told.speech_s[0, 0]
    assert told.pace.syllables_per_minute == alone.pace.syllables_per_minute
    assert told.pace.words_per_minute == pytest.approx(20 * 60.0 / spoken_s, rel=0.03)


def test_in_half_a_second_nobody_is_asked() -> None:
    recogniser = Knowing()
    sound = Counted()
    sound.info = replace(sound.info, frames=RATE_HZ // 2)
    assert hear_words([], sound, recogniser).words == 0
    assert recogniser.learned_s == []


def test_a_folder_without_a_model_is_refused_whether_the_extra_is_there_or_not(
    tmp_path: Path,
) -> None:
    (tmp_path / "config.json").touch()
    with pytest.raises(Invalid, match=r"lacks model\.bin, tokenizer\.json"):
        open_recogniser(tmp_path)


@pytest.mark.long
def test_a_real_recogniser_finds_more_of_what_was_read_twice(
    recordings: Path, recogniser_model: Path, tmp_path: Path
) -> None:
    recogniser = open_recogniser(recogniser_model)
    assert recogniser is not None
    pieces = load_pieces(recordings)
    by_sound, by_words = 0, 0
    for seed, voice in ((71, "emodb_13"), (72, "emodb_11")):
        session = make_session(pieces, seed, voice=voice, length_s=240.0, mess=RESTARTS_TRUE)
        file = write_wave(tmp_path / f"{seed}.wav", session.samples, session.sample_rate_hz)
        for asked in (None, recogniser):
            findings = hear_recording(HearRecording(path=file), recogniser=asked).findings
            score, wrong = score_restarts(session.labels, findings)
            assert len(wrong) <= 2
            if asked:
                by_words += score.found
            else:
                by_sound += score.found
    assert by_words > by_sound
