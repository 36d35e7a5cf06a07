"""Faults of samples: they are clipped, silenced, played twice and left out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench.proving.labels import Label
from bench.proving.mess import Mess
from bench.proving.places import Places, count_of
from bench.proving.reading import Draws
from bench.proving.shaping import Samples, active_db, faded, gain_of, loudest_db

_DRIVE_DB = (3.0, 12.0)
_CEILING = 0.999
_CLIPPED_GAIN_MOST_DB = 22.0
_BLOCK_SAMPLES = (128, 4096)
_STAGE = 0.15
"""Share of clipped stretches that meet a ceiling of their own, lower than other peaks."""


def with_sample_faults(
    samples: Samples, rate: int, labels: Sequence[Label], mess: Mess, draws: Draws
) -> tuple[Samples, list[Label]]:
    """Clip, silence, repeat and leave out samples; labels are moved as samples are."""
    length_s = samples.size / rate
    places = Places(labels, length_s)
    told = list(labels)
    draw = draws("clips")
    # Full scale, or what was full scale before all was turned down.
    before = float(np.abs(samples).max()) if samples.size else _CEILING
    ceilings = (_CEILING, before) if draw.random() < 0.5 else (before,)
    for _ in range(count_of(draw, mess.clips, length_s)):
        stretch_s = float(draw.uniform(0.3, 2.0))
        at_s = places.in_speech(draw, stretch_s)
        if at_s is not None:
            label = _clip(samples, rate, (at_s, at_s + stretch_s), ceilings, draw)
            if label is not None:
                told.append(label)
    draw = draws("dropouts")
    for _ in range(count_of(draw, mess.dropouts, length_s)):
        gap_s = float(np.exp(draw.uniform(math.log(0.003), math.log(0.08))))
        at_s = places.in_speech(draw, gap_s)
        if at_s is not None:
            first, stop = round(at_s * rate), round((at_s + gap_s) * rate)
            samples[first:stop] = 0.0
            told.append(
                Label(
                    kind="dropout",
                    start_s=first / rate,
                    end_s=stop / rate,
                    detail={"what": "zeros"},
                )
            )
    edits = _block_edits(samples, rate, places, mess, draws)
    return _edited(samples, rate, told, edits)


@dataclass(frozen=True, slots=True, kw_only=True)
class _BlockEdit:
    """Samples from ``start`` on play twice (inserted, or over what follows), or are missing."""

    what: str
    start: int
    size: int


def _block_edits(
    samples: Samples, rate: int, places: Places, mess: Mess, draws: Draws
) -> list[_BlockEdit]:
    edits = []
    for name, what in (("repeats", "repeated"), ("drops", "dropped")):
        draw = draws(name)
        for _ in range(count_of(draw, getattr(mess, name), places.length_s)):
            size = int(np.exp(draw.uniform(*np.log(_BLOCK_SAMPLES))))
            for _ in range(10):
                at_s = places.in_speech(draw, 2 * size / rate)
                if at_s is None:
                    break
                start = round(at_s * rate)
                level = loudest_db(samples[start : start + size], rate, 0.01)
                # What is missing in silence is not heard.
                if level > active_db(samples[max(0, start - rate) : start + rate], rate) - 12.0:
                    over = what == "repeated" and draw.random() < 0.5
                    edits.append(
                        _BlockEdit(what="replaced" if over else what, start=start, size=size)
                    )
                    break
    return sorted(edits, key=lambda edit: edit.start)


def _edited(
    samples: Samples, rate: int, labels: Sequence[Label], edits: Sequence[_BlockEdit]
) -> tuple[Samples, list[Label]]:
    parts: list[Samples] = []
    told: list[Label] = []
    from_at = [0]
    by = [0]
    at = moved = 0
    for edit in edits:
        end = edit.start + edit.size
        block = samples[edit.start : end]
        if edit.what == "dropped":
            parts.append(samples[at : edit.start])
            told.append(_block_label("dropped", edit.start + moved, edit.start + moved, rate, edit))
            moved -= edit.size
        else:
            parts += [samples[at:end], block]
            told.append(_block_label("repeated", end + moved, end + moved + edit.size, rate, edit))
            if edit.what == "repeated":
                moved += edit.size
        at = end + edit.size if edit.what == "replaced" else end
        from_at.append(end)
        by.append(moved)
    parts.append(samples[at:])
    shifts = (np.array(from_at), np.array(by))
    return np.concatenate(parts), [*(_shifted(one, shifts, rate) for one in labels), *told]


def _block_label(what: str, start: int, stop: int, rate: int, edit: _BlockEdit) -> Label:
    return Label(
        kind="dropout",
        start_s=start / rate,
        end_s=stop / rate,
        detail={"what": what, "size": edit.size},
    )


def _shifted(label: Label, shifts: tuple[NDArray[np.int64], NDArray[np.int64]], rate: int) -> Label:
    from_at, by = shifts

    def moved(at_s: float) -> float:
        return at_s + float(by[np.searchsorted(from_at / rate, at_s, side="right") - 1]) / rate

    detail = {
        name: _moved_times(value, moved) if name.endswith("_s") else value
        for name, value in label.detail.items()
    }
    return Label(
        kind=label.kind, start_s=moved(label.start_s), end_s=moved(label.end_s), detail=detail
    )


def _moved_times(value: Any, moved: Callable[[float], float]) -> Any:
    if isinstance(value, tuple):
        return tuple(_moved_times(one, moved) for one in value)
    return moved(value)


def _clip(
    samples: Samples,
    rate: int,
    span_s: tuple[float, float],
    ceilings: Sequence[float],
    draw: np.random.Generator,
) -> Label | None:
    """Drive a stretch into the first ceiling that is near; else into one of its own."""
    first, stop = round(span_s[0] * rate), round(span_s[1] * rate)
    part = samples[first:stop]
    peak = max(float(np.abs(part).max()), 1e-9)
    drive_db = float(draw.uniform(*_DRIVE_DB))
    near = peak * gain_of(_CLIPPED_GAIN_MOST_DB - drive_db)
    reached = [ceiling for ceiling in ceilings if ceiling <= near]
    if draw.random() < _STAGE or not reached:
        ceiling = peak * gain_of(-drive_db)
    else:
        ceiling = reached[0]
        ramp = faded(np.ones(part.size), rate, 0.02, 0.02)
        part *= 1.0 + ramp * (ceiling / peak * gain_of(drive_db) - 1.0)
    over = np.flatnonzero(np.abs(part) > ceiling)
    if over.size < 6:
        return None
    np.clip(part, -ceiling, ceiling, out=part)
    return Label(
        kind="clip",
        start_s=(first + int(over[0])) / rate,
        end_s=(first + int(over[-1]) + 1) / rate,
        detail={"drive_db": drive_db, "ceiling": ceiling},
    )
