"""Recorded voices brought to other lengths: pitch, words, joins."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from numpy.typing import NDArray

from quietleaf.finishing.assembly import dry_blocks, master_place, master_samples
from quietleaf.finishing.fit import FitWish, fit_layout
from quietleaf.finishing.layout import plan_layout
from quietleaf.finishing.tempo import Stretch, stretched
from quietleaf.listening import listen
from quietleaf.listening.join_check import check_join
from quietleaf.listening.reader_pauses import COUNTED_S, reader_pauses
from tests.pitch import yin_hz
from tests.unit.finishing.planned import ENDS, survey_of
from tests.voices import RATE_HZ, Held

VOICES = (
    "continuous/fr006.flac",
    "continuous/ls2033_concat.flac",
    "continuous/ls2414_concat.flac",
    "continuous/lj001_concat.flac",
)


def voice(path: Path, most_s: float) -> NDArray[np.float64]:
    samples, rate = soundfile.read(path)
    made = soxr.resample(samples, rate, RATE_HZ, quality="VHQ")
    return np.ascontiguousarray(made[: round(most_s * RATE_HZ)])


@pytest.mark.parametrize("share", [-0.03, 0.03])
@pytest.mark.parametrize("name", VOICES[:2])
def test_a_voice_keeps_its_pitch(recordings: Path, name: str, share: float) -> None:
    """Frame against frame, by a tracker that is not ours, where the voice is steady."""
    samples = voice(recordings / name, 12.0)
    wanted = round(samples.size * (1.0 + share))
    stretch = Stretch(start=0, stop=samples.size, samples=wanted)
    made = np.concatenate(list(stretched(iter([samples]), (stretch,))))
    assert made.size == wanted
    before, after = yin_hz(samples[::3], RATE_HZ // 3), yin_hz(made[::3], RATE_HZ // 3)
    places = np.round(np.arange(after.size) / (1.0 + share)).astype(int)
    places = np.minimum(places, before.size - 1)
    steady = np.abs(np.diff(before, append=0.0)) < 0.01 * before
    both = (after > 0.0) & steady[places]
    assert both.sum() > 100
    ratio = float(np.median(after[both] / before[places][both]))
    assert ratio == pytest.approx(1.0, abs=0.005)


@pytest.mark.long
@pytest.mark.parametrize("share", [-0.05, -0.03, 0.03, 0.05])
def test_hardly_a_join_that_a_fit_makes_shows(recordings: Path, share: float) -> None:
    """At most as many as of pauses that nothing was done to (2.9 in 100)."""
    shown = total = 0
    for name in VOICES:
        samples = voice(recordings / name, 400.0)
        survey, sound = survey_of(samples), Held(samples)
        plain = plan_layout(survey, sound, ENDS)
        length = round(master_samples(plain) * (1.0 + share))
        layout, fit = fit_layout(plain, survey, FitWish(exact_s=length / RATE_HZ))
        made = np.concatenate(list(dry_blocks(layout, sound)))
        assert (fit.verdict, made.size) == ("fits", length)
        heard = listen.start(RATE_HZ, 1)
        listen.step(heard, made[:, np.newaxis])
        pauses_s = listen.result(heard).pauses_s
        lengths_s = (pauses_s[:, 1] - pauses_s[:, 0]).tolist()
        usual = reader_pauses(one for one in lengths_s if one >= COUNTED_S)
        joins = []
        for pause in layout.pauses:
            place = master_place(layout, pause.place)
            joins += [place, place + pause.change] if pause.change > 0 else [place]
        bounds = [0, *sorted(joins), made.size]
        for before, join, after in zip(bounds, bounds[1:], bounds[2:], strict=False):
            first = max(before, join - 13 * RATE_HZ)
            part = np.ascontiguousarray(made[first : min(after, join + 13 * RATE_HZ)])
            said = check_join(part, RATE_HZ, join - first, fade_samples=480, pauses=usual, own=None)
            shown += bool(said.faults)
            total += 1
    assert total >= 100
    assert shown <= 0.029 * total
