"""The hearability check: it finds what was made bad on purpose, and nothing where nobody cut."""

from __future__ import annotations

import json
from collections import Counter
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from quietleaf.listening.join_check import check_join, measure_room, own_limits
from quietleaf.listening.join_limits import ADVICE, JOIN_FAULT_KINDS, OwnLimits
from quietleaf.listening.reader_pauses import ReaderPauses, reader_pauses
from tests.bad_joins import FADE_S, KINDS, BadJoin, Kind, Reading, around, bad_join, in_a_booth
from tests.voices import RATE_HZ, Made

EXPECTED: dict[Kind, set[str]] = {
    "hard cut": {"in-speech", "edge", "pause-short"},
    "clipped consonant": {"in-speech", "edge"},
    "doubled breath": {"doubled-breath"},
    "floor step": {"floor-step", "band-step"},
    "pause short": {"pause-short", "in-speech"},
    "pause long": {"pause-long"},
}
FOUND_LEAST = 0.95
FALSE_MOST = 0.02


@pytest.fixture(scope="module")
def made() -> Reading:
    """A made voice that reads eighteen sentences."""
    draw = np.random.default_rng(8)
    voice = Made(seed=21, room_dbov=-68.0)
    voice.pause(1.0)
    for _ in range(18):
        voice.speech(float(draw.uniform(1.4, 3.0)))
        voice.pause(float(draw.uniform(0.35, 0.8)))
    reading = in_a_booth(voice.samples(), RATE_HZ, seed=2)
    assert reading is not None
    assert len(reading.pauses) == 17
    return reading


@cache
def known(reading: Reading) -> tuple[ReaderPauses, OwnLimits | None]:
    rate = reading.sample_rate_hz
    lengths = [(stop - start) / rate for start, stop in reading.pauses]
    return reader_pauses(lengths), own_limits(reading.samples, rate, reading.pauses)


def faults_at(reading: Reading, pause: tuple[int, int]) -> set[str]:
    """Listen to a pause that nobody touched, as if there were a join in its middle."""
    pauses, own = known(reading)
    part, middle = around(reading, pause)
    rate = reading.sample_rate_hz
    fade = round(FADE_S * rate)
    heard = check_join(part, rate, middle, fade_samples=fade, pauses=pauses, own=own)
    return {fault.kind for fault in heard.faults}


def faults_of(reading: Reading, bad: BadJoin) -> set[str]:
    pauses, own = known(reading)
    heard = check_join(
        bad.samples,
        reading.sample_rate_hz,
        bad.splice,
        fade_samples=bad.fade_samples,
        pauses=pauses,
        own=own,
    )
    return {fault.kind for fault in heard.faults}


@pytest.mark.parametrize("kind", KINDS)
def test_what_was_made_bad_is_found_for_what_it_is(made: Reading, kind: Kind) -> None:
    found = [
        bool(faults_of(made, bad_join(made, pause, kind, seed)) & EXPECTED[kind])
        for seed, pause in enumerate(made.pauses[1:-1:2])
    ]
    assert sum(found) >= FOUND_LEAST * len(found)


def test_where_nobody_cut_nothing_is_found(made: Reading) -> None:
    assert [faults_at(made, pause) for pause in made.pauses] == [set()] * len(made.pauses)


def test_a_fault_says_what_was_measured_and_what_to_do(made: Reading) -> None:
    pauses, own = known(made)
    bad = bad_join(made, made.pauses[4], "pause long", 1)
    heard = check_join(
        bad.samples, RATE_HZ, bad.splice, fade_samples=bad.fade_samples, pauses=pauses, own=own
    )
    (fault,) = [fault for fault in heard.faults if fault.kind == "pause-long"]
    assert fault.measured == pytest.approx(heard.measured["pause_s"], abs=1e-4)
    assert fault.measured > fault.limit == pauses.longest_s
    assert fault.advice == ADVICE["pause-long"]
    assert set(ADVICE) == set(JOIN_FAULT_KINDS)


