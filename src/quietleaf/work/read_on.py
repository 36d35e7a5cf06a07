"""Where a reader read on past the end of what was sent back: found as what is read twice is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening import listen
from quietleaf.listening.frames import FRAMES_PER_S

LIKELY = 0.5
"""Of 24 real readings that were read on, at another tempo, 23 came to 0.77 and more, at the right
place (the other had 40 s too much); read to their end alone, none to more than 0.13. Ours."""
_BETWEEN_S = 0.5
_FIRST_WORD_S = 2.0
"""The old sound begins in a pause: no later than this its first word comes."""
_READ_S = 0.6
"""So much was read before it, at least."""
_BLOCK_FRAMES = 1 << 17


def read_on_from(
    new: NDArray[np.float64], old: NDArray[np.float64], sample_rate_hz: int
) -> int | None:
    """Find from where on the new sound says what the old sound goes on with.

    Parameters
    ----------
    new : ndarray, shape (n,), full scale 1.0
        What was read again, to its end.
    old : ndarray, shape (m,)
        What the programme goes on with, from the pause before it.

    Returns
    -------
    place : int or None
        In the pause before those words, in ``new``; None where they are not in it.

    Notes
    -----
    Put one after the other they are as a reading in which a sentence is begun and then read again.
    """
    between = round(_BETWEEN_S * sample_rate_hz)
    # What is heard in a pause at the end of the new sound goes on to the pause of the old one.
    quiet = np.random.default_rng(0).normal(size=between) * np.abs(new).mean() * 1e-3
    both = np.concatenate([new, quiet, old])
    state = listen.start(sample_rate_hz, 1)
    for start in range(0, both.size, _BLOCK_FRAMES):
        listen.step(state, both[start : start + _BLOCK_FRAMES, np.newaxis])
    seam_s = (new.size + between) / sample_rate_hz
    found = [
        one
        for one in listen.asked_restarts(state)
        if one.likelihood >= LIKELY
        and 0.0 <= one.stop / FRAMES_PER_S - seam_s <= _FIRST_WORD_S
        and one.first / FRAMES_PER_S >= _READ_S
    ]
    if not found:
        return None
    best = max(found, key=lambda one: one.likelihood)
    in_pause = best.first - best.pair.before.pause // 2
    return round(in_pause * sample_rate_hz / FRAMES_PER_S)
