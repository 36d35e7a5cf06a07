"""A hearing as JSON: every field of the schema, numbers or null, never NaN."""

from __future__ import annotations

import dataclasses
import json

import numpy as np

from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing_json import hearing_to_json
from quietleaf.listening.listen import hear
from quietleaf.listening.pace import Pace, PaceStretch
from quietleaf.listening.sentence_starts import SentenceStart
from tests.signals import same_in, speech_like

FIELDS = {
    "schema": str,
    "file": str,
    "duration_s": float,
    "sample_rate_hz": int,
    "channels": int,
    "loudness": {
        "integrated_lufs": float,
        "range_lu": float,
        "momentary_max_lufs": float,
        "short_term_max_lufs": float,
    },
    "peak": {"sample_dbfs": float, "true_dbtp": float},
    "level": {"active_speech_dbov": float, "noise_floor_dbov": float, "dc": float},
    "speech": {
        "speech_s": float,
        "pauses": int,
        "words_per_minute": float,
        "syllables_per_minute": float,
        "pace": list,
    },
    "sentences": list,
    "findings": list,
    "verdict": str,
    "reasons": list,
}


def test_every_field_of_the_schema() -> None:
    hearing = hear([same_in(2, speech_like(1, 6.0, 16_000))], 16_000, 2)
    line = json.loads(json.dumps(hearing_to_json(hearing, "a b.wav"), allow_nan=False))
    assert shape(line) == FIELDS
    assert (line["schema"], line["file"]) == ("quietleaf/hearing/1", "a b.wav")
    assert (line["duration_s"], line["sample_rate_hz"], line["channels"]) == (6.0, 16_000, 2)
    assert line["speech"]["pauses"] == hearing.pauses_s.shape[0] > 0
    assert line["loudness"]["integrated_lufs"] == round(hearing.loudness.integrated_lufs or 0, 3)


def test_silence_is_null() -> None:
    line = hearing_to_json(hear([np.zeros((160_000, 1))], 16_000, 1), "silence.wav")
    text = json.dumps(line, allow_nan=False)
    assert set(json.loads(text)["loudness"].values()) == {None}
    assert set(json.loads(text)["peak"].values()) == {None}
    assert json.loads(text)["level"] == {
        "active_speech_dbov": None,
        "noise_floor_dbov": None,
        "dc": 0.0,
    }
    assert line["findings"] == []
    assert line["verdict"] == "read again"


def test_findings_and_sentences() -> None:
    finding = Finding(
        kind="restart",
        start_s=1.23456,
        end_s=2.0,
        severity="fix",
        value=None,
        limit=0.5,
        unit="s",
        advice="Cut it.",
    )
    hearing = dataclasses.replace(
        hear([np.zeros((16_000, 1))], 16_000, 1),
        findings=(finding,),
        sentences=(
            SentenceStart(place=7_990, pause_start=0, pause_stop=9_600, likelihood=1.0),
            SentenceStart(place=48_006, pause_start=40_000, pause_stop=50_000, likelihood=0.61249),
        ),
        pace=Pace(
            syllables_per_minute=219.28999,
            words_per_minute=151.23456,
            stretches=(
                PaceStretch(
                    start_s=0.0, end_s=60.0004, syllables_per_minute=None, words_per_minute=None
                ),
            ),
        ),
    )
    line = hearing_to_json(hearing, "x")
    speech = line["speech"]
    assert isinstance(speech, dict)
    assert (speech["words_per_minute"], speech["syllables_per_minute"]) == (151.235, 219.29)
    assert speech["pace"] == [
        {"start_s": 0.0, "end_s": 60.0, "words_per_minute": None, "syllables_per_minute": None}
    ]
    assert line["findings"] == [
        {
            "kind": "restart",
            "start_s": 1.235,
            "end_s": 2.0,
            "severity": "fix",
            "value": None,
            "limit": 0.5,
            "unit": "s",
            "advice": "Cut it.",
        }
    ]
    assert line["sentences"] == [
        {"start_s": 0.499, "pause_start_s": 0.0, "pause_stop_s": 0.6, "likelihood": 1.0},
        {"start_s": 3.0, "pause_start_s": 2.5, "pause_stop_s": 3.125, "likelihood": 0.612},
    ]


def shape(value: object) -> object:
    """Give the types of a JSON object's fields."""
    if isinstance(value, dict):
        return {key: shape(inner) for key, inner in value.items()}
    return type(value)
