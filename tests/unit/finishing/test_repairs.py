"""Repairs: what was found is gone, what was not found is as it was to the last bit."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt, sosfiltfilt

from quietleaf.errors import Invalid
from quietleaf.finishing.decisions import repairs_as_decided
from quietleaf.finishing.high_pass import start_high_pass, step_high_pass
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.finishing.plan_repairs import plan_repairs
from quietleaf.finishing.repaired_sound import LAY_SAMPLES, repaired
from quietleaf.finishing.repairs import Interpolation, LowBand, Repair, Replaced, TurnedDown
from quietleaf.finishing.resurvey import resurveyed
from quietleaf.finishing.structure import structure_of
from quietleaf.listening.findings import Finding, FindingKind
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.listen import hear
from quietleaf.work.hear_joins import hear_joins
from tests.unit.finishing.planned import plan_of, survey_of
from tests.voices import RATE_HZ, Held, Made, reading

Sound = NDArray[np.float64]


def finding(
    kind: FindingKind, start_s: float, end_s: float, value: float = 0.0, limit: float | None = None
) -> Finding:
    return Finding(
        kind=kind,
        start_s=start_s,
        end_s=end_s,
        severity="note",
        value=value,
        limit=limit,
        unit="dB over the voice",
        advice="",
    )


def heard(samples: Sound) -> Hearing:
    return hear([samples[:, np.newaxis]], RATE_HZ, 1)


def planned(samples: Sound, *findings: Finding, decided: tuple[Repair, ...] = ()) -> list[Repair]:
    structure = structure_of(survey_of(samples))
    assert structure is not None
    told = replace(heard(samples), findings=findings)
    return list(plan_repairs(told, structure, Held(samples), (), decided))


def after(samples: Sound, repairs: list[Repair]) -> Sound:
    return repaired(Held(samples), repairs).read(0, samples.size)[:, 0]


def with_noises(seed: int, count: int = 6) -> tuple[Sound, Sound, list[Finding]]:
    """A reading with noises in its pauses; the same without; where they are."""
    made = Made(seed=seed)
    draw = np.random.default_rng(seed)
    made.pause(0.8)
    found = []
    for _ in range(count):
        made.speech(1.5 + draw.random())
        made.pause(0.55 + 0.2 * draw.random())
        at_s = made.length_s
        length_s = float(draw.choice([0.03, 0.15, 0.4]))
        made.pause(length_s)
        found.append((at_s, length_s))
        made.pause(0.55 + 0.2 * draw.random())
    made.speech(2.0)
    made.pause(1.0)
    clean = made.samples()
    noisy = clean.copy()
    for at_s, length_s in found:
        band = butter(2, [800.0, 5_000.0], "bandpass", fs=RATE_HZ, output="sos")
        noise = sosfilt(band, draw.normal(size=round(length_s * RATE_HZ))) * 0.05
        first = round(at_s * RATE_HZ)
        noisy[first : first + noise.size] += noise * np.hanning(noise.size) ** 0.3
    return clean, noisy, [finding("noise", at_s, at_s + length_s) for at_s, length_s in found]


def test_twenty_noises_in_pauses_are_gone_and_nobody_hears_where() -> None:
    shown: list[Finding] = []
    made = 0
    for seed in (1, 2):
        _, noisy, findings = with_noises(seed, 11)
        repairs = planned(noisy, *findings)
        chosen = [one for one in repairs if isinstance(one, Replaced) and one.state == "made"]
        made += len(chosen)
        assert all(one.measured["after_db"] < 6.0 < one.measured["over_room_db"] for one in chosen)
        master = step_high_pass(start_high_pass(RATE_HZ), after(noisy, repairs))
        told = heard(master)
        half = LAY_SAMPLES // 2
        for places in ([r.start + half for r in chosen], [r.stop - half for r in chosen]):
            shown += hear_joins(Held(master), places, told, LAY_SAMPLES)
        assert not [one for one in told.findings if one.kind in ("noise", "click", "rustle")]
    assert made >= 20
    assert [one for one in shown if one.severity != "note"] == []


def test_a_word_and_what_touches_one_is_never_replaced() -> None:
    made = Made(seed=7)
    made.pause(0.8)
    made.speech(2.0)
    made.pause(0.7)
    word_s = made.speech(0.3)
    made.pause(0.7)
    other_s = made.speech(2.0)
    made.pause(1.0)
    samples = made.samples()
    repairs = planned(
        samples,
        finding("noise", *word_s),
        finding("rustle", other_s[0] + 0.5, other_s[0] + 0.6),
    )
    assert {one.state for one in repairs} == {"left"}
    assert {one.reason.split(": ")[1] for one in repairs} == {
        "it may be a voice",
        "it touches a word",
    }


def test_a_loud_breath_is_turned_down_and_the_room_stays() -> None:
    made = Made(seed=8)
    made.pause(0.8)
    made.speech(2.0)
    made.pause(0.6)
    breath_s = made.noise(0.4, -34.0)
    made.pause(0.3)
    made.speech(2.0)
    made.pause(1.0)
    samples = made.samples()
    (repair,) = planned(samples, finding("breath", *breath_s, value=-10.0, limit=-18.0))
    assert isinstance(repair, TurnedDown)
    assert repair.by_db == 14.0
    inside = slice(round((breath_s[0] + 0.1) * RATE_HZ), round((breath_s[1] - 0.1) * RATE_HZ))
    fell_db = 10 * np.log10(np.mean(after(samples, [repair])[inside] ** 2))
    fell_db -= 10 * np.log10(np.mean(samples[inside] ** 2))
    assert fell_db == pytest.approx(-14.0, abs=0.5)


def test_of_a_pop_the_low_band_goes_and_the_consonant_stays() -> None:
    made = reading(seed=9, sentences=5)
    clean = made.samples()
    at = round(3.0 * RATE_HZ)
    time_s = np.arange(round(0.06 * RATE_HZ)) / RATE_HZ
    popped = clean.copy()
    thump = np.sin(2 * np.pi * 45.0 * time_s) * np.exp(-time_s / 0.02)
    popped[at : at + time_s.size] += 0.35 * thump
    speech_dbov = heard(clean).level.active_speech_dbov
    assert speech_dbov is not None
    pop = finding("pop", 3.0, 3.05, value=10.0, limit=-6.0)
    (repair,) = planned(popped, pop)
    assert isinstance(repair, LowBand)
    assert repair.measured["over_voice_db"] > -6.0 > repair.measured["after_db"]
    whole = after(popped, [repair])
    inside = slice(repair.start, repair.stop)
    high = butter(4, 400.0, "highpass", fs=RATE_HZ, output="sos")
    change = sosfiltfilt(high, (whole - popped)[repair.start - 4_800 : repair.stop + 4_800])
    voice = sosfiltfilt(high, popped[repair.start - 4_800 : repair.stop + 4_800])
    assert np.sum(change**2) < 1e-4 * np.sum(voice**2)
    assert np.sum((whole - clean)[inside] ** 2) < 0.1 * np.sum((popped - clean)[inside] ** 2)


def test_a_gap_is_filled_up_to_20_ms_and_a_longer_one_is_reported() -> None:
    clean = reading(seed=10, sentences=4).samples()
    samples = clean.copy()
    gaps = [(2.0, 0.004), (5.0, 0.012), (7.0, 0.05)]
    for at_s, length_s in gaps:
        samples[round(at_s * RATE_HZ) : round((at_s + length_s) * RATE_HZ)] = 0.0
    found = [
        finding("dropout", at_s, at_s + length_s, value=1000 * length_s, limit=3.0)
        for at_s, length_s in gaps
    ]
    repairs = planned(samples, *found)
    assert [one.state for one in repairs] == ["made", "made", "left"]
    assert "50 ms: that is too long" in repairs[2].reason
    told = heard(after(samples, repairs))
    assert [one.start_s for one in told.findings if one.kind == "dropout"] == [
        pytest.approx(7.0, abs=0.01)
    ]


def test_clipping_is_given_back_and_is_no_finding_any_more() -> None:
    clean = reading(seed=11, sentences=4).samples()
    samples = clean.copy()
    level = 0.6 * float(np.abs(clean[2 * RATE_HZ : 3 * RATE_HZ]).max())
    part = samples[2 * RATE_HZ : 3 * RATE_HZ]
    np.clip(part, -level, level, out=part)
    (clip,) = [one for one in heard(samples).findings if one.kind == "clip"]
    (repair,) = planned(samples, clip)
    assert isinstance(repair, Interpolation)
    assert repair.measured["after_runs"] == 0.0
    assert repair.measured["longest_samples"] <= 63.0
    whole = after(samples, [repair])
    assert not [one for one in heard(whole).findings if one.kind == "clip"]
    error = np.sum((whole - clean) ** 2) / np.sum((samples - clean) ** 2)
    assert error < 0.3


def all_sorts() -> tuple[Sound, list[Repair]]:
    _, samples, findings = with_noises(5, 3)
    zeros = samples.copy()
    zeros[100_000:100_300] = 0.0
    found = finding("dropout", 100_000 / RATE_HZ, 100_300 / RATE_HZ, value=6.0, limit=3.0)
    thump = finding("pop", 2.6, 2.65, value=3.0, limit=-60.0)
    repairs = planned(zeros, *findings, found)
    start = round(2.6 * RATE_HZ)
    low = LowBand(
        kind="pop",
        start=start,
        stop=start + 6_000,
        corner_hz=85.0,
        by_db=20.0,
        state="made",
        by="desk",
        reason=thump.advice,
        measured={},
    )
    return zeros, [*repairs, low]


def test_the_same_however_it_is_read_and_not_a_bit_else() -> None:
    samples, repairs = all_sorts()
    assert sum(one.state == "made" for one in repairs) == 5
    whole = after(samples, repairs)
    untouched = np.ones(samples.size, dtype=np.bool_)
    for one in repairs:
        untouched[one.start : one.stop] = False
    assert np.array_equal(whole[untouched], samples[untouched])
    assert not np.array_equal(whole, samples)
    sound = repaired(Held(samples), repairs)
    cuts = [0, *sorted(np.random.default_rng(2).integers(0, samples.size, 40)), samples.size]
    parts = [sound.read(int(a), int(b))[:, 0] for a, b in pairwise(cuts)]
    assert np.array_equal(np.concatenate(parts), whole)


def test_only_frames_that_differ_are_surveyed_anew() -> None:
    samples, repairs = all_sorts()
    quick = resurveyed(survey_of(samples), repaired(Held(samples), repairs), repairs)
    slow = survey_of(after(samples, repairs))
    assert np.abs(np.sqrt(quick.power) - np.sqrt(slow.power)).max() < 1e-4
    assert np.abs(np.sqrt(quick.k_power) - np.sqrt(slow.k_power)).max() < 1e-4


def test_what_was_refused_is_not_repaired_and_what_was_changed_stays() -> None:
    _, samples, findings = with_noises(6, 3)
    first, second, third = planned(samples, *findings)
    assert isinstance(second, Replaced)
    refused = replace(first, state="refused")
    shorter = replace(second, stop=second.stop - 480, by="desk")
    again = planned(samples, *findings, decided=(refused, shorter))
    assert again == [refused, shorter, third]
    assert repairs_as_decided([first], [refused]) == (refused,)
    whole = after(samples, again)
    assert np.array_equal(whole[first.start : first.stop], samples[first.start : first.stop])


def test_repairs_are_read_back_as_they_were() -> None:
    samples, repairs = all_sorts()
    made = plan_of(samples)
    plan = replace(made, layout=replace(made.layout, repairs=tuple(repairs)))
    text = plan_to_text(plan)
    assert plan_of_text(text) == plan
    tree = json.loads(text)
    assert {one["how"] for one in tree["repairs"]} >= {
        "interpolated",
        "low band turned down",
        "replaced by room tone",
    }
    twice = json.loads(text)
    twice["repairs"].append(twice["repairs"][0])
    with pytest.raises(Invalid, match="two of one sort over each other"):
        plan_of_text(json.dumps(twice))
    other = json.loads(text)
    other["repairs"][0]["how"] = "by magic"
    with pytest.raises(Invalid, match=r"repairs\[0\].how is 'by magic', not one of interpolated"):
        plan_of_text(json.dumps(other))