def test_a_room_is_judged_only_by_what_is_known_of_it(made: Reading) -> None:
    bad = bad_join(made, made.pauses[4], "floor step", 1)
    heard = check_join(bad.samples, RATE_HZ, bad.splice, fade_samples=bad.fade_samples)
    # Some 3 dB were added to what was 44 dB under the voice on one side, less what was there.
    assert heard.measured["floor_step_db"] > 1.5
    assert not {"floor-step", "band-step"} & {fault.kind for fault in heard.faults}
    assert own_limits(made.samples, RATE_HZ, made.pauses[:9]) is None


def test_a_step_inside_one_pause_is_measured_and_names_nothing(made: Reading) -> None:
    part, middle = around(made, made.pauses[4])
    still = check_join(part, RATE_HZ, middle, fade_samples=480, own=known(made)[1])
    louder = part.copy()
    noise = np.random.default_rng(2).normal(size=RATE_HZ // 5)
    louder[middle : middle + noise.size] += noise * 10 ** (-60.0 / 20)
    heard = check_join(louder, RATE_HZ, middle, fade_samples=480, own=known(made)[1])
    assert still.measured["pause_step_db"] < 1.5
    assert heard.measured["pause_step_db"] > 3.0
    assert heard.faults == still.faults == ()
    # What is measured alone for the planning is the same.
    alone = measure_room(louder, RATE_HZ, middle)
    assert {name: heard.measured[name] for name in alone} == alone
    assert measure_room(np.zeros(RATE_HZ), RATE_HZ, 5) == {}


@pytest.mark.parametrize("rate", [8_000, 16_000, 44_100])
def test_silence_and_noise_alone_have_nothing_to_find(rate: int) -> None:
    for sound in (np.zeros(2 * rate), np.random.default_rng(1).normal(size=2 * rate) * 1e-3):
        assert check_join(sound, rate, rate, fade_samples=0).faults == ()


def test_a_click_is_found_in_room_tone() -> None:
    sound = np.random.default_rng(1).normal(size=2 * RATE_HZ) * 1e-4
    sound[RATE_HZ:] += 0.02
    heard = check_join(sound, RATE_HZ, RATE_HZ, fade_samples=0)
    assert "click" in {fault.kind for fault in heard.faults}


@pytest.mark.parametrize("place", [0, 5, RATE_HZ - 1])
def test_a_place_at_the_very_ends_is_no_trouble(made: Reading, place: int) -> None:
    check_join(made.samples[:RATE_HZ], RATE_HZ, place, fade_samples=480)


@pytest.mark.long
def test_on_real_voices(recordings: Path) -> None:
    """Nine readings: every pause as it is, and a bad join of each kind at every second one."""
    listed = json.loads((recordings / "catalogue.json").read_text())
    long = [
        row for row in listed if row["kind"] in ("continuous", "speech") and row["seconds"] > 25
    ]
    found: Counter[Kind] = Counter()
    made: Counter[Kind] = Counter()
    judged = wrong = 0
    for row in long:
        samples, rate = sf.read(recordings / row["file"], always_2d=True)
        reading = in_a_booth(samples[:, 0], rate, seed=3)
        assert reading is not None
        pauses, own = known(reading)
        fade = round(FADE_S * rate)
        for seed, pause in enumerate(reading.pauses):
            part, middle = around(reading, pause)
            whole = check_join(part, rate, middle, fade_samples=fade, pauses=pauses, own=own)
            judged, wrong = judged + 1, wrong + bool(whole.faults)
            if seed % 2:
                continue
            for kind in KINDS:
                bad = bad_join(reading, pause, kind, seed // 2)
                heard = check_join(
                    bad.samples,
                    rate,
                    bad.splice,
                    fade_samples=bad.fade_samples,
                    pauses=pauses,
                    own=own,
                )
                made[kind] += 1
                found[kind] += bool(heard.faults)
    assert sum(made.values()) >= 200
    assert found.total() >= FOUND_LEAST * made.total(), (found, made)
    assert wrong <= FALSE_MOST * judged, (wrong, judged)
