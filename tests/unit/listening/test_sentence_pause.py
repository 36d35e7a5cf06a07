"""The place in a pause: at rest, before a breath, well before what follows."""

from __future__ import annotations

import numpy as np
import pytest

from quietleaf.listening.sentence_pause import place_in

ROOM, BREATH = -66.0, -45.0


def levels(*parts: tuple[float, int]) -> np.ndarray:
    """Lay levels one after the other, each for so many frames."""
    return np.concatenate([np.full(count, level) for level, count in parts])


@pytest.mark.parametrize("count", [12, 15, 20, 40, 300])
def test_it_is_well_before_what_follows(count: int) -> None:
    place = place_in(levels((ROOM, count)))
    assert 1 <= place <= count - 7
    assert place >= count - 12 or place >= count // 2 - 4


def test_it_is_before_a_breath() -> None:
    place = place_in(levels((ROOM, 40), (BREATH, 30), (ROOM, 10)))
    assert 25 < place <= 33


def test_it_is_after_a_noise_that_is_long_gone() -> None:
    place = place_in(levels((ROOM, 40), (-40.0, 20), (ROOM, 60)))
    assert 100 < place <= 113


def test_it_is_in_what_little_there_is() -> None:
    assert place_in(levels((-40.0, 5), (ROOM, 4), (-40.0, 5))) in range(5, 9)
    assert place_in(levels((ROOM, 1))) == 0
    assert place_in(np.zeros(0)) == 0
