"""A repair as a picture: the sound before and after as spectrograms, and their text twin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.png import png_of_ink
from quietleaf.delivery.report_words import KEPT, number, repairs_shown
from quietleaf.delivery.spectrogram import COLUMNS, WIDE, Scale, inked, spectrogram
from quietleaf.listening.findings import FindingKind
from quietleaf.units import db_of_power

PICTURES_MOST = 24
"""What a page carries: some 12 kB a repair. Ours."""
LEVELS_DB = 60
_SILENT_DBOV = -100.0
_POINT_COLUMNS = 2
_TOP_STEP_DB = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairPicture:
    """What is shown of a repair.

    Attributes
    ----------
    start_s : float
        Where it lies in the master.
    sentence : str
        What was there, and what is there now, with figures.
    length_s : float
        How much time the pictures show.
    place_from, place_to : float
        Where in the pictures it lies, in percent of their width.
    top_hz : int
        The pictures go from 0 Hz to here.
    before_png, after_png : bytes
    top_dbov : float
        The level at the upper edge of the picture of levels; ``LEVELS_DB`` lie under it.
    before_line, after_line : str
        Level over the same time, as points of ``COLUMNS`` by ``LEVELS_DB``.
    """

    kind: FindingKind
    start_s: float
    sentence: str
    length_s: float
    place_from: float
    place_to: float
    top_hz: int
    before_png: bytes
    after_png: bytes
    top_dbov: float
    before_line: str
    after_line: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairPictures:
    """Those repairs that have pictures, of how many there are."""

    shown: tuple[RepairPicture, ...] = ()
    repairs: int = 0


NO_PICTURES = RepairPictures()


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairedMoment:
    """The sound around a repair, with half a window of the scale before and after.

    Attributes
    ----------
    before, after : ndarray, shape (n + window,), 48 kHz
        As it came, brought to the loudness of the master, and the master.
    length_s : float
        Of the ``n`` samples.
    place : tuple of float
        From where to where the repair lies, as shares of the ``n`` samples.
    told : str
        What the plan measured of it, as a sentence; empty if nothing.
    """

    kind: FindingKind
    start_s: float
    length_s: float
    place: tuple[float, float]
    scale: Scale
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    told: str


def picture_of_repair(moment: RepairedMoment) -> RepairPicture:
    """Draw the sound around a repair, before and after, on one scale."""
    powers = [spectrogram(samples, moment.scale) for samples in (moment.before, moment.after)]
    before, after = inked(powers[0], powers[1])
    # Rumble is taken out of the whole: it would be told of each repair.
    levels = [power[1:] if moment.scale is WIDE else power for power in powers]
    lines = [_levels_dbov(power) for power in levels]
    top_dbov = float(np.ceil(np.max(lines) / _TOP_STEP_DB) * _TOP_STEP_DB)
    told = f"{moment.told} {_levels_told(levels, moment)}".lstrip()
    return RepairPicture(
        kind=moment.kind,
        start_s=moment.start_s,
        sentence=told,
        length_s=moment.length_s,
        place_from=round(100 * moment.place[0], 1),
        place_to=round(100 * moment.place[1], 1),
        top_hz=moment.scale.top_hz,
        before_png=png_of_ink(before),
        after_png=png_of_ink(after),
        top_dbov=top_dbov,
        before_line=_points(lines[0], top_dbov),
        after_line=_points(lines[1], top_dbov),
    )


def pictures_sentence(pictures: RepairPictures) -> str:
    """Say how to read the pictures, and whether some repairs have none.

    Examples
    --------
    >>> pictures_sentence(RepairPictures(repairs=0))
    'Nothing was repaired.'
    """
    if not pictures.repairs:
        return "Nothing was repaired."
    shown = len(pictures.shown)
    some = "" if shown == pictures.repairs else f"{repairs_shown(pictures.repairs, shown)} "
    return (
        f"{some}Time goes to the right and pitch upwards; the blacker, the louder, over 60{KEPT}dB."
        " The sound as it came is shown as loud as the master; the line under each picture is "
        "where the repair lies. Levels are those of what a picture shows."
    )


def _levels_dbov(power: NDArray[np.float32]) -> NDArray[np.float64]:
    means = power.sum(axis=0).reshape(-1, _POINT_COLUMNS).mean(axis=1)
    levels: NDArray[np.float64] = 10.0 * np.log10(np.maximum(means, 1e-10))
    return levels


def _points(levels_dbov: NDArray[np.float64], top_dbov: float) -> str:
    depths = np.minimum(top_dbov - levels_dbov, LEVELS_DB)
    return " ".join(
        f"{(place + 0.5) * _POINT_COLUMNS:.0f},{depth:.1f}" for place, depth in enumerate(depths)
    )


def _levels_told(powers: list[NDArray[np.float32]], moment: RepairedMoment) -> str:
    """Say how loud it is at the place, and beside it, before and after."""
    window = moment.scale.window_samples / 48_000 / moment.length_s / 2
    centres = (np.arange(COLUMNS) + 0.5) / COLUMNS
    start, stop = moment.place
    inside = (centres >= start - 0.5 / COLUMNS) & (centres < stop + 0.5 / COLUMNS)
    beside = (centres < start - window) | (centres > stop + window)
    here = [_level(power, inside) for power in powers]
    told = f"Level there: {here[0]} before, {here[1]} now"
    if not beside.any():
        return f"{told}."
    around = [_level(power, beside) for power in powers]
    return f"{told}; beside it {around[0]} before, {around[1]} now."


def _level(power: NDArray[np.float32], columns: NDArray[np.bool_]) -> str:
    level_dbov = db_of_power(float(power[:, columns].sum(axis=0).mean()))
    return "silence" if level_dbov < _SILENT_DBOV else f"{number(level_dbov)}{KEPT}dBov"
