"""Targets are read from a name or a number; one channel is told apart from two loudspeakers."""

from __future__ import annotations

import pytest

from quietleaf.errors import Invalid
from quietleaf.finishing.targets import target_of_text


def test_the_standards_have_their_published_loudness_and_ceiling() -> None:
    # EBU R 128 (2023) with Tech 3343: -23 LUFS, -1 dBTP. ATSC A/85: -24 LKFS, -2 dBTP.
    ebu, atsc = target_of_text("ebu-r128"), target_of_text("ATSC-A85")
    assert (ebu.loudness_lufs, ebu.ceiling_dbtp) == (-23.0, -1.0)
    assert (atsc.loudness_lufs, atsc.ceiling_dbtp) == (-24.0, -2.0)


@pytest.mark.parametrize("text", ["-18", "-18 LUFS", "-18.0 lkfs", " -18 "])
def test_a_number_is_a_loudness(text: str) -> None:
    assert target_of_text(text).loudness_lufs == -18.0
    assert target_of_text(text).name == "own"


def test_a_lower_ceiling_holds_and_a_higher_one_does_not() -> None:
    assert target_of_text("atsc-a85", ceiling_dbtp=-3.0).ceiling_dbtp == -3.0
    assert target_of_text("atsc-a85", ceiling_dbtp=-0.5).ceiling_dbtp == -2.0


def test_dual_mono_reads_3_01_lu_more_than_one_channel() -> None:
    # ITU-R BS.1770-5, equation 2: twice the summed power, 10 lg 2 = 3.0103 dB.
    once, twice = target_of_text("-23"), target_of_text("-23", dual_mono=True)
    assert once.one_channel_lufs == -23.0
    assert twice.one_channel_lufs == pytest.approx(-26.0103, abs=1e-4)
    assert twice.counted_lufs(twice.one_channel_lufs) == pytest.approx(-23.0)
    assert once.counted_lufs(-23.0) == -23.0


@pytest.mark.parametrize("text", ["loud", "", "nan", "-18 dB", "inf"])
def test_what_is_no_loudness_is_refused(text: str) -> None:
    with pytest.raises(Invalid, match="LUFS"):
        target_of_text(text)


@pytest.mark.parametrize("text", ["-5", "-60", "23"])
def test_a_loudness_out_of_reach_is_refused(text: str) -> None:
    with pytest.raises(Invalid, match="between -40 and -9 LUFS"):
        target_of_text(text)


@pytest.mark.parametrize("ceiling_dbtp", [0.5, -25.0])
def test_a_ceiling_out_of_reach_is_refused(ceiling_dbtp: float) -> None:
    with pytest.raises(Invalid, match="ceiling"):
        target_of_text("ebu-r128", ceiling_dbtp=ceiling_dbtp)
