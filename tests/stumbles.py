"""Stumbles made from readings: the right places of a join are known, as the reading had none.

A pause of a real reading is chosen. The sentence after it is begun and broken off; then come the
press, room tone with what may be in it (a key, paper, the lead-in leaking from the headphones), and
the same sentence once more, with the pause before it as it was. The untouched reading says what the
join should sound like.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from quietleaf.listening.reader_pauses import ReaderPauses, reader_pauses
from quietleaf.listening.structure import (
    FRAMES_PER_S,
    Structure,
    events_between,
    frame_starts,
    release_frame,
    structure_of_sound,
)

PAUSE_S = (0.25, 2.0)
AROUND_S = 14.0
LEAD_IN_S = 3.0
_BOOTH_DB = 50.0
_MEAN_OVER_FLOOR_DB = 2.0
_SHELF_HZ = 2_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pause:
    """A pause of an untouched reading, in samples.

    Attributes
    ----------
    stop, start : int
        Where the word before it falls under the speech threshold, where the one after crosses it.
    room : int
        From here on there is room tone.
    quiet : int
        The quietest of it before any breath.
    """

    stop: int
    start: int
    room: int
    quiet: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A reading as it was read."""

    name: str
    licence: str
    samples: NDArray[np.float64]
    rate_hz: int
    pauses: tuple[Pause, ...]
    usual: ReaderPauses
    speech_dbov: float
    room_dbov: float

    def room(self, which: int, samples: int, seed: int) -> NDArray[np.float64]:
        """Make room tone as in one of its pauses: grains of 50 ms, half overlapping."""
        draw = np.random.default_rng(seed)
        grain = self.rate_hz // 20 // 2 * 2
        window = np.sin(np.pi * (np.arange(grain) + 0.5) / grain)
        made = np.zeros(samples + 2 * grain)
        for first in range(0, samples + grain, grain // 2):
            middle = self.pauses[which].quiet + int(draw.integers(-grain // 5, grain // 5 + 1))
            piece = self.samples[middle - grain // 2 : middle - grain // 2 + grain]
            made[first : first + grain] += window * piece * draw.choice([-1.0, 1.0])
        return made[grain : grain + samples]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What is done to a stumble.

    Attributes
    ----------
    waits_s : float
        From the end of the lead-in to where the pause before the sentence read again begins.
    leak_db : float or None
        The lead-in in the microphone, against the voice.
    gain_db, shelf_db, floor_db : float
        From the press on: louder, its room with it; brighter above 2 kHz; more noise of the room,
        by so much.
    tempo : float
        Of what is read again.
    """

    waits_s: float = 0.5
    leak_db: float | None = None
    paper: bool = False
    key: bool = True
    gain_db: float = 0.0
    shelf_db: float = 0.0
    floor_db: float = 0.0
    tempo: float = 1.0
    stumble_s: float = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Stumble:
    """A take with one, and what is known of it, in samples.

    Attributes
    ----------
    pause : Pause
        In the reading.
    back, mark, resume : int
        As a stand tells them.
    old : Pause
        The pause before the sentence, in the take.
    new : Pause
        The same pause before the sentence that is read again.
    untouched : ndarray
        The reading without the stumble.
    """

    reading: Reading
    pause: Pause
    kind: Kind
    take: NDArray[np.float64]
    back: int
    mark: int
    resume: int
    lead_in: NDArray[np.float64]
    old: Pause
    new: Pause
    untouched: NDArray[np.float64]


def reading_of(
    name: str, licence: str, samples: NDArray[np.float64], rate_hz: int
) -> Reading | None:
    """Find the pauses of a reading between what is spoken for 0.6 s and more on both sides."""
    structure = structure_of_sound(samples, rate_hz)
    if structure is None:
        return None
    pauses = tuple(_pauses(structure, samples.size, rate_hz))
    if len(pauses) < 3:
        return None
    lengths = [(pause.start - pause.stop) / rate_hz for pause in pauses]
    return Reading(
        name=name,
        licence=licence,
        samples=samples,
        rate_hz=rate_hz,
        pauses=pauses,
        usual=reader_pauses(lengths),
        speech_dbov=structure.speech_dbov,
        room_dbov=structure.floor_dbov + _MEAN_OVER_FLOOR_DB,
    )


def shared_readings(folder: Path) -> Iterator[Reading]:
    """Give the shared recordings as readings: consecutive sentences of one voice, as they are."""
    rows = json.loads((folder / "catalogue.json").read_text())
    voices: dict[str, list[dict[str, str]]] = {}
    for row in rows:
        if row["kind"] in ("speech", "continuous", "disfluent") and row.get("voice_id"):
            whole = row["kind"] == "continuous"
            voices.setdefault(f"{row['voice_id']}{'-whole' if whole else ''}", []).append(row)
    for name, parts in sorted(voices.items()):
        if f"{name}-whole" in voices:
            continue
        sounds, rates = zip(
            *(soundfile.read(folder / row["file"], dtype="float64") for row in parts), strict=True
        )
        if len(set(rates)) > 1:
            continue
        found = reading_of(name, parts[0]["licence"], np.concatenate(sounds), int(rates[0]))
        if found is not None:
            yield found


def stumble(
    reading: Reading, which: int, kind: Kind, seed: int, around_s: float = AROUND_S
) -> Stumble:
    """Make a take with a stumble after one of the pauses, and so much around it."""
    draw = np.random.default_rng(seed)
    rate = reading.rate_hz
    pause = reading.pauses[which]
    near = round(around_s * rate)
    begin, end = max(0, pause.stop - near), min(reading.samples.size, pause.start + near)
    broken = min(pause.start + round(kind.stumble_s * rate), end)
    tail = np.linspace(1.0, 0.0, round(0.02 * rate))
    first = reading.samples[begin:broken].copy()
    first[-tail.size :] *= tail
    # The room goes on under the fade, as it does in a room.
    press = reading.room(which, round(0.35 * rate), seed + 1)
    lead_in = reading.samples[
        max(begin, pause.quiet - round(LEAD_IN_S * rate)) : pause.quiet
    ].copy()
    waiting = reading.room(which, max(0, lead_in.size + round(kind.waits_s * rate)), seed + 2)
    if kind.key:
        _lay(press, _key(draw, rate, reading), press.size - round(0.02 * rate))
    if kind.paper:
        rustle = _noise(draw, round(0.6 * rate), rate, (300.0, 7_000.0)) * np.hanning(
            round(0.6 * rate)
        )
        _lay(waiting, rustle * 10 ** ((reading.speech_dbov - 12.0) / 20), round(0.9 * rate))
    again = reading.samples[pause.room : end]
    if kind.tempo != 1.0:
        again = soxr.resample(again, rate * 10_000, round(rate * 10_000 / kind.tempo), "HQ")
    take = np.concatenate([first, press, waiting, again])
    entered = first.size + press.size + waiting.size
    mark = first.size + press.size - round(0.02 * rate)

    def later(sample: int) -> int:
        return entered + round((sample - pause.room) / kind.tempo)

    # A quiet stretch with seams of its own would be a pause that nobody made.
    seams = [first.size, first.size + press.size, entered]
    for seam in seams:
        _blend(take, seam, round(0.01 * rate))
    if kind.leak_db is not None:
        leaked = _through_air(draw, lead_in, rate) * 10 ** (kind.leak_db / 20)
        _lay(take, leaked, seams[1] + round(0.012 * rate))
    take[first.size :] = _moved(draw, take[first.size :], kind, reading)
    return Stumble(
        reading=reading,
        pause=pause,
        kind=kind,
        take=take,
        back=pause.quiet - begin,
        mark=mark,
        resume=first.size + press.size + lead_in.size,
        lead_in=lead_in,
        old=Pause(
            stop=pause.stop - begin,
            start=pause.start - begin,
            room=pause.room - begin,
            quiet=pause.quiet - begin,
        ),
        new=Pause(
            stop=later(pause.stop),
            start=later(pause.start),
            room=entered,
            quiet=later(pause.quiet),
        ),
        untouched=reading.samples[begin:end],
    )


def read_later(
    reading: Reading, first: int, last: int, kind: Kind, seed: int
) -> tuple[NDArray[np.float64], int, int]:
    """Make a take of another day: what lies from one pause to another, after a lead-in.

    Returns
    -------
    take : ndarray, shape (n,)
        The room while the lead-in plays, the sentences, and a key.
    resume : int
        Where the lead-in ended.
    shift : int
        So much later than in the reading everything lies.
    """
    draw = np.random.default_rng(seed)
    rate = reading.rate_hz
    begin, end = reading.pauses[first].room, reading.pauses[last].quiet
    led = round(LEAD_IN_S * rate)
    waiting = reading.room(first, max(0, led + round(kind.waits_s * rate)), seed)
    after = reading.room(last, round(0.5 * rate), seed + 1)
    take = np.concatenate([waiting, reading.samples[begin:end], after])
    _lay(take, _key(draw, rate, reading), take.size - round(0.02 * rate))
    for seam in (waiting.size, take.size - after.size):
        _blend(take, seam, round(0.01 * rate))
    if kind.leak_db is not None:
        heard = reading.samples[
            max(0, reading.pauses[first].quiet - led) : reading.pauses[first].quiet
        ]
        leaked = _through_air(draw, heard, rate) * 10 ** (kind.leak_db / 20)
        _lay(take, leaked, round(0.012 * rate))
    return _moved(draw, take, kind, reading), led, waiting.size - begin


def _moved(
    draw: np.random.Generator,
    sound: NDArray[np.float64],
    kind: Kind,
    reading: Reading,
) -> NDArray[np.float64]:
    """Give it as if the reader, the gain, or the room had changed."""
    rate = reading.rate_hz
    if kind.floor_db > 0.0:
        dbov = max(reading.room_dbov, reading.speech_dbov - _BOOTH_DB)
        power = 10.0 ** (dbov / 10.0) * (10.0 ** (kind.floor_db / 10.0) - 1.0)
        sound = sound + _noise(draw, sound.size, rate, (80.0, 3_000.0)) * np.sqrt(power)
    if kind.shelf_db:
        low = butter(1, _SHELF_HZ, "lowpass", fs=rate, output="sos")
        below = np.asarray(sosfilt(low, sound))
        sound = below + (sound - below) * 10 ** (kind.shelf_db / 20)
    return sound * 10 ** (kind.gain_db / 20)


def _pauses(structure: Structure, size: int, rate_hz: int) -> Iterator[Pause]:
    starts = frame_starts(structure.level.size, rate_hz)
    runs = structure.runs
    least, most = (round(one * FRAMES_PER_S) for one in PAUSE_S)
    groups: list[list[int]] = []
    for a, b in runs.tolist():
        if groups and a - groups[-1][1] < least:
            groups[-1][1] = b
        else:
            groups.append([a, b])
    for before, after in pairwise(groups):
        long_enough = min(before[1] - before[0], after[1] - after[0]) >= 0.6 * FRAMES_PER_S
        if not long_enough or not least <= after[0] - before[1] <= most:
            continue
        released = release_frame(structure, before[1], after[0])
        events = events_between(structure, released, after[0])
        until = min(events[0].start if events else after[0] - 10, after[0] - 10)
        if until - released < 18:
            continue
        means = np.convolve(structure.level[released:until], np.full(16, 1 / 16), mode="valid")
        quiet = released + 8 + int(np.argmin(means))
        if structure.level[quiet - 6 : quiet + 5].mean() > structure.floor_dbov + 8.0:
            continue
        if starts[quiet] - rate_hz // 10 < 0 or starts[quiet] + rate_hz // 10 > size:
            continue
        yield Pause(
            stop=int(starts[before[1]]),
            start=int(starts[after[0] + 1]),
            room=int(starts[released]),
            quiet=int(starts[quiet]),
        )


def _key(draw: np.random.Generator, rate: int, reading: Reading) -> NDArray[np.float64]:
    count = round(0.012 * rate)
    sound = _noise(draw, count, rate, (800.0, 5_000.0)) * np.exp(-np.arange(count) / (0.003 * rate))
    return sound * 10 ** ((reading.speech_dbov - 10.0) / 20)


def _noise(
    draw: np.random.Generator, count: int, rate: int, band_hz: Sequence[float]
) -> NDArray[np.float64]:
    band = butter(2, [band_hz[0], min(band_hz[1], 0.45 * rate)], "bandpass", fs=rate, output="sos")
    sound = sosfilt(band, draw.normal(size=count))
    return np.asarray(sound / np.sqrt(np.mean(sound**2)))


def _through_air(
    draw: np.random.Generator, played: NDArray[np.float64], rate: int
) -> NDArray[np.float64]:
    """What leaves a headphone: the middle of the band, with a short echo of the room."""
    band = butter(2, [400.0, min(4_000.0, 0.45 * rate)], "bandpass", fs=rate, output="sos")
    heard = sosfilt(band, played)
    echo = draw.normal(size=round(0.02 * rate)) * np.exp(
        -np.arange(round(0.02 * rate)) / (0.004 * rate)
    )
    return np.asarray(heard + 0.15 * np.convolve(heard, echo)[: heard.size])


def _lay(under: NDArray[np.float64], sound: NDArray[np.float64], at: int) -> None:
    stop = min(under.size, at + sound.size)
    under[at:stop] += sound[: stop - at]


def _blend(take: NDArray[np.float64], seam: int, reach: int) -> None:
    """Leave no step at a seam of room tones."""
    step = take[seam] - take[seam - 1]
    take[seam : seam + reach] -= step * np.linspace(1.0, 0.0, reach)
