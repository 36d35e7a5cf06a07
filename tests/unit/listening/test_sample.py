"""The example's sample: what was put into it is heard where its maker put it.

The labels come from the maker of the sample, who knew where each sound was laid; they are no output
of this code. Asked for: edges within 20 ms (median) and 60 ms (95 of 100).
"""

from __future__ import annotations

import functools
import itertools
import json
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.listening import listen
from quietleaf.listening.hearing import Hearing

GAP_S_MIN = 0.25
MEDIAN_S = 0.02
NEARLY_ALL_S = 0.06


@functools.cache
def labels() -> dict[str, Any]:
    """Give the maker's labels."""
    text = files("quietleaf.example").joinpath("labels.json").read_text("utf-8")
    read: dict[str, Any] = json.loads(text)
    return read


@functools.cache
def heard(gain_db: float = 0.0) -> Hearing:
    """Hear the sample."""
    with files("quietleaf.example").joinpath("sample.flac").open("rb") as file:
        samples, rate = soundfile.read(file, always_2d=True)
    return listen.hear([samples * 10.0 ** (gain_db / 20.0)], rate, 1)


def edges_s(hearing: Hearing) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give how far each sentence's end, and the next one's start, lie from the label."""
    ends, starts = [], []
    sentences = labels()["sentences"]
    for before, after in itertools.pairwise(sentences):
        if after["start_s"] - before["end_s"] < GAP_S_MIN:
            continue
        middle_s = 0.5 * (before["end_s"] + after["start_s"])
        holding = [pause for pause in hearing.pauses_s if pause[0] < middle_s < pause[1]]
        assert holding, f"no pause is heard at {middle_s:.2f} s"
        ends.append(holding[0][0] - before["end_s"])
        starts.append(holding[0][1] - after["start_s"])
    return np.array(ends), np.array(starts)


@pytest.mark.parametrize("gain_db", [0.0, -12.0])
def test_every_pause_between_sentences_has_its_edges(gain_db: float) -> None:
    ends, starts = edges_s(heard(gain_db))
    assert ends.size >= 40
    for edges in (ends, starts):
        assert np.median(np.abs(edges)) <= MEDIAN_S
        assert np.percentile(np.abs(edges), 95) <= NEARLY_ALL_S


def test_speech_begins_on_the_first_syllable_and_ends_with_the_last() -> None:
    sentences, speech_s = labels()["sentences"], heard().speech_s
    assert speech_s[0, 0] == pytest.approx(sentences[0]["start_s"], abs=MEDIAN_S)
    assert speech_s[-1, 1] == pytest.approx(sentences[-1]["end_s"], abs=NEARLY_ALL_S)


def test_its_faults_are_found_and_nothing_that_is_none() -> None:
    known = labels()
    faults = [noise for noise in known["noises"] if noise["kind"] in ("clip", "dead-air")]
    wanted = [(fault["kind"], fault["start_s"], fault["end_s"]) for fault in faults]
    wanted += [("restart", one["start_s"], one["end_s"]) for one in known["restarts"]]
    # "The bench at Mill Lane is back. The bench at the top of Mill Lane is in its old place again"
    # is no restart: a headline whose words come back.
    found = [finding for finding in heard().findings if finding.severity != "note"]
    assert len(found) == len(wanted)
    for finding, (kind, start_s, end_s) in zip(found, sorted(wanted, key=by_start), strict=True):
        assert finding.kind == kind
        assert finding.start_s < end_s
        assert finding.end_s > start_s
    assert heard().verdict == "needs an ear"


def by_start(one: tuple[str, float, float]) -> float:
    return one[1]
