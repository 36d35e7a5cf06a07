"""The example's sample reading keeps what its labels, its station and its SOURCE.md promise."""

from __future__ import annotations

import functools
import itertools
import json
import re
import tomllib
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

EXAMPLE = files("quietleaf.example")
BYTES_MAX = 8_000_000
RATE_HZ = 48_000
FULL_SCALE = (-32768, 32767)
FLAT_TOP_MIN = 4  # samples: fewer in a row may be the peak of a loud, whole sound


@functools.cache
def labels() -> dict[str, Any]:
    """Give the maker's labels."""
    read: dict[str, Any] = json.loads(EXAMPLE.joinpath("labels.json").read_text("utf-8"))
    return read


@functools.cache
def station() -> dict[str, Any]:
    """Give the example station as its file has it."""
    return tomllib.loads(EXAMPLE.joinpath("station.toml").read_text("utf-8"))


@functools.cache
def sound() -> NDArray[np.int16]:
    """Give the sample's own steps."""
    with EXAMPLE.joinpath("sample.flac").open("rb") as file:
        samples, rate = soundfile.read(file, dtype="int16")
    assert rate == RATE_HZ
    read: NDArray[np.int16] = samples
    return read


def named(table: str, key: str) -> dict[str, Any]:
    """Give the station's entry with this key."""
    (found,) = (entry for entry in station()[table] if entry["key"] == key)
    entry: dict[str, Any] = found
    return entry


def noise(kind: str) -> dict[str, Any]:
    """Give the one noise of this kind."""
    (found,) = (entry for entry in labels()["noises"] if entry["kind"] == kind)
    entry: dict[str, Any] = found
    return entry


def plain(words: str) -> str:
    """Leave the words alone: what they are, not how they are stopped."""
    return " ".join(re.findall(r"[a-z]+", words.lower()))


