"""The bext chunk against the table of EBU Tech 3285 version 2."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from quietleaf.delivery.bext import (
    FIXED_BYTES,
    BroadcastExtension,
    BroadcastLoudness,
    CodingStep,
    bext_bytes,
    coding_history_line,
    hundredths,
)

FIELDS = {
    "Description": (0, 256),
    "Originator": (256, 32),
    "OriginatorReference": (288, 32),
    "OriginationDate": (320, 10),
    "OriginationTime": (330, 8),
    "TimeReferenceLow": (338, 4),
    "TimeReferenceHigh": (342, 4),
    "Version": (346, 2),
    "UMID": (348, 64),
    "LoudnessValue": (412, 2),
    "LoudnessRange": (414, 2),
    "MaxTruePeakLevel": (416, 2),
    "MaxMomentaryLoudness": (418, 2),
    "MaxShortTermLoudness": (420, 2),
    "Reserved": (422, 180),
    "CodingHistory": (602, 0),
}
"""Offset and size; the last takes what is left."""

EXTENSION = BroadcastExtension(
    description=256 * "d",
    originator=32 * "o",
    originator_reference=32 * "r",
    recorded_at=datetime(2026, 11, 25, 13, 0, 0, tzinfo=UTC),
    sample_rate_hz=96_000,
    loudness=BroadcastLoudness(
        integrated_lufs=-23.0,
        range_lu=5.0,
        true_peak_dbtp=-1.0,
        momentary_max_lufs=-15.0,
        short_term_max_lufs=-18.0,
    ),
    coding_history=(CodingStep(coding="PCM", sample_rate_hz=96_000, bits=24, mode="mono"),),
)


@pytest.mark.parametrize(
    ("name", "held"),
    [
        ("Description", 256 * b"d"),
        ("Originator", 32 * b"o"),
        ("OriginatorReference", 32 * b"r"),
        ("OriginationDate", b"2026-11-25"),
        ("OriginationTime", b"13:00:00"),
        # 13 h of 96,000 samples a second are 4,492,800,000: high 1, low 197,832,704.
        ("TimeReferenceLow", (197_832_704).to_bytes(4, "little")),
        ("TimeReferenceHigh", (1).to_bytes(4, "little")),
        ("Version", b"\x02\x00"),
        ("UMID", bytes(64)),
        ("LoudnessValue", (-2300).to_bytes(2, "little", signed=True)),
        ("LoudnessRange", (500).to_bytes(2, "little", signed=True)),
        ("MaxTruePeakLevel", (-100).to_bytes(2, "little", signed=True)),
        ("MaxMomentaryLoudness", (-1500).to_bytes(2, "little", signed=True)),
        ("MaxShortTermLoudness", (-1800).to_bytes(2, "little", signed=True)),
        ("Reserved", bytes(180)),
        ("CodingHistory", b"A=PCM,F=96000,W=24,M=mono\r\n\0"),
    ],
)
def test_field(name: str, held: bytes) -> None:
    offset, size = FIELDS[name]
    data = bext_bytes(EXTENSION)
    assert data[offset : offset + size if size else None] == held


def test_fields_lie_without_gaps() -> None:
    place = 0
    for offset, size in FIELDS.values():
        assert offset == place
        place += size
    assert place == FIXED_BYTES == 602


@pytest.mark.parametrize(
    ("value", "stored"),
    [(-22.644, -2264), (-22.645, -2265), (12.764, 1276), (12.765, 1277), (None, 0x7FFF)],
)
def test_rounding_of_clause_2_4(value: float | None, stored: int) -> None:
    assert hundredths(value) == stored


def test_time_reference_of_half_past_ten() -> None:
    at = datetime(2026, 11, 25, 10, 30, tzinfo=UTC)
    data = bext_bytes(BroadcastExtension(description="", originator="", recorded_at=at))
    assert data[338:346] == (1_814_400_000).to_bytes(8, "little")


def test_coding_history_of_r98() -> None:
    step = CodingStep(coding="PCM", sample_rate_hz=48_000, bits=16, mode="mono", text="original")
    assert coding_history_line(step) == "A=PCM,F=48000,W=16,M=mono,T=original\r\n"
