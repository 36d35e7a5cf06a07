"""Steps of the room tone, and of the voice, between the two sides of a place in a pause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Structure,
    frame_starts,
    structure_of_sound,
)
from quietleaf.listening.voice_frames import power_of

_ERODE_FRAMES = 4
_SMOOTH_FRAMES = 5
_PERCENTILE = 10.0
_SPREAD_DB = 3.5
_ROOM_FRAMES = 300
"""1.5 s of the room on each side, the nearest."""
ROOM_FRAMES_MIN = 20
_PAUSE_FRAMES, _PAUSE_FRAMES_MIN = 30, 8
"""0.15 s on each side, the nearest: what the eye compares in a spectrogram."""
_SPLICE_FRAMES = 2
_QUIET_FRAMES = 16
_VOICE_FRAMES = 2_400
_VOICE_FRAMES_MIN = 200
_SYSTEMATIC_DB2 = 0.25
_NOTHING = 1e-20
_WINDOW_S = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomStep:
    """What differs between the rooms of two sides; None where a side has too little to say.

    Attributes
    ----------
    floor_db, bands : float or None
        Over the pauses of each side.
    pause_db, pause_bands : float or None
        Inside the pause that the place is in.
    """

    floor_db: float | None
    bands: float | None
    pause_db: float | None
    pause_bands: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SideStep:
    """What differs between the two sides; None where a side has too little to say."""

    room: RoomStep
    level_db: float | None
    colour_db: float | None


def step_at(samples: NDArray[np.float64], sample_rate_hz: int, splice: int) -> RoomStep | None:
    """Compare the rooms of a pause that nobody touched; None where nobody speaks.

    Inside it at its quietest place, since a join would lie there.
    """
    structure = structure_of_sound(samples, sample_rate_hz)
    if structure is None:
        return None
    place = splice * FRAMES_PER_S // sample_rate_hz
    quiet = _quietest_near(structure, place)
    return room_step(samples, sample_rate_hz, structure, place, quiet)


def side_step(
    samples: NDArray[np.float64], sample_rate_hz: int, structure: Structure, place: int
) -> SideStep:
    """Compare the sides of a place, a frame of the structure.

    Notes
    -----
    Room tone: frames without speech, 20 ms away from any, while their mean over 25 ms is within
    3.5 dB of the side's own 10th percentile; the 1.5 s nearest to the place, and inside its pause
    those of the nearest 0.15 s. Bands: octaves from 150 to 600 Hz, then third octaves; each
    difference over its deviation ``4.34^2 (1 / (B T1) + 1 / (B T2)) + 0.25``, rms over bands.
    Voice: frames over the speech threshold, up to 12 s a side.
    """
    voices = _voices(structure, place)
    level = colour = None
    if min(voice.size for voice in voices) >= _VOICE_FRAMES_MIN:
        edges = band_edges_hz(sample_rate_hz)
        starts = frame_starts(structure.level.size + 1, sample_rate_hz)
        levels = [_db((10.0 ** (structure.level[voice] / 10.0)).mean()) for voice in voices]
        level = abs(levels[0] - levels[1])
        spectra = [_bands(samples, sample_rate_hz, starts[voice], edges) for voice in voices]
        difference = smoothed_bands(spectra[0]) - smoothed_bands(spectra[1])
        difference -= np.median(difference)
        colour = float(np.sqrt(np.mean(difference**2)))
    return SideStep(
        room=room_step(samples, sample_rate_hz, structure, place, place),
        level_db=level,
        colour_db=colour,
    )


def room_step(
    samples: NDArray[np.float64],
    sample_rate_hz: int,
    structure: Structure,
    place: int,
    in_pause: int,
) -> RoomStep:
    """Compare the rooms of both sides of a place, and inside its pause at another one."""
    edges = band_edges_hz(sample_rate_hz)
    starts = frame_starts(structure.level.size + 1, sample_rate_hz)

    def step(
        rooms: tuple[NDArray[np.int64], NDArray[np.int64]], least: int
    ) -> tuple[float, float] | tuple[None, None]:
        if min(room.size for room in rooms) < least:
            return None, None
        powers = [10.0 ** (structure.level[room] / 10.0) for room in rooms]
        spectra = [_bands(samples, sample_rate_hz, starts[room], edges) for room in rooms]
        bands = band_step(spectra[0], spectra[1], np.diff(edges), [room.size for room in rooms])
        return abs(_db(powers[0].mean()) - _db(powers[1].mean())), bands

    floor_db, bands = step(rooms_of(structure, place, 0, structure.level.size), ROOM_FRAMES_MIN)
    inside = pause_rooms_of(structure.level, structure.runs, in_pause)
    pause_db, pause_bands = step(inside, _PAUSE_FRAMES_MIN)
    return RoomStep(floor_db=floor_db, bands=bands, pause_db=pause_db, pause_bands=pause_bands)


def band_edges_hz(sample_rate_hz: int) -> NDArray[np.float64]:
    """Give the edges of the bands that a room is compared in.

    Examples
    --------
    >>> band_edges_hz(8_000).round().tolist()
    [150.0, 300.0, 600.0, 756.0, 952.0, 1200.0, 1512.0, 1905.0, 2400.0, 3024.0]
    """
    third = 600.0 * 2.0 ** (np.arange(1, 12) / 3.0)
    edges = np.concatenate([[150.0, 300.0, 600.0], third])
    kept: NDArray[np.float64] = edges[edges <= 0.4 * sample_rate_hz]
    return kept


def rooms_of(
    structure: Structure, place: int, first: int, stop: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give the frames of room tone on both sides of a place, the nearest 1.5 s of each.

    Parameters
    ----------
    place : int
        A frame.
    first, stop : int
        Frames outside this range are not looked at.
    """
    first, stop = max(0, first), min(structure.level.size, stop)
    level = structure.level[first:stop]
    away = np.ones(level.size, dtype=np.bool_)
    begin = int(np.searchsorted(structure.runs[:, 1], first))
    end = int(np.searchsorted(structure.runs[:, 0], stop))
    for start, end_of_run in structure.runs[begin:end]:
        away[max(0, start - _ERODE_FRAMES - first) : end_of_run + _ERODE_FRAMES - first] = False
    # The splice itself says nothing of either side.
    away[max(0, place - _ERODE_FRAMES - first) : max(0, place + _ERODE_FRAMES - first)] = False
    frames = np.flatnonzero(away)
    smooth = np.convolve(
        np.pad(level, _SMOOTH_FRAMES // 2, mode="edge"),
        np.full(_SMOOTH_FRAMES, 1.0 / _SMOOTH_FRAMES),
        mode="valid",
    )

    def side(mine: NDArray[np.int64]) -> NDArray[np.int64]:
        if mine.size == 0:
            return mine
        limit = np.percentile(level[mine], _PERCENTILE) + _SPREAD_DB
        quiet = mine[smooth[mine] < limit]
        nearest: NDArray[np.int64] = quiet[np.argsort(np.abs(quiet + first - place), kind="stable")]
        return np.sort(nearest[:_ROOM_FRAMES]) + first

    return side(frames[frames + first < place]), side(frames[frames + first >= place])


def pause_rooms_of(
    level: NDArray[np.float64], runs: NDArray[np.int64], place: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give the frames of room tone on both sides of a place in a pause, the nearest 0.15 s of each.

    Both are empty where one of them has under 40 ms.

    Parameters
    ----------
    level : ndarray, shape (k,), dBov
    runs : ndarray, shape (j, 2)
        Frames of speech.
    place : int
        A frame.
    """
    first, stop = max(0, place - _PAUSE_FRAMES - _SPLICE_FRAMES), place + _PAUSE_FRAMES + 1
    frames = np.arange(first, min(stop + 1, level.size))
    for start, end in runs[
        (runs[:, 1] > first - _ERODE_FRAMES) & (runs[:, 0] < stop + _ERODE_FRAMES)
    ]:
        frames = frames[(frames < start - _ERODE_FRAMES) | (frames >= end + _ERODE_FRAMES)]

    def side(mine: NDArray[np.int64]) -> NDArray[np.int64]:
        if mine.size < _PAUSE_FRAMES_MIN:
            return mine[:0]
        limit = np.percentile(level[mine], _PERCENTILE) + _SPREAD_DB
        around = np.arange(_SMOOTH_FRAMES) - _SMOOTH_FRAMES // 2
        near = np.clip(mine[:, np.newaxis] + around, 0, level.size - 1)
        quiet: NDArray[np.int64] = mine[level[near].mean(axis=1) < limit]
        return quiet[: quiet.size if quiet.size >= _PAUSE_FRAMES_MIN else 0]

    sides = side(frames[frames < place - _SPLICE_FRAMES]), side(frames[frames > place])
    nothing = frames[:0]
    return sides if min(one.size for one in sides) else (nothing, nothing)


def _quietest_near(structure: Structure, place: int) -> int:
    """Give the middle of the quietest 80 ms of the pause around a place."""
    runs, size = structure.runs, structure.level.size
    after = int(np.searchsorted(runs[:, 1], place, side="right"))
    first = int(runs[after - 1, 1]) if after else 0
    stop = int(runs[after, 0]) if after < runs.shape[0] else size
    if stop - first <= _QUIET_FRAMES:
        return place
    means = np.convolve(structure.level[first:stop], np.ones(_QUIET_FRAMES), mode="valid")
    return first + int(np.argmin(means)) + _QUIET_FRAMES // 2


def _voices(structure: Structure, place: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    frames = np.flatnonzero(structure.level >= structure.threshold_dbov)
    return frames[frames < place][-_VOICE_FRAMES:], frames[frames >= place][:_VOICE_FRAMES]


def _bands(
    samples: NDArray[np.float64],
    sample_rate_hz: int,
    starts: NDArray[np.int64],
    edges: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Give the mean power in each band of 10 ms windows, in dB, shape (b,)."""
    size = round(_WINDOW_S * sample_rate_hz)
    starts = starts[starts + size <= samples.size]
    if starts.size == 0:
        return np.full(edges.size - 1, _db(0.0))
    windows = samples[starts[:, np.newaxis] + np.arange(size)] * np.hanning(size)
    # Padded, so that a band of 150 Hz has lines of its own.
    padded = 4 * size
    power = power_of(np.fft.rfft(windows, padded, axis=1)).mean(axis=0)
    hz = np.fft.rfftfreq(padded, 1.0 / sample_rate_hz)
    places = np.searchsorted(hz, edges)
    sums = np.add.reduceat(power, places[:-1])
    levels: NDArray[np.float64] = 10.0 * np.log10(np.maximum(sums, _NOTHING))
    return levels


def band_step(
    one_db: NDArray[np.float64],
    other_db: NDArray[np.float64],
    width: NDArray[np.float64],
    frames: list[int],
) -> float:
    """Give how far two rooms differ in their bands, over what so short pieces of one noise do.

    Parameters
    ----------
    one_db, other_db : ndarray, shape (b,)
        Level of each band.
    width : ndarray, shape (b,)
        Of the bands, Hz.
    frames : list of int
        How many frames each was measured from.
    """
    lengths_s = [count / FRAMES_PER_S for count in frames]
    variance = 4.34**2 * sum(1.0 / (width * length_s) for length_s in lengths_s) + _SYSTEMATIC_DB2
    return float(np.sqrt(np.mean((one_db - other_db) ** 2 / variance)))


def smoothed_bands(levels: NDArray[np.float64]) -> NDArray[np.float64]:
    """Smooth levels of bands twice with 1/4, 1/2, 1/4; the ends stand for what is beyond."""
    for _ in range(2):
        padded = np.pad(levels, 1, mode="edge")
        levels = padded[:-2] / 4.0 + padded[1:-1] / 2.0 + padded[2:] / 4.0
    return levels


def _db(power: float) -> float:
    return 10.0 * float(np.log10(max(power, _NOTHING)))
