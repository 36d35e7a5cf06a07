"""Lays what comes over a reading: sounds under speech, pops, hum, beds, echoes."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from bench.proving.labels import of_kind
from bench.proving.places import Places, count_of
from bench.proving.readers import ClipReader
from bench.proving.reading import Draws, Reading
from bench.proving.shaping import (
    Samples,
    dies_away,
    faded,
    gain_of,
    hum,
    in_room,
    looped,
    loudest_db,
    plosive,
    resampled,
)

_LOUD_UNDER_DB = (-6.0, 6.0)
_POP_DB = (1.0, 10.0)
_BED_KINDS = ("fan", "hiss", "traffic", "dishes", "babble")


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
        for _ in range(count_of(draw, getattr(mess, name) * mess.under_speech, places.length_s)):
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
    for _ in range(count_of(draw, mess.voices, places.length_s) if others else 0):
        _lay_voice(reading, places, others[int(draw.integers(len(others)))], draw)


def lay_close(reading: Reading, places: Places, scene: Samples, draws: Draws) -> None:
    """Add to the scene what comes after the room: pops, hum, fans and hiss."""
    mess, line = reading.mess, reading.line
    draw = draws("pops")
    for _ in range(count_of(draw, mess.pops, places.length_s)):
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
    for _ in range(count_of(draw, mess.hums, places.length_s)):
        _lay_stretch(reading, places, scene, draw, "hum")
    draw = draws("beds")
    for _ in range(count_of(draw, mess.beds, places.length_s)):
        _lay_stretch(reading, places, scene, draw, "noise")


def lay_echoes(reading: Reading, scene: Samples, responses: Sequence[Samples]) -> None:
    """Let stretches be heard through a room."""
    mess, line = reading.mess, reading.line
    draw = reading.draws("echoes")
    length_s = scene.size / line.rate_hz
    responses = [one for one in responses if dies_away(one)]
    spans: list[tuple[float, float]] = []
    for _ in range(count_of(draw, mess.echoes, length_s) if responses else 0):
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
