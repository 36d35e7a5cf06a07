"""The Broadcast Wave extension, laid out by hand."""

from __future__ import annotations

import math
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from quietleaf.delivery.bext import (
    UNKNOWN,
    BroadcastExtension,
    BroadcastLoudness,
    CodingStep,
    bext_bytes,
    coding_history_line,
    hundredths,
    mastering_step,
    time_reference_samples,
)
from quietleaf.finishing.targets import Target


def test_every_field_lies_where_the_table_says() -> None:
    # Offsets and sizes: EBU Tech 3285 v2, as tabled in its clause 2.3.
    data = bext_bytes(
        BroadcastExtension(
            description="The Marrowby Courier",
            originator="Marrowby Reading Service",
            originator_reference="MRS0001",
            recorded_at=datetime(2026, 11, 25, 10, 30, 5, tzinfo=ZoneInfo("Europe/London")),
            sample_rate_hz=48_000,
            loudness=BroadcastLoudness(
                integrated_lufs=-23.0,
                range_lu=5.25,
                true_peak_dbtp=-1.0,
                momentary_max_lufs=-15.5,
                short_term_max_lufs=-18.125,
            ),
            coding_history=(CodingStep(coding="PCM", sample_rate_hz=44_100, bits=16, mode="mono"),),
        )
    )
    assert data[0:256] == b"The Marrowby Courier".ljust(256, b"\0")
    assert data[256:288] == b"Marrowby Reading Service".ljust(32, b"\0")
    assert data[288:320] == b"MRS0001".ljust(32, b"\0")
    assert data[320:330] == b"2026-11-25"
    assert data[330:338] == b"10:30:05"
    # 10:30:05 is 37,805 s; times 48,000 = 1,814,640,000 = 0x6C29_3580.
    assert data[338:346] == bytes.fromhex("8035296c 00000000")
    assert data[346:348] == b"\x02\x00"
    assert data[348:412] == bytes(64)
    # -2300, 525, -100, -1550, -1813 (halves away from zero).
    assert data[412:422] == bytes.fromhex("04f7 0d02 9cff f2f9 ebf8")
    assert data[422:602] == bytes(180)
    assert data[602:] == b"A=PCM,F=44100,W=16,M=mono\r\n\0"


def test_nothing_known() -> None:
    data = bext_bytes(BroadcastExtension(description="", originator=""))
    assert data[:346] == bytes(346)
    assert data[412:422] == 5 * b"\xff\x7f"
    assert len(data) == 602


def test_part_of_a_second_counts() -> None:
    at = datetime(2026, 11, 25, 0, 0, 1, 500_000, tzinfo=ZoneInfo("UTC"))
    assert time_reference_samples(at, 48_000) == 72_000


def test_dual_mono_is_told_apart() -> None:
    target = Target(name="own", loudness_lufs=-19.0, ceiling_dbtp=-2.0, dual_mono=True)
    assert coding_history_line(mastering_step(target, 48_000, "Quietleaf")) == (
        "A=PCM,F=48000,W=24,M=mono,T=Quietleaf; -19.0 LUFS as dual mono: -22.0 LUFS by the one "
        "channel alone; at most -2.0 dBTP\r\n"
    )


@pytest.mark.parametrize("value", [-math.inf, math.inf, math.nan, 327.67, 328.0, -327.69, 1e300])
def test_what_does_not_fit_is_not_known(value: float) -> None:
    assert hundredths(value) == UNKNOWN


def test_text_too_long_for_its_field_is_cut() -> None:
    data = bext_bytes(BroadcastExtension(description=300 * "d", originator=40 * "o"))
    assert data[:256] == 256 * b"d"
    assert data[256:288] == 32 * b"o"
    assert data[288:320] == bytes(32)


def test_coding_history_of_mpeg() -> None:
    step = CodingStep(
        coding="MPEG1L3", sample_rate_hz=48_000, kbps_per_channel=64, mode="mono", text="MP3"
    )
    assert coding_history_line(step) == "A=MPEG1L3,F=48000,B=64,M=mono,T=MP3\r\n"


def test_text_of_a_step_has_no_comma_and_no_line_end() -> None:
    step = CodingStep(
        coding="PCM", sample_rate_hz=48_000, bits=24, mode="dual-mono", text="a,\r\nb\t，"
    )
    assert coding_history_line(step) == "A=PCM,F=48000,W=24,M=dual-mono,T=a; b ;\r\n"
