"""The ways between the sound and its master: what `master_place` does, and undone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from quietleaf.finishing.assembly import master_place, master_samples
from quietleaf.finishing.fit_entries import PaceChange, PauseChange
from quietleaf.finishing.plan import Cut, HighPass, Layout, RoomTone
from quietleaf.finishing.sound_places import SoundPlaces

PLAIN = Layout(
    sound_samples=1_000_000,
    join_samples=480,
    move_samples=0,
    end_fade_samples=0,
    head_samples=0,
    tail_samples=0,
    high_pass=HighPass(corner_hz=60.0, order=2, reason="", measured={}),
    cuts=(),
    room_tone=(),
    sentences=(),
)


def cut(start: int, stop: int) -> Cut:
    return Cut(kind="restart", start=start, stop=stop, reason="", measured={})


def pause(start: int, samples: int) -> PauseChange:
    """A pause of 20,000 samples that becomes so long."""
    return PauseChange(
        kind="sentence",
        start=start,
        stop=start + 20_000,
        samples=samples,
        place=start + 8_000,
        seed=1,
        quiet=(),
        state="made",
        by="plan",
        reason="",
        measured={},
    )


HEAD = RoomTone(place="head", samples=24_000, seed=1, quiet=(), reason="", measured={})
PACE = PaceChange(
    start=600_000, stop=700_000, samples=97_000, state="made", by="plan", reason="", measured={}
)
MADE = replace(
    PLAIN,
    cuts=(cut(0, 50_000), cut(200_000, 260_000), cut(260_000, 270_000), cut(900_000, 1_000_000)),
    room_tone=(HEAD,),
    pauses=(pause(300_000, 26_000), pause(400_000, 15_000)),
    pace=(PACE,),
)


def test_by_hand() -> None:
    layout = replace(PLAIN, cuts=(cut(1_000, 3_000),), room_tone=(HEAD,))
    # The head of 24,000 samples, the 1,000 before the cut, then what comes after it.
    places = SoundPlaces(layout)
    assert places.sound_places([0, 24_000, 24_999, 25_000, 25_001]) == (0, 0, 999, 3_000, 3_001)
    assert places.master_places([0, 999, 2_000, 3_000]) == (24_000, 24_999, 25_000, 25_000)


@pytest.mark.parametrize("layout", [PLAIN, MADE])
def test_a_sample_that_is_kept_is_found_again(layout: Layout) -> None:
    kept = [at for at in range(50_000, 900_000, 777) if not _is_out(layout, at)]
    there = [master_place(layout, at) for at in kept]
    places = SoundPlaces(layout)
    # Where the pace changes a sample of the master stands for a little more than one.
    assert np.allclose(places.sound_places(there), kept, rtol=0, atol=1)
    assert np.allclose(places.master_places(kept), there, rtol=0, atol=1)


def test_places_keep_their_order_and_stay_in_the_sound() -> None:
    places = SoundPlaces(MADE).sound_places(range(0, master_samples(MADE) + 50_000, 501))
    assert list(places) == sorted(places)
    assert places[0] == 50_000
    assert places[-1] == 900_000


def _is_out(layout: Layout, at: int) -> bool:
    gone = [(one.start, one.stop) for one in layout.cuts]
    gone += [(one.place, one.place - one.change) for one in layout.pauses if one.change < 0]
    return any(start <= at < stop for start, stop in gone)
