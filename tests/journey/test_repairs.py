"""Messy readings whose truth is known, planned, rendered and heard again: repairs hold, words stay.

The sessions are those of the proving ground, of real voices.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bench.proving.mess import CLEAN, DENSE, Mess
from bench.proving.pieces import Pieces
from bench.proving.recordings import load_pieces
from bench.proving.session import Session, make_session
from quietleaf.finishing.assembly import dry_blocks
from quietleaf.finishing.high_pass import start_high_pass, step_high_pass
from quietleaf.finishing.make_plan import Wishes, make_plan
from quietleaf.finishing.plan import Cut, Plan
from quietleaf.finishing.repaired_sound import LAY_SAMPLES, repaired
from quietleaf.finishing.repairs import Repair, Replaced
from quietleaf.finishing.targets import target_of_text
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.listen import hear
from quietleaf.work.finish_repairs import repaired_and_heard
from quietleaf.work.hear_joins import hear_joins
from tests.unit.finishing.planned import ENDS, survey_of
from tests.voices import RATE_HZ, Held

WISHES = Wishes(target=target_of_text("ebu-r128"), ends=ENDS, window=None, mp3_kbps=64)
NOISY = replace(
    CLEAN,
    alike=0.0,
    refrains=0.0,
    doubled=0.0,
    rustles=4.0,
    coughs=3.0,
    clicks=3.0,
    noises=4.0,
    under_speech=0.0,
)
MESSY = replace(DENSE, echoes=0.0, steps=0.0, beds=0.0, voices=0.0)
VOICES = ("lj", "frA", "ls2033", "frB", "p225", "ls2414")
WORD_EDGE_S = 0.03
SOUND_SAMPLES, SOUND_DB, SOUND_HZ = 480, 28.0, 80.0
AGAIN_MOST = 0.05
WRONG_CUTS_MOST = 0.1
"""Of restarts that are sure, 3 to 6 in 100 are none."""
FALSE_ALARMS = 0.01
"""Of untouched pauses the check names 0.7 to 2.9 in 100."""


@functools.cache
def pieces_of(recordings: Path) -> Pieces:
    return load_pieces(recordings)


def session_of(pieces: Pieces, voice: str, mess: Mess, seed: int) -> Session:
    return make_session(
        pieces, seed, voice=voice, length_s=150.0, mess=mess, sample_rate_hz=RATE_HZ
    )


def heard(samples: NDArray[np.float64]) -> Hearing:
    blocks = (samples[at : at + 65_536, np.newaxis] for at in range(0, samples.size, 65_536))
    return hear(blocks, RATE_HZ, 1)


def plan_of(samples: NDArray[np.float64], told: Hearing) -> Plan:
    return make_plan(survey_of(samples), Held(samples), WISHES, heard=told)


def replaced(plan: Plan) -> list[Replaced]:
    return [one for one in plan.layout.repairs if isinstance(one, Replaced) and one.state == "made"]


def shown_at(samples: NDArray[np.float64], repairs: tuple[Repair, ...]) -> list[Finding]:
    """Listen to both ends of what was replaced."""
    whole = repaired(Held(samples), repairs).read(0, samples.size)[:, 0]
    whole = step_high_pass(start_high_pass(RATE_HZ), whole)
    told, half = heard(whole), LAY_SAMPLES // 2
    laid = [one for one in repairs if isinstance(one, Replaced) and one.state == "made"]
    found: list[Finding] = []
    for places in ([one.start + half for one in laid], [one.stop - half for one in laid]):
        found += hear_joins(Held(whole), places, told, LAY_SAMPLES)
    return [one for one in found if one.severity != "note"]


def words_under(session: Session, gone: Sequence[Cut | Replaced]) -> list[str]:
    """Give the sentences, but for first tries, that something is taken of.

    What lies further under the voice than any of its sounds is the breath before a sentence.
    """
    clips = [
        label
        for label in session.labels
        if label.kind == "speech" and label.detail["role"] != "attempt"
    ]
    heard_of = step_high_pass(start_high_pass(RATE_HZ, SOUND_HZ), session.samples)
    power = np.convolve(heard_of**2, np.full(SOUND_SAMPLES, 1.0 / SOUND_SAMPLES), "same")
    least = 10.0 ** (-SOUND_DB / 10.0) * float(np.percentile(power, 95.0))
    lost = []
    for label in clips:
        for one in gone:
            start = max(one.start, round((label.start_s + WORD_EDGE_S) * RATE_HZ))
            stop = min(one.stop, round((label.end_s - WORD_EDGE_S) * RATE_HZ))
            if start < stop and float(power[start:stop].max()) > least:
                text = label.detail.get("text")
                lost.append(f"{session.voice} at {label.start_s:.1f} s: {text}")
    return lost


@pytest.mark.long
def test_two_hundred_noises_in_pauses_of_real_voices_do_not_show(recordings: Path) -> None:
    made = 0
    shown: list[Finding] = []
    lost: list[str] = []
    for seed in range(41, 44):
        for voice in VOICES:
            session = session_of(pieces_of(recordings), voice, NOISY, seed)
            plan = plan_of(session.samples, heard(session.samples))
            made += len(replaced(plan))
            shown += shown_at(session.samples, plan.layout.repairs)
            lost += words_under(session, replaced(plan))
    assert made >= 200
    assert len(shown) <= FALSE_ALARMS * 2 * made
    assert lost == []


@pytest.mark.long
def test_messy_readings_are_heard_again_without_what_was_repaired(recordings: Path) -> None:
    again: list[tuple[str, str, str]] = []
    lost: list[str] = []
    wrong: list[list[str]] = []
    repairs = cuts = 0
    for seed, voice in enumerate(VOICES, start=71):
        session = session_of(pieces_of(recordings), voice, MESSY, seed)
        told = heard(session.samples)
        plan = plan_of(session.samples, told)
        master = np.concatenate(list(dry_blocks(plan.layout, Held(session.samples))))
        repairs += sum(one.state == "made" for one in plan.layout.repairs)
        found = repaired_and_heard(plan.layout, heard(master).findings)
        again += [(voice, one.kind, one.severity) for one in found]
        lost += words_under(session, replaced(plan))
        made = [one for one in plan.layout.cuts if one.kind == "restart" and one.state == "made"]
        cuts += len(made)
        wrong += [name for name in (words_under(session, [one]) for one in made) if name]
    assert [one for one in again if one[2] == "fix"] == []
    assert len(again) <= AGAIN_MOST * repairs
    assert lost == []
    assert len(wrong) <= WRONG_CUTS_MOST * cuts
