"""The colour of a voice that moved at a join: brought near to the rest of its reading.

Only on strong evidence. The same reader's voice differs from itself by 1.5 dB between two
excerpts of 30 s in one of 100 cases, and by 3 dB between excerpts of 8 s; so joins are put together
until 30 s of speech lie between them, and what is shorter than that is never told apart. Levels are
left to the even voice.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.colours import COLOUR_HZ
from quietleaf.finishing.plan import RATE_HZ, Colour
from quietleaf.finishing.ranges import Sound, without_rumble
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.listening.join_room import smoothed_bands
from quietleaf.listening.structure import FRAMES_PER_S, Structure

COLOUR_DB = 1.6
"""Two excerpts of 30 s of one untouched reader differ by less in 99 of 100 cases: by 1.5 dB."""
COLOUR_DB_MOST = 6.0
"""A greater difference is another voice, or another microphone: it is for an ear. Ours."""
_SPEECH_FRAMES = 30 * FRAMES_PER_S
_SHARE = 0.8
_DEAD_DB = 0.5
_BAND_DB_MOST = 4.0
_WINDOW = 960
_PIECE_FRAMES = 2 * FRAMES_PER_S
_HEARD_PIECES = 30
_NOTHING = 1e-14


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stretch:
    """A stretch between two joins: the power of its voice per band, and how much it speaks."""

    start: int
    stop: int
    power: NDArray[np.float64]
    frames: int


def plan_colours(
    structure: Structure, sound: Sound, joins: tuple[int, ...], kept: tuple[int, int]
) -> tuple[Colour, ...]:
    """Plan the filters.

    Parameters
    ----------
    joins : tuple of int
        Samples of the sound where spans of one reader's voice meet.
    kept : (int, int)
        From its head to its tail, which are cut.

    Notes
    -----
    Third octaves of 150 Hz to 6 kHz, smoothed twice with 1/4, 1/2, 1/4, the median taken out. What
    agrees with the longest stretch is the reading's own colour; from another stretch 0.8 of what
    lies beyond 0.5 dB is taken, at most 4 dB a band, and its loudness stays.
    """
    places = sorted({join for join in joins if kept[0] < join < kept[1]})
    bounds = _bounds(structure, [kept[0], *places, kept[1]])
    if len(bounds) < 3:
        return ()
    spoken = structure.level >= structure.threshold_dbov
    stretches = [_stretch(spoken, sound, start, stop) for start, stop in pairwise(bounds)]
    longest = max(stretches, key=lambda one: one.frames)
    alike = [one for one in stretches if _apart_db(one.power, longest.power) <= COLOUR_DB]
    whole = sum(one.frames for one in alike)
    own = np.sum([one.power * (one.frames / whole) for one in alike], axis=0)
    colours = []
    for one in stretches:
        apart_db = _apart_db(one.power, own)
        if COLOUR_DB < apart_db <= COLOUR_DB_MOST:
            colours.append(_colour(one, own, apart_db))
    return tuple(colours)


def _colour(stretch: _Stretch, own: NDArray[np.float64], apart_db: float) -> Colour:
    difference = _shape_db(own) - _shape_db(stretch.power)
    beyond = difference - np.clip(difference, -_DEAD_DB, _DEAD_DB)
    gains = np.clip(_SHARE * beyond, -_BAND_DB_MOST, _BAND_DB_MOST)
    filtered = float((stretch.power * 10.0 ** (gains / 10.0)).sum() / stretch.power.sum())
    gains -= 10.0 * np.log10(filtered)
    return Colour(
        start=stretch.start,
        stop=stretch.stop,
        bands_db=tuple(round(float(gain), 2) for gain in gains),
        reason=f"the voice has another colour here, by {apart_db:.1f} dB",
        measured={
            "apart_db": round(apart_db, 2),
            "speech_s": round(stretch.frames / FRAMES_PER_S, 1),
        },
    )


def _bounds(structure: Structure, bounds: list[int]) -> list[int]:
    """Leave out joins until 30 s of speech lie between any two."""
    spoken = np.concatenate([[0], np.cumsum(structure.level >= structure.threshold_dbov)])
    said = [int(spoken[min(bound // FRAME_SAMPLES, spoken.size - 1)]) for bound in bounds]
    chosen = [0]
    for index in range(1, len(bounds)):
        if said[index] - said[chosen[-1]] >= _SPEECH_FRAMES:
            chosen.append(index)
    # What is left over at the end belongs to the stretch before it.
    return [bounds[index] for index in chosen[:-1]] + [bounds[-1]]


def _stretch(spoken: NDArray[np.bool_], sound: Sound, start: int, stop: int) -> _Stretch:
    """Listen to pieces of 2 s, spread over a stretch: a minute of it says enough."""
    first, last = start // FRAME_SAMPLES + 1, min(stop // FRAME_SAMPLES, spoken.size)
    places = np.arange(first, last, _PIECE_FRAMES)
    places = places[:: -(-places.size // _HEARD_PIECES)]
    total = np.zeros(len(COLOUR_HZ))
    for place in places:
        frames = np.arange(int(place), min(int(place) + _PIECE_FRAMES, last), 2)
        total += _bands(sound, frames[spoken[frames]])
    return _Stretch(
        start=start,
        stop=stop,
        power=np.maximum(total / max(float(total.sum()), _NOTHING), _NOTHING),
        frames=int(spoken[first:last].sum()),
    )


def _bands(sound: Sound, frames: NDArray[np.int64]) -> NDArray[np.float64]:
    """Give the energy of the voice in each band of some frames."""
    if frames.size == 0:
        return np.zeros(len(COLOUR_HZ))
    first = int(frames[0]) * FRAME_SAMPLES
    last = min(int(frames[-1]) * FRAME_SAMPLES + _WINDOW, sound.info.frames)
    heard = without_rumble(sound, first, last)
    starts = frames * FRAME_SAMPLES - first
    starts = starts[starts + _WINDOW <= heard.size]
    windows = heard[starts[:, np.newaxis] + np.arange(_WINDOW)] * np.hanning(_WINDOW)
    power = (np.abs(np.fft.rfft(windows, 2 * _WINDOW, axis=1)) ** 2).sum(axis=0)
    hz = np.fft.rfftfreq(2 * _WINDOW, 1.0 / RATE_HZ)
    edges = np.array([*COLOUR_HZ, COLOUR_HZ[-1] * 2.0 ** (1.0 / 3.0)]) * 2.0 ** (-1.0 / 6.0)
    sums: NDArray[np.float64] = np.add.reduceat(power, np.searchsorted(hz, edges))[:-1]
    return sums


def _apart_db(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean((_shape_db(one) - _shape_db(other)) ** 2)))


def _shape_db(power: NDArray[np.float64]) -> NDArray[np.float64]:
    levels = smoothed_bands(10.0 * np.log10(power))
    shape: NDArray[np.float64] = levels - np.median(levels)
    return shape
