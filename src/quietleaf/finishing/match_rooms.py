"""The room on both sides of a place, as it will be once the even voice has given its gains."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.fills import BANDS_HZ, band_powers, envelope
from quietleaf.finishing.plan import RATE_HZ, Fill, Sentence
from quietleaf.finishing.ranges import Sound, without_rumble
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.finishing.voice_moves import gains_db, moves_between
from quietleaf.listening.join_room import band_step, pause_rooms_of, rooms_of
from quietleaf.listening.structure import (
    FRAMES_PER_S,
    HEARD_DB,
    Structure,
    structure_of_power,
)
from quietleaf.units import db_of_power

FLOOR_DB = 1.2
"""Between untouched pauses of one room 99 of 100 steps are under 1.4 dB: less is matched."""
BANDS = 2.5
"""The same for the bands together, in standard deviations: 99 of 100 are under 3."""
_UNKNOWN_FLOOR_DB, _UNKNOWN_BANDS = 3.0, 6.0
_PAUSES_MIN = 4
_PERCENTILE = 90.0
_ROOM_FRAMES_MIN = 10
_OWN_MOST = 40
_OWN_PAUSE_FRAMES = 50
_REACH_FRAMES = 13 * FRAMES_PER_S
_PAUSE_REACH_FRAMES = FRAMES_PER_S
_EDGE = (RATE_HZ // 50, RATE_HZ // 200, RATE_HZ // 100, RATE_HZ // 40)
"""20 to 5 ms before a place, and 10 to 25 ms after it."""
_WINDOW = 960
_HZ = np.fft.rfftfreq(_WINDOW, 1.0 / RATE_HZ)
_TOP_FALL = 0.01
_TOP_LINES, _TOP_GAP = 6, 4
_TOP_HZ_MIN = 3_000.0
"""Telephones end a little higher. Below, a hum makes such falls."""
_NOTHING = 1e-14
_JUDGED = slice(1, 15)
"""150 Hz to 9.6 kHz."""
_WIDTH_HZ = np.diff(BANDS_HZ)[_JUDGED]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rooms:
    """The room on both sides of a place.

    Attributes
    ----------
    step_db : float
        By how much it is louder after it.
    bands : float
        How far the sides differ per band: root mean square of the differences over the standard
        deviations that so short pieces of one noise have.
    before, after : ndarray, shape (b,)
        Power in each band of `quietleaf.finishing.fills.BANDS_HZ`, relative to RMS 1.0.
    top_hz : float
        Where both end, as a lower sampling rate or a coder left them; 19.2 kHz if they do not.
    """

    step_db: float
    bands: float
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    top_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastStep:
    """Steps that are not to be matched: readings make them by themselves."""

    floor_db: float
    bands: float

    def counts(self, rooms: Rooms) -> bool:
        """Say whether a step is more."""
        return abs(rooms.step_db) > self.floor_db or rooms.bands > self.bands


class EvenedRooms:
    """A recording, its sentences with their gains, and the rooms in it.

    Parameters
    ----------
    power : ndarray, shape (k,)
        Mean square of each 5 ms of the recording.
    structure : Structure
        Of the whole of it.
    sentences : tuple of Sentence
    move_samples : int
        The longest that a gain takes to move.
    """

    def __init__(
        self,
        power: NDArray[np.floating],
        structure: Structure,
        sentences: tuple[Sentence, ...],
        sound: Sound,
        move_samples: int,
    ) -> None:
        self._sound = sound
        self._power = power.astype(np.float64)
        places = [(one.start, one.stop) for one in sentences]
        moves = moves_between(sentences, places, move_samples)
        # A level is that of two frames: it stands for where they meet.
        meet = np.arange(1.0, power.size + 1.0) * FRAME_SAMPLES
        self._gain_db = gains_db(moves, sentences[0].gain_db if sentences else 0.0, meet)
        self._still = np.zeros(power.size)
        self._runs = structure.runs
        self._unheard_dbov = structure.speech_dbov - HEARD_DB
        self._told: dict[int, tuple[tuple[int, int, tuple[Fill, ...]], Rooms | None]] = {}

    def at(self, place: int, first: int, stop: int, fills: Sequence[Fill] = ()) -> Rooms | None:
        """Measure around a sample, within a range; None where a side has too little room tone.

        What is laid into the master there already counts with the power that it will have. The last
        answer of each place is kept: it is asked for again with the same fills.
        """
        asked = (first, stop, tuple(fills))
        if place not in self._told or self._told[place][0] != asked:
            rooms = self._at(self._gain_db, place, first, stop, fills)
            self._told[place] = asked, rooms
        return self._told[place][1]

    def in_pause(self, place: int, fills: Sequence[Fill] = ()) -> Rooms | None:
        """Measure inside the pause around a sample; None where it says too little of a side."""
        frame = place // FRAME_SAMPLES
        begin, end = max(0, frame - _PAUSE_REACH_FRAMES), frame + _PAUSE_REACH_FRAMES
        power = self._power_with(self._gain_db, begin, min(end, self._power.size), fills)
        level = 10.0 * np.log10(np.maximum((power[:-1] + power[1:]) / 2.0, _NOTHING))
        near = self._runs[np.searchsorted(self._runs[:, 1], begin) :] - begin
        sides = pause_rooms_of(level, near, frame - begin)
        if not sides[0].size:
            return None
        return self._rooms(self._gain_db, level, begin, sides, fills)

    def edge_db(self, place: int, fills: Sequence[Fill] = ()) -> float:
        """Measure how far the levels right beside a sample are apart."""
        first, stop = max(0, place - _EDGE[0]), min(place + _EDGE[3], self._sound.info.frames)
        heard = without_rumble(self._sound, first, stop)
        levels = []
        for begin, end in ((place - _EDGE[0], place - _EDGE[1]), (place + _EDGE[2], stop)):
            part = heard[max(begin - first, 0) : max(end - first, 1)]
            frame = np.array([min((begin + end) // 2 // FRAME_SAMPLES, self._power.size - 1)])
            power = float(np.mean(part**2)) * 10.0 ** (self._gain_db[frame[0]] / 10.0)
            for fill in fills:
                power += band_powers(fill.bands_db).sum() * float(_power_share(fill, frame)[0])
            levels.append(max(db_of_power(max(power, _NOTHING)), self._unheard_dbov))
        return abs(levels[1] - levels[0])

    def pause_around(self, place: int) -> tuple[int, int]:
        """Give where the word before a sample ends and where the one after it begins."""
        ends, starts = self._runs[:, 1] * FRAME_SAMPLES, self._runs[:, 0] * FRAME_SAMPLES
        before, after = ends[ends <= place], starts[starts >= place]
        return (
            int(before[-1]) if before.size else 0,
            int(after[0]) if after.size else self._power.size * FRAME_SAMPLES,
        )

    def least_step(self, joins: Sequence[int]) -> LeastStep:
        """Give what this reading steps by itself, at pauses without a join.

        Notes
        -----
        The 90th percentile, at four pauses or more, of the reading as recorded or with its gains,
        whichever is less: the even voice moves the room by up to 2 dB from sentence to sentence,
        and a join is not to be heard for what others are excused. Never under 1.2 dB, nor 2.5
        standard deviations in the bands. The check of a join allows 1.3 times the 97th percentile:
        what comes near to that is matched too.
        """
        free = self.free_pauses(joins)
        least: list[tuple[float, float]] = []
        for gain_db in (self._still, self._gain_db):
            found = [self._at(gain_db, *pause) for pause in free]
            steps = [(abs(rooms.step_db), rooms.bands) for rooms in found if rooms is not None]
            if len(steps) < _PAUSES_MIN:
                return LeastStep(floor_db=_UNKNOWN_FLOOR_DB, bands=_UNKNOWN_BANDS)
            floor_db, bands = np.percentile(np.array(steps), _PERCENTILE, axis=0)
            least.append((float(floor_db), float(bands)))
        return LeastStep(
            floor_db=max(FLOOR_DB, min(floor_db for floor_db, _ in least)),
            bands=max(BANDS, min(bands for _, bands in least)),
        )

    def free_pauses(self, joins: Sequence[int]) -> list[tuple[int, int, int]]:
        """Give pauses without a join, spread over the reading: their middles, and the joins around.

        They are not listened to past a join.
        """
        runs = self._runs * FRAME_SAMPLES
        bounds = [0, *joins, self._power.size * FRAME_SAMPLES]
        free = []
        for stop, start in zip(runs[:-1, 1].tolist(), runs[1:, 0].tolist(), strict=True):
            after = bisect_right(joins, stop)
            is_free = after == len(joins) or joins[after] > start
            if start - stop >= _OWN_PAUSE_FRAMES * FRAME_SAMPLES and is_free:
                free.append(((stop + start) // 2, bounds[after], bounds[after + 1]))
        return free[:: -(-len(free) // _OWN_MOST) or 1]

    def _at(
        self,
        gain_db: NDArray[np.float64],
        place: int,
        first: int,
        stop: int,
        fills: Sequence[Fill] = (),
    ) -> Rooms | None:
        frame = place // FRAME_SAMPLES
        begin = max(first // FRAME_SAMPLES + 1, frame - _REACH_FRAMES)
        end = min(stop // FRAME_SAMPLES, frame + _REACH_FRAMES, self._power.size)
        # Told from what is near, as it will be heard there: as the check of the join does it.
        near = structure_of_power(self._power_with(gain_db, begin, end, fills))
        if near is None:
            return None
        sides = rooms_of(near, frame - begin, 0, near.level.size)
        if min(side.size for side in sides) < _ROOM_FRAMES_MIN:
            return None
        return self._rooms(gain_db, near.level, begin, sides, fills)

    def _power_with(
        self, gain_db: NDArray[np.float64], begin: int, end: int, fills: Sequence[Fill]
    ) -> NDArray[np.float64]:
        power: NDArray[np.float64] = self._power[begin:end] * 10.0 ** (gain_db[begin:end] / 10.0)
        for fill in fills:
            power = power + band_powers(fill.bands_db).sum() * _power_share(
                fill, np.arange(begin, end)
            )
        return power

    def _rooms(
        self,
        gain_db: NDArray[np.float64],
        level: NDArray[np.float64],
        begin: int,
        sides: tuple[NDArray[np.int64], NDArray[np.int64]],
        fills: Sequence[Fill],
    ) -> Rooms:
        """Measure frames of both sides; they and their levels count from ``begin`` on."""
        levels = [db_of_power(float(np.mean(10.0 ** (level[side] / 10.0)))) for side in sides]
        spectra = [self._spectrum(side + begin, gain_db) for side in sides]
        before, after = (
            _band_powers(spectrum, side + begin, fills)
            for spectrum, side in zip(spectra, sides, strict=True)
        )
        return Rooms(
            step_db=levels[1] - levels[0],
            bands=band_step(
                _levels_db(before), _levels_db(after), _WIDTH_HZ, [side.size for side in sides]
            ),
            before=before,
            after=after,
            top_hz=_top_hz(spectra[0] + spectra[1]),
        )

    def _spectrum(
        self, frames: NDArray[np.int64], gain_db: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Give the mean power in each line of 50 Hz."""
        # Windows of 20 ms that lie in room tone from end to end.
        whole = frames[np.isin(frames + 2, frames)]
        frames = whole if whole.size else frames
        first = int(frames[0]) * FRAME_SAMPLES
        last = int(frames[-1]) * FRAME_SAMPLES + _WINDOW
        heard = without_rumble(self._sound, first, min(last, self._sound.info.frames))
        starts = frames * FRAME_SAMPLES - first
        inside = starts + _WINDOW <= heard.size
        starts, gains = starts[inside], 10.0 ** (gain_db[frames[inside]] / 10.0)
        shape = np.hanning(_WINDOW)
        windows = heard[starts[:, np.newaxis] + np.arange(_WINDOW)] * shape
        power = gains @ np.abs(np.fft.rfft(windows, axis=1)) ** 2 / max(starts.size, 1)
        spectrum: NDArray[np.float64] = power * (2.0 / (_WINDOW * float((shape**2).sum())))
        return spectrum


