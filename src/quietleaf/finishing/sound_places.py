"""Between places in the master and in the sound that it was made of, many at a time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from quietleaf.finishing.assembly import kept_ranges, laid_places, stretches_of
from quietleaf.finishing.plan import Layout


class SoundPlaces:
    """Where the way from the sound to its master bends, found once for a layout."""

    def __init__(self, layout: Layout) -> None:
        self._edges = _edges(layout)
        laid = np.array(
            [start for start, _ in laid_places(layout, [(at, at) for at in self._edges])]
        )
        self._moved = laid.copy()
        for one in stretches_of(layout):
            into = np.clip(laid - one.start, 0, one.stop - one.start)
            self._moved += (one.samples - (one.stop - one.start)) * into // (one.stop - one.start)

    def sound_places(self, places: Sequence[int]) -> tuple[int, ...]:
        """Give the samples of the sound that lie at these samples of the master.

        Room tone that was laid, and what was laid after the reading, belongs to the nearest sample
        of the sound; a join to the first sample after what was cut.
        """
        # Both sides of a cut lie at one place: of equal ones the search takes the last.
        return _whole(np.interp(places, self._moved, self._edges))

    def master_places(self, samples: Sequence[int]) -> tuple[int, ...]:
        """Give where samples of the sound lie in the master; a join for what is cut out."""
        return _whole(np.interp(samples, self._edges, self._moved))


def _edges(layout: Layout) -> list[int]:
    bends = {edge for kept in kept_ranges(layout) for edge in kept}
    for pause in layout.pauses:
        if pause.change > 0:
            bends |= {pause.place, pause.place + 1}
    for pace in layout.pace:
        bends |= {pace.start, pace.stop}
    return sorted(bends)


def _whole(places: ArrayLike) -> tuple[int, ...]:
    return tuple(int(place) for place in np.rint(places))
