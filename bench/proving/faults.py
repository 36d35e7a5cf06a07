"""Lays what comes over a reading: sounds under speech, pops, hum, beds, and faults of samples."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.proving.labels import Label, of_kind
from bench.proving.mess import Mess
from bench.proving.reading import Draws, Reading
from bench.proving.shaping import (
    Samples,
    active_db,
    faded,
    gain_of,
    hum,
    in_room,
    looped,
    loudest_db,
    plosive,
    resampled,
)
from bench.proving.spoken import ClipReader

Span = tuple[float, float]

_APART_S = 1.0
_LOUD_UNDER_DB = (-6.0, 6.0)
_POP_DB = (1.0, 10.0)
_DRIVE_DB = (3.0, 12.0)
_CEILING = 0.999
_CLIPPED_GAIN_MOST_DB = 22.0
_BLOCK_SAMPLES = (128, 4096)
_BESIDE = ("speech", "pause", "breath-natural", "restart", "hum", "echo", "room")
"""What faults of other kinds may lie in."""
_STAGE = 0.15
"""Share of clipped stretches that meet a ceiling of their own, lower than other peaks."""
_BED_KINDS = ("fan", "hiss", "traffic", "dishes", "babble")


class Places:
    """Draws moments in speech that keep apart from other faults."""

    def __init__(self, labels: Sequence[Label], length_s: float) -> None:
        self.length_s = length_s
        self.speech = of_kind(labels, "speech")
        self._taken = [
            (one.start_s, one.end_s)
            for one in labels
            if one.kind not in _BESIDE and "bed" not in one.detail
        ]

    def free(self, start_s: float, end_s: float) -> bool:
        """Say whether nothing lies near."""
        return all(
            end_s + _APART_S < start or stop + _APART_S < start_s for start, stop in self._taken
        )

    def take(self, start_s: float, end_s: float) -> None:
        """Let nothing else lie near."""
        self._taken.append((start_s, end_s))

    def in_speech(self, draw: np.random.Generator, length_s: float) -> float | None:
        """Find a free stretch inside speech; None after some tries."""
        for _ in range(20):
            label = self.speech[int(draw.integers(len(self.speech)))]
            room_s = label.end_s - label.start_s - length_s - 0.1
            if room_s <= 0.0:
                continue
            at_s = label.start_s + 0.05 + float(draw.uniform(0.0, room_s))
            if self.free(at_s, at_s + length_s):
                self.take(at_s, at_s + length_s)
                return at_s
        return None


def lay_acoustic(reading: Reading, places: Places, others: Sequence[ClipReader]) -> None:
    """Lay what sounds in the room: noises under speech, and somebody else who speaks."""
    mess, line = reading.mess, reading.line
    for name, kind in (
        ("rustles", "rustle"),
        ("coughs", "cough"),
        ("clicks", "click"),
        ("noises", "noise"),
    ):
        draw = reading.draws(f"under-{name}")
        for _ in range(_count(draw, getattr(mess, name) * mess.under_speech, places.length_s)):
            made = reading.sound_of(kind, draw, _LOUD_UNDER_DB)
            if made is None:
                continue
            noise, sound, snr_db = made
            length_s = sound.size / line.rate_hz
            at_s = places.in_speech(draw, length_s)
            if at_s is not None:
                line.lay(at_s, sound)
                reading.tell_sound(noise, kind, at_s, at_s + length_s, snr_db, "speech")
    draw = reading.draws("voices")
    for _ in range(_count(draw, mess.voices, places.length_s) if others else 0):
        _lay_voice(reading, places, others[int(draw.integers(len(others)))], draw)


def lay_close(reading: Reading, places: Places, scene: Samples, draws: Draws) -> None:
    """Add to the scene what comes after the room: pops, hum, fans and hiss."""
    mess, line = reading.mess, reading.line
    draw = draws("pops")
    for _ in range(_count(draw, mess.pops, places.length_s)):
        at_s = _pop_place(places, draw)
        if at_s is None:
            continue
        sound = plosive(draw, line.rate_hz)
        snr_db = float(draw.uniform(*_POP_DB))
        level_db = loudest_db(sound, line.rate_hz, 0.01)
        _add(scene, at_s, sound * gain_of(line.speech_dbov + snr_db - level_db), line.rate_hz)
        length_s = sound.size / line.rate_hz
        line.tell("pop", at_s, at_s + length_s, {"snr_db": snr_db, "where": "speech"})
    draw = draws("hums")
    for _ in range(_count(draw, mess.hums, places.length_s)):
        _lay_stretch(reading, places, scene, draw, "hum")
    draw = draws("beds")
    for _ in range(_count(draw, mess.beds, places.length_s)):
        _lay_stretch(reading, places, scene, draw, "noise")


def lay_echoes(reading: Reading, scene: Samples, responses: Sequence[Samples]) -> None:
    """Let stretches be heard through a room."""
    mess, line = reading.mess, reading.line
    draw = reading.draws("echoes")
    length_s = scene.size / line.rate_hz
    spans: list[tuple[float, float]] = []
    for _ in range(_count(draw, mess.echoes, length_s) if responses else 0):
        stretch_s = min(float(draw.uniform(8.0, 25.0)), 0.5 * length_s)
        at_s = float(draw.uniform(0.0, length_s - stretch_s))
        if any(at_s < stop + 5.0 and start < at_s + stretch_s + 5.0 for start, stop in spans):
            continue
        spans.append((at_s, at_s + stretch_s))
        first, stop = round(at_s * line.rate_hz), round((at_s + stretch_s) * line.rate_hz)
        index = int(draw.integers(len(responses)))
        wet = in_room(scene[first:stop], responses[index])
        blend = faded(np.ones(stop - first), line.rate_hz, 0.05, 0.05)
        scene[first:stop] = (1.0 - blend) * scene[first:stop] + blend * wet
        line.tell("echo", at_s, at_s + stretch_s, {"room": index})


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
    for _ in range(_count(draw, mess.clips, length_s)):
        stretch_s = float(draw.uniform(0.3, 2.0))
        at_s = places.in_speech(draw, stretch_s)
        if at_s is not None:
            label = _clip(samples, rate, (at_s, at_s + stretch_s), ceilings, draw)
            if label is not None:
                told.append(label)
    draw = draws("dropouts")
    for _ in range(_count(draw, mess.dropouts, length_s)):
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
        for _ in range(_count(draw, getattr(mess, name), places.length_s)):
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


def _moved_times(value: object, moved: object) -> object:
    assert callable(moved)
    if isinstance(value, tuple):
        return tuple(_moved_times(one, moved) for one in value)
    return moved(value)


def _clip(
    samples: Samples, rate: int, span_s: Span, ceilings: Sequence[float], draw: np.random.Generator
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


def _pop_place(places: Places, draw: np.random.Generator) -> float | None:
    """Choose a /p/ or /b/, else a word's beginning, else a sentence's."""
    for _ in range(20):
        label = places.speech[int(draw.integers(len(places.speech)))]
        stops_s = [end_s for _, end_s in label.detail.get("stops_s", ())]
        choice = stops_s or list(label.detail.get("onsets_s", ())) or [label.start_s]
        at_s = float(choice[int(draw.integers(len(choice)))])
        if places.free(at_s, at_s + 0.1):
            places.take(at_s, at_s + 0.1)
            return at_s
    return None


def _lay_voice(
    reading: Reading, places: Places, other: ClipReader, draw: np.random.Generator
) -> None:
    """Let somebody say a sentence farther off, beginning in a pause."""
    line = reading.line
    pauses = [one for one in of_kind(line.labels, "pause") if one.end_s - one.start_s > 0.5]
    said = other.said[int(draw.integers(len(other.said)))]
    if not pauses:
        return
    pause = pauses[int(draw.integers(len(pauses)))]
    length_s = min(said.stop_s, 6.0)
    at_s = pause.start_s + 0.1
    if not places.free(at_s, at_s + length_s) or at_s + length_s > places.length_s:
        return
    places.take(at_s, at_s + length_s)
    snr_db = max(float(draw.uniform(-35.0, -25.0)), reading.floor_dbov + 8.0 - line.speech_dbov)
    sound = resampled(said.samples[: round(length_s * said.rate_hz)], said.rate_hz, line.rate_hz)
    sound = faded(sound, line.rate_hz, 0.01, 0.05) * gain_of(line.speech_dbov + snr_db)
    line.lay(at_s, sound)
    detail = {"source": said.name, "sort": "voice", "where": "pause", "snr_db": snr_db}
    line.tell("noise", at_s + said.start_s, at_s + length_s, detail)


def _lay_stretch(
    reading: Reading, places: Places, scene: Samples, draw: np.random.Generator, kind: str
) -> None:
    """Add hum, or a fan, hiss, traffic: for a while, well over the floor."""
    line = reading.line
    rate = line.rate_hz
    length_s = min(float(draw.uniform(5.0, 60.0 if kind == "hum" else 30.0)), 0.6 * places.length_s)
    at_s = float(draw.uniform(0.0, places.length_s - length_s))
    if any(
        at_s < one.end_s + 8.0 and one.start_s < at_s + length_s + 8.0
        for one in line.labels
        if one.kind == "hum" or "bed" in one.detail
    ):
        return
    count = round(length_s * rate)
    kinds = ("hum",) if kind == "hum" else _BED_KINDS
    beds = [bed for name in kinds for bed in reading.pieces.beds.get(name, ())]
    if kind == "hum" and (not beds or draw.random() < 0.8):
        mains_hz = float(draw.choice([50.0, 60.0]))
        sound, name = hum(draw, count, rate, mains_hz), f"{mains_hz:.0f} Hz"
    elif kind == "noise" and (not beds or draw.random() < 0.3):
        sound, name = np.diff(draw.normal(size=count + 1)) / math.sqrt(2.0), "hiss"
    elif beds:
        bed = beds[int(draw.integers(len(beds)))]
        sound = looped(resampled(bed.samples, bed.sample_rate_hz, rate), count, draw, rate)
        sound, name = sound / np.sqrt(np.mean(sound * sound)), bed.name
    over_db = float(draw.uniform(10.0, 24.0))
    level_db = min(reading.floor_dbov + over_db, line.speech_dbov - 6.0)
    _add(scene, at_s, faded(sound, rate, 0.05, 0.05) * gain_of(level_db), rate)
    detail = {"bed": name, "snr_db": level_db - line.speech_dbov, "where": "stretch"}
    line.tell(kind, at_s, at_s + length_s, detail)


def _add(scene: Samples, at_s: float, sound: Samples, rate: int) -> None:
    first = round(at_s * rate)
    part = scene[first : first + sound.size]
    part += sound[: part.size]


def _count(draw: np.random.Generator, a_minute: float, length_s: float) -> int:
    return int(draw.poisson(a_minute * length_s / 60.0))