def _band_powers(
    spectrum: NDArray[np.float64], frames: NDArray[np.int64], fills: Sequence[Fill]
) -> NDArray[np.float64]:
    """Give the power in each band, with what fills add to these frames."""
    sums: NDArray[np.float64] = np.add.reduceat(spectrum, np.searchsorted(_HZ, BANDS_HZ))[:-1]
    for fill in fills:
        sums += band_powers(fill.bands_db) * _power_share(fill, frames).mean()
    return np.maximum(sums, _NOTHING)


def _top_hz(spectrum: NDArray[np.float64]) -> float:
    """Give where a spectrum falls by 20 dB within 400 Hz, and stays there."""
    means = np.convolve(spectrum, np.full(_TOP_LINES, 1.0 / _TOP_LINES), mode="valid")
    below, above = means[: -_TOP_LINES - _TOP_GAP], means[_TOP_LINES + _TOP_GAP :]
    middles = _HZ[np.arange(below.size) + _TOP_LINES + _TOP_GAP // 2]
    falls = np.flatnonzero(
        (above < _TOP_FALL * below) & (middles > _TOP_HZ_MIN) & (middles < BANDS_HZ[-1])
    )
    return float(middles[falls[0]]) if falls.size else BANDS_HZ[-1]


def _power_share(fill: Fill, frames: NDArray[np.int64]) -> NDArray[np.float64]:
    """Give how much of a fill's power some frames of the sound get."""
    middle = (frames.astype(np.float64) + 0.5) * FRAME_SAMPLES
    share: NDArray[np.float64] = envelope(fill, middle - fill.start, fill.stop - middle) ** 2
    return share


def _levels_db(powers: NDArray[np.float64]) -> NDArray[np.float64]:
    levels: NDArray[np.float64] = 10.0 * np.log10(powers[_JUDGED])
    return levels
