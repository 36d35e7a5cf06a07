"""The hearability check: whether anything at a join can be heard."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_toeplitz
from scipy.signal import lfilter

from quietleaf.listening.join_limits import (
    ADVICE,
    JOIN_LIMITS,
    OWN_PAUSES_MIN,
    OWN_PERCENTILE,
    OWN_SHARE,
    JoinFault,
    JoinFaultKind,
    JoinLimits,
    OwnLimits,
)
from quietleaf.listening.join_room import RoomStep, band_edges_hz, room_step, side_step, step_at
from quietleaf.listening.reader_pauses import UNKNOWN, ReaderPauses
from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Event,
    Structure,
    events_between,
    frame_starts,
    structure_of_sound,
)

CONTEXT_S = 13.0
"""So much is listened to on each side, and never past another join."""
_IN_SPEECH_S = 0.015
_SPOKEN_FRAMES = 10
_SPOKEN_MIN = 7
_EDGE_BEFORE_S = (0.020, 0.005)
_EDGE_AFTER_S = (0.010, 0.025)
_CLICK_AROUND_S = 0.05
_CLICK_NEAR_S = 0.002
_CLICK_FLOOR_DB = 90.0
_CLICK_LEAST_DB = 78.0
_ORDER = (12, 32)
_BREATH_S = 0.08
_BREATHS_APART_S = 0.7
_BREATH_LENGTHS = 2.0
_BREATH_PEAKS_DB = 7.0
_BREATH_UNDER_DB = 50.0
_BREATH_SPECTRA_DB = 5.0
_NOTHING = 1e-20


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinHeard:
    """What was heard at a join.

    Attributes
    ----------
    faults : tuple of JoinFault
        Empty where nothing shows.
    measured : mapping of str to float
        Every value that could be measured, its unit last in its name.
    """

    faults: tuple[JoinFault, ...]
    measured: Mapping[str, float]


def check_join(
    samples: NDArray[np.float64],
    sample_rate_hz: int,
    splice: int,
    *,
    fade_samples: int,
    pauses: ReaderPauses | None = None,
    own: OwnLimits | None = None,
    limits: JoinLimits = JOIN_LIMITS,
) -> JoinHeard:
    """Listen to a join.

    Parameters
    ----------
    samples : ndarray, shape (n,), full scale 1.0
        The sound around it, 13 s a side at most, to no other join.
    splice : int
        The middle of the fade.
    fade_samples : int
        Its length; 0 for a hard cut.
    pauses : ReaderPauses, optional
        How long this reader pauses; without it, what readers do.
    own : OwnLimits, optional
        How much the room steps by itself; without it, steps of the room are measured and not
        judged, since a recording that was gated steps at every pause.

    Returns
    -------
    heard : JoinHeard
        Silence, and sound in which nobody speaks, have nothing to find but a click.

    Notes
    -----
    Ours; the limits are those of untouched pauses. A level of the voice is compared over up to
    12 s a side and is no proof on its own: readers differ from themselves.
    """
    structure = structure_of_sound(samples, sample_rate_hz)
    held = _Held()
    hold = held.hold
    hold("click", _click(samples, sample_rate_hz, splice, fade_samples), limits.click, "click")
    if structure is None:
        return held.heard()
    place = splice * FRAMES_PER_S // sample_rate_hz
    hold("in-speech", _speech_near(structure, place), 0.0, "speech_near_frames")
    hold("edge", _edge_db(samples, sample_rate_hz, splice, structure), limits.edge_db, "edge_db")
    start, stop = _pause(structure, place)
    if start is not None and stop is not None:
        usual = pauses or UNKNOWN
        pause_s = max(stop - start, 0) / FRAMES_PER_S
        hold("pause-short", pause_s, usual.shortest_s, "pause_s", least=True)
        hold("pause-long", pause_s, usual.longest_s, "pause_s")
        breaths = _doubled(samples, sample_rate_hz, structure, start, stop)
        hold("doubled-breath", breaths, 0.0, "doubled_breaths")
    step = side_step(samples, sample_rate_hz, structure, place)
    held.measure_room(step.room)
    if own is not None:
        most = own.at_least(limits)
        hold("floor-step", step.room.floor_db, most.floor_db, "floor_step_db")
        hold("band-step", step.room.bands, most.bands, "band_step")
    hold("level-step", step.level_db, limits.level_db, "level_step_db")
    hold("colour-step", step.colour_db, limits.colour_db, "colour_step_db")
    return held.heard()


def measure_room(
    samples: NDArray[np.float64], sample_rate_hz: int, splice: int
) -> Mapping[str, float]:
    """Measure what more room tone can mend: a part of `check_join`, in a third of its time.

    Parameters
    ----------
    samples, sample_rate_hz, splice
        As there.

    Returns
    -------
    measured : mapping of str to float
        The edge and the steps of the room, named as there; nothing where nobody speaks.
    """
    structure = structure_of_sound(samples, sample_rate_hz)
    if structure is None:
        return {}
    held = _Held()
    held.measure("edge_db", _edge_db(samples, sample_rate_hz, splice, structure))
    place = splice * FRAMES_PER_S // sample_rate_hz
    held.measure_room(room_step(samples, sample_rate_hz, structure, place, place))
    return held.measured


def own_limits(
    samples: NDArray[np.float64], sample_rate_hz: int, pauses: Iterable[tuple[int, int]]
) -> OwnLimits | None:
    """Learn how much the room of a reading steps by itself.

    Parameters
    ----------
    samples : ndarray, shape (n,), full scale 1.0
    pauses : iterable of (int, int)
        Pauses in it that nobody touched, in samples.

    Returns
    -------
    own : OwnLimits or None
        None from fewer than ten pauses: they say too little.
    """
    found = []
    around = round(CONTEXT_S * sample_rate_hz)
    for start, stop in pauses:
        middle = (start + stop) // 2
        first = max(0, middle - around)
        part = samples[first : middle + around]
        found.append(step_at(part, sample_rate_hz, middle - first))
    return own_limits_of(found)


def own_limits_of(steps: Iterable[RoomStep | None]) -> OwnLimits | None:
    """Learn it from steps that were measured; None from fewer than ten."""
    known = [step for step in steps if step is not None]
    around = _own_limit((step.floor_db, step.bands) for step in known)
    if around is None:
        return None
    inside = _own_limit((step.pause_db, step.pause_bands) for step in known)
    pause_db, pause_bands = inside or (math.inf, math.inf)
    return OwnLimits(
        floor_db=around[0], bands=around[1], pause_db=pause_db, pause_bands=pause_bands
    )


def _own_limit(
    steps: Iterable[tuple[float | None, float | None]],
) -> tuple[float, float] | None:
    found = [(db, bands) for db, bands in steps if db is not None and bands is not None]
    if len(found) < OWN_PAUSES_MIN:
        return None
    floor_db, bands = np.percentile(np.array(found), OWN_PERCENTILE, axis=0) * OWN_SHARE
    return float(floor_db), float(bands)


@dataclass(slots=True, kw_only=True)
class _Held:
    """What was measured so far, and what was too much."""

    measured: dict[str, float] = field(default_factory=dict)
    faults: list[JoinFault] = field(default_factory=list)

    def measure(self, name: str, value: float | None) -> None:
        if value is not None:
            self.measured[name] = round(value, 4)

    def measure_room(self, room: RoomStep) -> None:
        self.measure("floor_step_db", room.floor_db)
        self.measure("band_step", room.bands)
        # A word that dies away steps as much: planning compares these, nothing is named by them.
        self.measure("pause_step_db", room.pause_db)
        self.measure("pause_band_step", room.pause_bands)

    def hold(
        self,
        kind: JoinFaultKind,
        value: float | None,
        limit: float,
        name: str,
        *,
        least: bool = False,
    ) -> None:
        self.measure(name, value)
        if value is not None and (value < limit if least else value > limit):
            fault = JoinFault(kind=kind, measured=value, limit=limit, advice=ADVICE[kind])
            self.faults.append(fault)

    def heard(self) -> JoinHeard:
        return JoinHeard(faults=tuple(self.faults), measured=self.measured)


def _pause(structure: Structure, place: int) -> tuple[int | None, int | None]:
    """Go outwards to where 7 of 10 frames are speech; None where the sound ends before."""
    loud = (structure.level >= structure.threshold_dbov).astype(np.int64)
    many = np.convolve(loud, np.ones(_SPOKEN_FRAMES, dtype=np.int64), mode="valid") >= _SPOKEN_MIN
    first = np.flatnonzero(many[: max(0, place - _SPOKEN_FRAMES + 1)])
    after = np.flatnonzero(many[place:])
    start = None if first.size == 0 else int(first[-1]) + _last_of(loud, int(first[-1]))
    stop = (
        None if after.size == 0 else place + int(after[0]) + _first_of(loud, place + int(after[0]))
    )
    return start, stop


def _last_of(loud: NDArray[np.int64], at: int) -> int:
    return int(np.flatnonzero(loud[at : at + _SPOKEN_FRAMES])[-1]) + 1


def _first_of(loud: NDArray[np.int64], at: int) -> int:
    return int(np.flatnonzero(loud[at : at + _SPOKEN_FRAMES])[0])


def _speech_near(structure: Structure, place: int) -> float:
    near = round(_IN_SPEECH_S * FRAMES_PER_S)
    around = structure.level[max(0, place - near - 1) : place + near]
    return float((around >= structure.threshold_dbov).sum())


def _edge_db(
    samples: NDArray[np.float64], sample_rate_hz: int, splice: int, structure: Structure
) -> float | None:
    def level(start_s: float, stop_s: float) -> float | None:
        first, stop = (splice + round(at * sample_rate_hz) for at in (start_s, stop_s))
        part = samples[max(0, first) : max(0, stop)]
        if part.size == 0:
            return None
        power = float(np.mean((part - part.mean()) ** 2))
        # Nobody hears what lies 58 dB under the voice.
        return max(10.0 * float(np.log10(max(power, _NOTHING))), structure.speech_dbov - 58.0)

    before = level(-_EDGE_BEFORE_S[0], -_EDGE_BEFORE_S[1])
    after = level(*_EDGE_AFTER_S)
    return None if before is None or after is None else abs(before - after)


def _click(
    samples: NDArray[np.float64], sample_rate_hz: int, splice: int, fade_samples: int
) -> float | None:
    """Give the greatest residual of linear prediction near the splice over the usual one."""
    around = round(_CLICK_AROUND_S * sample_rate_hz)
    first = max(0, splice - around)
    part = samples[first : splice + around]
    order = int(np.clip(sample_rate_hz // 1000, *_ORDER))
    if part.size < 8 * order or not part.any():
        return None
    voice = float(np.sqrt(np.mean(samples[samples != 0.0] ** 2)))
    correlation = np.correlate(part, part, mode="full")[part.size - 1 : part.size + order]
    correlation[0] += part.size * (voice * 10.0 ** (-_CLICK_FLOOR_DB / 20.0)) ** 2
    predictor = solve_toeplitz(correlation[:-1], correlation[1:])
    residual = np.abs(lfilter(np.concatenate([[1.0], -predictor]), [1.0], part))
    residual[:order] = 0.0
    usual = 1.4826 * float(np.median(residual[order:]))
    least = voice * 10.0 ** (-_CLICK_LEAST_DB / 20.0)
    reach = fade_samples // 2 + round(_CLICK_NEAR_S * sample_rate_hz)
    near = residual[max(order, splice - first - reach) : splice - first + reach]
    return float(near.max()) / max(usual, least, _NOTHING) if near.size else None


def _doubled(
    samples: NDArray[np.float64],
    sample_rate_hz: int,
    structure: Structure,
    start: int,
    stop: int,
) -> float:
    """Count pairs of breaths in one pause that are one breath twice."""
    events = [
        event
        for event in events_between(structure, start, stop)
        if not event.loud
        and event.stop - event.start >= _BREATH_S * FRAMES_PER_S
        and event.peak_dbov > structure.speech_dbov - _BREATH_UNDER_DB
    ]
    starts = frame_starts(structure.level.size, sample_rate_hz)
    edges = band_edges_hz(sample_rate_hz)

    def spectrum(event: Event) -> NDArray[np.float64]:
        part = samples[starts[event.start] : starts[min(event.stop, starts.size - 1)]]
        power = np.abs(np.fft.rfft(part * np.hanning(part.size))) ** 2
        hz = np.fft.rfftfreq(part.size, 1.0 / sample_rate_hz)
        sums = np.add.reduceat(power, np.minimum(np.searchsorted(hz, edges), power.size - 1)[:-1])
        levels: NDArray[np.float64] = 10.0 * np.log10(np.maximum(sums, _NOTHING))
        level_less_mean: NDArray[np.float64] = levels - levels.mean()
        return level_less_mean

    found = 0
    for one, other in pairwise(events):
        lengths = [event.stop - event.start for event in (one, other)]
        alike = (
            (other.start - one.stop) / FRAMES_PER_S < _BREATHS_APART_S
            and max(lengths) <= _BREATH_LENGTHS * min(lengths)
            and abs(one.peak_dbov - other.peak_dbov) <= _BREATH_PEAKS_DB
        )
        if alike:
            difference = spectrum(one) - spectrum(other)
            found += bool(np.sqrt(np.mean(difference**2)) <= _BREATH_SPECTRA_DB)
    return float(found)
