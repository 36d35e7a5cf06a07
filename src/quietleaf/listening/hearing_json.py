"""A hearing as JSON: the schema ``quietleaf/hearing/1``. Later work adds fields, never renames."""

from __future__ import annotations

from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Hearing
from quietleaf.listening.pace import PaceStretch
from quietleaf.listening.sentence_starts import SentenceStart

SCHEMA = "quietleaf/hearing/1"


def hearing_to_json(hearing: Hearing, file: str) -> dict[str, object]:
    """Give a hearing as plain objects, ready for a JSON writer that refuses NaN.

    ``None`` means no measurement. Seconds are kept to a millisecond, levels to a thousandth of a
    decibel: finer than anything here is known.
    """
    loudness, peak, level = hearing.loudness, hearing.peak, hearing.level
    return {
        "schema": SCHEMA,
        "file": file,
        "duration_s": round(hearing.duration_s, 6),
        "sample_rate_hz": hearing.sample_rate_hz,
        "channels": hearing.channels,
        "loudness": {
            "integrated_lufs": _rounded(loudness.integrated_lufs),
            "range_lu": _rounded(loudness.range_lu),
            "momentary_max_lufs": _rounded(loudness.momentary_max_lufs),
            "short_term_max_lufs": _rounded(loudness.short_term_max_lufs),
        },
        "peak": {
            "sample_dbfs": _rounded(peak.sample_dbfs),
            "true_dbtp": _rounded(peak.true_dbtp),
        },
        "level": {
            "active_speech_dbov": _rounded(level.active_speech_dbov),
            "noise_floor_dbov": _rounded(level.noise_floor_dbov),
            "dc": round(level.dc, 9),
        },
        "speech": {
            "speech_s": round(hearing.spoken_s, 3),
            "pauses": int(hearing.pauses_s.shape[0]),
            "words_per_minute": _rounded(hearing.pace.words_per_minute),
            "syllables_per_minute": _rounded(hearing.pace.syllables_per_minute),
            "pace": [_stretch(stretch) for stretch in hearing.pace.stretches],
        },
        "sentences": [_sentence(start, hearing.sample_rate_hz) for start in hearing.sentences],
        "findings": [_finding(finding) for finding in hearing.findings],
        "verdict": hearing.verdict,
        "reasons": list(hearing.reasons),
    }


def _sentence(start: SentenceStart, sample_rate_hz: int) -> dict[str, object]:
    return {
        "start_s": round(start.place / sample_rate_hz, 3),
        "pause_start_s": round(start.pause_start / sample_rate_hz, 3),
        "pause_stop_s": round(start.pause_stop / sample_rate_hz, 3),
        "likelihood": round(start.likelihood, 3),
    }


def _stretch(stretch: PaceStretch) -> dict[str, object]:
    return {
        "start_s": round(stretch.start_s, 3),
        "end_s": round(stretch.end_s, 3),
        "words_per_minute": _rounded(stretch.words_per_minute),
        "syllables_per_minute": _rounded(stretch.syllables_per_minute),
    }


def _finding(finding: Finding) -> dict[str, object]:
    return {
        "kind": finding.kind,
        "start_s": round(finding.start_s, 3),
        "end_s": round(finding.end_s, 3),
        "severity": finding.severity,
        "value": _rounded(finding.value),
        "limit": _rounded(finding.limit),
        "unit": finding.unit,
        "advice": finding.advice,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
