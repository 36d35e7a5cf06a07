"""A recogniser asked about what may have been read twice: by hand, and a real one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bench.proving.mess import RESTARTS_TRUE
from bench.proving.recordings import load_pieces
from bench.proving.scores import score_restarts
from bench.proving.session import make_session
from quietleaf.errors import Invalid
from quietleaf.listening.recognised import Stretch
from quietleaf.listening.restart_choice import Proposal
from quietleaf.listening.restart_pairs import PAIR_NUMBERS, Pair
from quietleaf.listening.restart_rows import Phrase
from quietleaf.storage.recogniser import open_recogniser
from quietleaf.storage.sound_source import SoundInfo, read_in_blocks
from quietleaf.work.hear_recording import HearRecording, hear_recording
from quietleaf.work.hear_words import restarts_by_words
from tests.signals import write_wave

RATE_HZ = 100


class Counted:
    """A minute of samples that tell where they lie, in seconds."""

    info = SoundInfo(sample_rate_hz=RATE_HZ, channels=1, frames=60 * RATE_HZ, encoding="counted")

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
    found = restarts_by_words(
        asked, Counted(), Knowing(), lambda step, done: told.append((step, done))
    )
    assert [(one.kind, one.start_s, one.end_s) for one in found] == [
        ("restart", 29.7, 31.7),
        ("restart", 39.7, 57.7),
    ]
    assert {step for step, _ in told} == {"Recognising words"}
    assert [done for _, done in told] == pytest.approx([1 / 3, 2 / 3, 1.0])


def test_a_few_seconds_of_each_are_listened_to_once() -> None:
    recogniser = Knowing()
    restarts_by_words([maybe(30.0, 32.0), maybe(22.0, 32.0)], Counted(), recogniser)
    # A first try with a little of the pauses around it, and what was read again.
    expected_s = [(29.9, 31.54), (31.9, 36.99), (21.9, 26.99)]
    assert np.array(recogniser.heard_s) == pytest.approx(np.array(expected_s))
    assert recogniser.learned_s == pytest.approx(list(np.linspace(0.0, 55.0, 12)), abs=0.01)


def test_where_nothing_is_open_nobody_is_asked() -> None:
    recogniser = Knowing()
    assert restarts_by_words([], Counted(), recogniser) == ()
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