def around(start: int) -> NDArray[np.int16]:
    """Give the sound from a quarter of a second before a place to 1.25 s after it."""
    return sound()[start - RATE_HZ // 4 : start + RATE_HZ * 5 // 4]


def likeness(part: NDArray[np.int16], whole: NDArray[np.int16]) -> float:
    """Give the greatest correlation of a part with a whole at any shift: near 1 for a copy."""
    size = 4 * RATE_HZ
    spectra = [np.fft.rfft(one.astype(np.float64), size) for one in (part, whole)]
    shifted = np.abs(np.fft.irfft(np.conj(spectra[0]) * spectra[1], size))
    norms = [np.linalg.norm(one.astype(np.float64)) for one in (part, whole)]
    return float(shifted.max() / (norms[0] * norms[1]))


def test_it_is_small_and_mono() -> None:
    assert len(EXAMPLE.joinpath("sample.flac").read_bytes()) <= BYTES_MAX
    assert sound().ndim == 1
    assert len(sound()) == labels()["samples"]
    assert labels()["duration_s"] == pytest.approx(len(sound()) / RATE_HZ, abs=1e-6)


def test_its_length_lies_in_the_window_before_and_after_the_cuts() -> None:
    least_s, most_s = named("programmes", station()["example"]["programme"])["window_s"]
    raw_s = len(sound()) / RATE_HZ
    cut_s = sum(entry["stays_from_s"] - entry["start_s"] for entry in labels()["restarts"])
    dead_air = noise("dead-air")
    assert dead_air["end_s"] - dead_air["start_s"] == pytest.approx(6.0, abs=0.5)
    shortest_s = raw_s - cut_s - (dead_air["end_s"] - dead_air["start_s"])
    assert least_s <= shortest_s < raw_s <= most_s


@pytest.mark.parametrize("name", ["sentences", "articles", "restarts", "noises", "breaths"])
def test_labels_lie_inside_the_file_and_are_ordered(name: str) -> None:
    entries = labels()[name]
    assert entries
    for entry in entries:
        assert 0 <= entry["start_s"] < entry.get("end_s", labels()["duration_s"])
        assert entry.get("end_s", 0.0) <= labels()["duration_s"]
        for edge in ("start", "end"):
            if f"{edge}_s" in entry:
                assert entry[f"{edge}_s"] == pytest.approx(
                    entry[f"{edge}_sample"] / RATE_HZ, abs=1e-6
                )
    for before, after in itertools.pairwise(entries):
        assert before["start_s"] < after["start_s"]


def test_sentences_do_not_overlap_and_articles_begin_on_one() -> None:
    sentences = labels()["sentences"]
    for before, after in itertools.pairwise(sentences):
        assert before["end_s"] < after["start_s"]
    said_from = {entry["start_sample"]: entry["text"] for entry in sentences}
    for article in labels()["articles"]:
        assert said_from[article["start_sample"]].startswith(article["title"])


def test_a_restart_runs_from_a_first_attempt_to_the_reading_that_stays() -> None:
    sentences = labels()["sentences"]
    broken_off = [at for at, entry in enumerate(sentences) if not entry["kept"]]
    assert len(broken_off) == len(labels()["restarts"]) == 2
    for at, restart in zip(broken_off, labels()["restarts"], strict=True):
        first, stays = sentences[at], sentences[at + 1]
        assert stays["kept"]
        assert (restart["start_s"], restart["stays_from_s"]) == (first["start_s"], stays["start_s"])
        assert restart["end_s"] == restart["stays_from_s"]
        assert restart["text"] == stays["text"]
        # It breaks off in a word, or after a wrong one: only what comes before agrees.
        assert first["text"].split()[:4] == stays["text"].split()[:4]


def test_a_first_attempt_is_no_copy_of_the_reading_that_stays() -> None:
    for restart in labels()["restarts"]:
        start, stays_from = restart["start_sample"], restart["end_sample"]
        first = sound()[start : start + RATE_HZ]
        assert likeness(first, around(start)) > 0.8, "a copy would be told"
        assert likeness(first, around(stays_from)) < 0.5


@pytest.mark.parametrize("kind", ["opening", "closing"])
def test_words_are_those_of_the_programme(kind: str) -> None:
    example = station()["example"]
    programme = named("programmes", example["programme"])
    told = (labels()["programme"], labels()["issue"], labels()["reader"])
    assert told == (example["programme"], "2026-11-25", example["reader"])
    wanted = programme[kind].format(
        service=station()["station"]["name"],
        programme=programme["title"],
        publication=named("publications", programme["publication"])["title"],
        issue_date="Wednesday the twenty-fifth of November, twenty twenty-six",
        reader=named("readers", example["reader"])["name"],
    )
    span = labels()[kind]
    said = [
        entry["text"]
        for entry in labels()["sentences"]
        if span["start_s"] <= entry["start_s"] < span["end_s"]
    ]
    assert plain(" ".join(said)) == plain(wanted)


def test_the_opening_is_the_first_thing_said() -> None:
    opening = labels()["opening"]
    assert opening["start_s"] == labels()["sentences"][0]["start_s"] == pytest.approx(1.5, abs=0.1)
    before = labels()["breaths"][0]
    assert before["end_s"] < opening["start_s"], "a breath comes before the first word"


def test_the_clipped_word_has_flat_tops_at_full_scale() -> None:
    clip = noise("clip")
    at_the_stop = np.isin(sound(), FULL_SCALE)
    assert not at_the_stop[: clip["start_sample"]].any()
    assert not at_the_stop[clip["end_sample"] :].any()
    within = at_the_stop[clip["start_sample"] : clip["end_sample"]]
    assert within.sum() == clip["samples"]
    steps = np.diff(np.concatenate([[0], within.astype(np.int8), [0]]))
    runs = np.flatnonzero(steps == -1) - np.flatnonzero(steps == 1)
    assert np.count_nonzero(runs >= FLAT_TOP_MIN) >= 20
    assert any(
        entry["kept"]
        and entry["start_sample"] <= clip["start_sample"]
        and clip["end_sample"] <= entry["end_sample"]
        for entry in labels()["sentences"]
    ), "the clip lies within one sentence"


def test_the_page_turns_in_a_pause() -> None:
    page = noise("rustle")
    for entry in labels()["sentences"]:
        assert entry["end_s"] < page["start_s"] or page["end_s"] < entry["start_s"]


def test_the_room_is_about_62_db_below_full_scale() -> None:
    tail = sound()[labels()["sentences"][-1]["end_sample"] + RATE_HZ // 2 :] / 32768
    assert len(tail) >= 2 * RATE_HZ
    assert 20 * np.log10(np.std(tail)) == pytest.approx(-62.0, abs=1.0)


def test_source_names_the_licences_and_that_nobody_speaks() -> None:
    source = EXAMPLE.joinpath("SOURCE.md").read_text("utf-8")
    for wanted in ("Kokoro-82M", "Apache-2.0", "MIT", "Nobody is speaking", "invented"):
        assert wanted in source
    assert "://" not in source
    assert not re.search(r"(?<![\w.])/(?:home|root|tmp|work|usr)/", source)
