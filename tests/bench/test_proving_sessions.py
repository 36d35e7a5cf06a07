"""Made sessions: the same from the same seed, and labels lie where the sound is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bench.proving.labels import FAULTS, of_kind
from bench.proving.made_pieces import made_pieces
from bench.proving.mess import CLEAN, DENSE, RESTARTS_TRUE, RESTARTS_WARPED, How, Mess
from bench.proving.pieces import Noise, Pieces, voice_folds
from bench.proving.reading import SAME_AGAIN_S
from bench.proving.recordings import load_pieces
from bench.proving.session import Session, make_session
from bench.proving.shaping import has_hum, rms_db, tempo_changed

LENGTH_S = 60.0
FAULTY = replace(
    DENSE, restarts=3.0, dropouts=5.0, repeats=5.0, drops=5.0, clips=3.0, floor_dbfs=(-70.0, -70.0)
)


@pytest.fixture(scope="module")
def pieces() -> Pieces:
    return made_pieces()


@pytest.fixture(scope="module")
def faulty(pieces: Pieces) -> Session:
    return made(pieces, FAULTY)


def made(pieces: Pieces, mess: Mess, voice: str = "made-1", seed: int = 5) -> Session:
    return make_session(pieces, seed, voice=voice, length_s=LENGTH_S, mess=mess)


def part(session: Session, start_s: float, end_s: float) -> NDArray[np.float64]:
    rate = session.sample_rate_hz
    return session.samples[round(start_s * rate) : round(end_s * rate)]


def test_the_same_seed_gives_the_same(pieces: Pieces, faulty: Session) -> None:
    again = made(pieces, FAULTY)
    assert np.array_equal(again.samples, faulty.samples)
    assert again.labels == faulty.labels
    assert not np.array_equal(made(pieces, FAULTY, seed=6).samples[:1000], faulty.samples[:1000])


def test_a_clean_session_has_no_faults(pieces: Pieces) -> None:
    session = made(pieces, CLEAN)
    assert of_kind(session.labels, *FAULTS) == ()
    assert len(of_kind(session.labels, "speech")) > 8
    assert session.length_s >= LENGTH_S
    assert np.abs(session.samples).max() < 1.0


def test_faults_of_samples_lie_where_they_are_told(faulty: Session) -> None:
    drops = of_kind(faulty.labels, "dropout")
    rate = faulty.sample_rate_hz
    assert {label.detail["what"] for label in drops} == {"zeros", "repeated", "dropped"}
    for label in drops:
        if label.detail["what"] == "zeros":
            assert not part(faulty, label.start_s, label.end_s).any()
        elif label.detail["what"] == "repeated":
            start, size = round(label.start_s * rate), label.detail["size"]
            block = faulty.samples[start : start + size]
            assert np.array_equal(block, faulty.samples[start - size : start])
    for label in of_kind(faulty.labels, "clip"):
        there = np.abs(part(faulty, label.start_s, label.end_s))
        assert (there >= label.detail["ceiling"] - 1e-12).sum() >= 6


def test_sounds_lie_where_they_are_told(pieces: Pieces) -> None:
    mess = replace(CLEAN, natural_breaths=0.0, rustles=3.0, coughs=3.0, under_speech=0.0)
    session = made(pieces, mess)
    sounds = of_kind(session.labels, "rustle", "cough")
    assert len(sounds) > 3
    for label in sounds:
        before = rms_db(part(session, label.start_s - 0.1, label.start_s - 0.02))
        assert rms_db(part(session, label.start_s, label.end_s)) > before + 6.0
        assert label.detail["source"] in {
            noise.name for group in pieces.noises.values() for noise in group
        }


@pytest.mark.parametrize("voice", ["made-2", "made-3"])
def test_a_false_start_is_alike_and_lies_between_pauses(pieces: Pieces, voice: str) -> None:
    mess = RESTARTS_TRUE if voice == "made-3" else RESTARTS_WARPED
    session = made(pieces, replace(mess, restarts=9.0), voice)
    restarts = of_kind(session.labels, "restart")
    assert len(restarts) >= 3
    speech = of_kind(session.labels, "speech")
    for label in restarts:
        (before, onset), (ended, again) = (
            label.detail["pause_before_s"],
            label.detail["pause_again_s"],
        )
        assert before < onset == label.start_s < ended < again == label.end_s
        silent = rms_db(part(session, onset - 0.15, onset - 0.08))
        spoken = rms_db(part(session, onset, ended))
        if not label.detail["between"] and label.detail["attempt"] == 1:
            assert spoken > silent + 10.0
        tried = next(one for one in speech if one.start_s == onset)
        read = next(one for one in speech if one.start_s == again)
        assert tried.detail["role"] == "attempt"
        assert read.detail["clip"] == tried.detail["clip"]


def test_no_sentence_comes_back_soon_unless_it_is_told(pieces: Pieces) -> None:
    session = make_session(pieces, 2, voice="made-1", length_s=150.0, mess=CLEAN)
    said = [
        label
        for label in of_kind(session.labels, "speech")
        if label.detail["role"] in ("read", "doubled")
    ]
    ended_s: dict[str, float] = {}
    for label in said:
        clip = label.detail["clip"]
        assert label.start_s - ended_s.get(clip, -np.inf) >= SAME_AGAIN_S
        ended_s[clip] = label.end_s
    assert all(one.end_s <= other.start_s for one, other in pairwise(said))


def test_a_voice_with_few_sentences_ends_early(pieces: Pieces) -> None:
    few = replace(pieces, clips={"made-1": pieces.clips["made-1"][:3]})
    session = make_session(few, 1, voice="made-1", length_s=60.0, mess=CLEAN)
    assert session.length_s < 25.0


def test_rooms_bands_and_steps_are_laid(pieces: Pieces) -> None:
    mess = replace(
        CLEAN, room=0, band_hz=4_000.0, steps=3.0, dropouts=3.0, microphone="dark", coded_kbps=64
    )
    session = made(pieces, mess)
    assert of_kind(session.labels, "dropout")
    assert of_kind(session.labels, "room")
    assert of_kind(session.labels, "level-step")
    spectrum = np.abs(np.fft.rfft(session.samples))
    hz = np.fft.rfftfreq(session.samples.size, 1.0 / session.sample_rate_hz)
    assert spectrum[hz > 4_300.0].max() < 0.02 * spectrum.max()


def test_the_tempo_changes_and_the_pitch_does_not() -> None:
    rate = 16_000
    tone = np.sin(2 * np.pi * 200.0 * np.arange(2 * rate) / rate)
    quicker = tempo_changed(tone, rate, 1.1)
    assert quicker.size == pytest.approx(2 * rate / 1.1, abs=1)
    middle = quicker[rate // 4 : rate // 4 + rate]
    assert int(np.argmax(np.abs(np.fft.rfft(middle)))) == 200
    assert np.abs(middle).max() == pytest.approx(1.0, abs=0.1)


def test_recordings_that_hum_by_themselves_are_known() -> None:
    rate = 8_000
    noise = 1e-3 * np.random.default_rng(2).normal(size=4 * rate)
    t = np.arange(noise.size) / rate
    line = sum(2e-3 * np.sin(2 * np.pi * hz * t) for hz in (50.0, 150.0))
    assert not has_hum([noise], rate)
    assert has_hum([noise + line], rate)


def test_a_wide_mix_holds_what_the_voice_has_not(pieces: Pieces) -> None:
    mess = replace(CLEAN, floor_dbfs=(-90.0, -90.0), rustles=4.0, under_speech=0.0)
    click = np.diff(np.random.default_rng(1).normal(size=20_000))
    some = replace(pieces, noises={}).with_sounds([("rustle", "hiss", click, 44_100, "-")])
    above = []
    for wide in (False, True):
        session = make_session(
            some,
            4,
            voice="made-1",
            length_s=40.0,
            mess=replace(mess, wide=wide),
            sample_rate_hz=44_100,
        )
        label = of_kind(session.labels, "rustle")[0]
        there = part(session, label.start_s, label.end_s)
        spectrum = np.abs(np.fft.rfft(there)) ** 2
        above.append(spectrum[spectrum.size // 2 :].sum() / spectrum.sum())
    assert above[0] < 1e-4
    assert above[1] > 0.3


def test_recordings_and_voices_can_be_held_out(pieces: Pieces) -> None:
    def names(some: Pieces) -> Iterator[Noise]:
        return (noise for group in some.noises.values() for noise in group)

    known = {noise.name for noise in names(pieces.only("known"))}
    unseen = {noise.name for noise in names(pieces.only("unseen"))}
    assert not known & unseen
    assert known | unseen == {noise.name for noise in names(pieces)}
    assert "made-1" not in pieces.without(voices=["made-1"]).voices
    assert voice_folds(["c", "a", "b"], 2) == (("a", "c"), ("b",))
    sound = np.ones(100)
    more = pieces.with_sounds(
        [("page_turn", "p#1", sound, 8_000, "-"), ("page_turn", "p#2", sound, 8_000, "-")]
    )
    added = [noise for noise in names(more) if noise.name.startswith("p#")]
    assert [noise.kind for noise in added] == ["rustle", "rustle"]
    assert added[0].half == added[1].half
    assert {noise.name for noise in names(more.only("known"))} >= known


def test_shared_recordings_make_sessions(recordings: Path) -> None:
    shared = load_pieces(recordings)
    assert set(shared.noises) <= {*FAULTS, "breath-natural"}
    both: tuple[tuple[str, How], ...] = (("lj", "warped"), (shared.repeat_voices[0], "true"))
    for voice, how in both:
        session = make_session(
            shared, 3, voice=voice, length_s=40.0, mess=replace(DENSE, how=how, restarts=6.0)
        )
        assert of_kind(session.labels, "restart")
