"""Swells of the room: what rises and falls back is found, what stays or is short is not."""

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.room_swells import UNKNOWN_CDB, quiet_cdb, swell_findings


def test_a_fan_of_twenty_seconds_is_found() -> None:
    (found,) = swell_findings(_room((100, 140, -48.0)), (), HEARING_LIMITS)
    assert (found.kind, found.severity, found.value) == ("noise", "hear", 12.0)
    assert found.start_s == pytest.approx(50.0, abs=1.0)
    assert found.end_s == pytest.approx(70.0, abs=1.0)


def test_words_without_pauses_hide_nothing() -> None:
    room = _room((100, 140, -48.0))
    room[np.arange(room.size) % 4 > 0] = UNKNOWN_CDB
    assert len(swell_findings(room, (), HEARING_LIMITS)) == 1


@pytest.mark.parametrize(
    "span",
    [(100, 106, -48.0), (100, 140, -53.0), (200, 600, -48.0), (0, 300, -48.0)],
    ids=["short", "faint", "it stays", "it ends"],
)
def test_what_is_no_swell(span: tuple[int, int, float]) -> None:
    assert swell_findings(_room(span), (), HEARING_LIMITS) == []


def test_silence_is_as_good_as_a_soft_room() -> None:
    room = np.full(300, -12_000, dtype=np.int16)
    room[100:150] = -7_000
    assert swell_findings(room, (), HEARING_LIMITS) == []
    assert swell_findings(np.empty(0, dtype=np.int16), (), HEARING_LIMITS) == []


def test_words_that_die_away_are_no_room() -> None:
    level = np.full(50, -60.0, dtype=np.float32)
    level[:23] = -30.0
    speech = np.arange(50) < 18
    assert quiet_cdb(level, speech).tolist() == [-6000]


def _room(*spans: tuple[int, int, float]) -> NDArray[np.int16]:
    """Give five minutes at -60, and other levels in some spans of half seconds."""
    room = np.full(600, -6_000, dtype=np.int16)
    for start, stop, dbov in spans:
        room[start:stop] = round(100.0 * dbov)
    return room
