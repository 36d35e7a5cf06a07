"""Joins as they come out of the real path, and plain measures of them against the reading itself.

From a reading folder over `place_agains` to 48 kHz; none of the measures is used to choose a place.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soxr
from numpy.typing import NDArray

from quietleaf.booth.edits import Again
from quietleaf.booth.replay import counting
from quietleaf.listening.structure import frame_starts, structure_of_sound
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.place_again import place_agains
from quietleaf.work.tools import Tools
from tests.readings import AT, folder_with
from tests.stumbles import Reading, Stumble

RATE_HZ = 48_000
AROUND_S = 1.5
CLIPPED_DB = 8.0
"""What the untouched reading has over its room beside a word, for 15 ms, would be missed."""
_CLIPPED_FRAMES = 3
_WORD_EDGE_S = 0.25
_WINDOW_S = 0.05
_SHIFTS_S = (-0.02, -0.01, 0.0, 0.01, 0.02)
_LOWEST_HZ, _HIGHEST_HZ = 200.0, 8_000.0
_UNHEARD_DB = 70.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """A join that was made.

    Attributes
    ----------
    sound : ndarray, shape (n,), 48 kHz
        From 1.5 s before it to 1.5 s after it.
    at : int
        The join in it.
    back, resume : int
        In samples of the take.
    pause_s, wanted_s : float
        Between the words, measured in the take; what the reader paused, or their median.
    """

    stumble: Stumble
    sound: NDArray[np.float64]
    at: int
    back: int
    resume: int
    pause_s: float
    wanted_s: float


def join_of(folder: Path, stumble: Stumble, tools: Tools, name: str) -> Joined:
    """Make a reading of a stumble, place its join, and render it."""
    rate = stumble.reading.rate_hz
    reading = folder_with(folder, stumble.take, sample_rate_hz=rate, name=name)
    asked = Again(
        take=1,
        mark=stumble.mark,
        back_take=1,
        back_sample=stumble.back,
        resume=stumble.resume,
        lead_in=stumble.lead_in.size,
    )
    reading.append(asked, author="Ada", at=AT)
    place_agains(reading, 1, tools)
    return rendered(reading, stumble)


def rendered(reading: ReadingFolder, stumble: Stumble) -> Joined:
    """Render the one join of a reading as it stands."""
    (placed,) = (
        edit.what for edit in counting(reading.reload().standing) if isinstance(edit.what, Again)
    )
    rate = stumble.reading.rate_hz
    with TimelineSound(reading, RATE_HZ) as sound:
        before = sound.timeline.spans[0]
        at = round((before.stop - before.start) * RATE_HZ / rate)
        start = max(0, at - round(AROUND_S * RATE_HZ))
        stop = min(sound.info.frames, at + round(AROUND_S * RATE_HZ))
        heard = sound.read(start, stop)[:, 0]
    real_s = (stumble.old.start - stumble.old.stop) / rate
    usual = stumble.reading.usual
    low, high = usual.usual_s()
    return Joined(
        stumble=stumble,
        sound=heard,
        at=at - start,
        back=placed.back_sample,
        resume=placed.resume,
        pause_s=(placed.back_sample - stumble.old.stop + stumble.new.start - placed.resume) / rate,
        wanted_s=real_s if low <= real_s <= high else usual.median_s,
    )


def clipped_db(joined: Joined) -> tuple[float, float]:
    """Say how far over its room that lies which the reading has and the join has not.

    Within 0.25 s of the last word on the old side, and of the first on the new one; the loudest
    15 ms. Nothing is -inf.
    """
    made = joined.stumble
    rate = made.reading.rate_hz
    structure = structure_of_sound(made.untouched, rate)
    assert structure is not None
    starts = frame_starts(structure.level.size, rate)

    def frame(sample: float) -> int:
        return int(np.searchsorted(starts, sample))

    quiet = frame(made.old.quiet)
    room = float(np.median(structure.level[quiet - 8 : quiet + 8]))
    edge = round(_WORD_EDGE_S * rate)
    resumed = made.old.quiet + (joined.resume - made.new.quiet) * made.kind.tempo
    lost = (
        structure.level[frame(joined.back) : frame(min(made.old.stop + edge, made.old.quiet))],
        structure.level[frame(max(made.old.start - edge, made.old.quiet)) : frame(resumed) - 2],
    )
    return _loudest(lost[0]) - room, _loudest(lost[1]) - room


def differences(sound: NDArray[np.float64], at: int, reading: Reading) -> tuple[float, float]:
    """Compare third-octave spectra of 50 ms around a place of a pause: two figures in dB.

    The first: how far the 50 ms after it differ from those before it. The second: how far the
    50 ms over it differ from the mean of both. Each is the RMS over the bands; the least of what
    five places within 20 ms give, as speech may be near. What lies 70 dB under the voice in a band
    is raised to that: together it is 58 dB under it, and nobody hears it.
    """
    top = min(_HIGHEST_HZ, 0.45 * reading.rate_hz)
    least = 10.0 ** ((reading.speech_dbov - _UNHEARD_DB) / 10.0)
    window = round(_WINDOW_S * RATE_HZ)
    steps, aways = [], []
    for shift_s in _SHIFTS_S:
        here = at + round(shift_s * RATE_HZ)
        before = _bands(sound[here - window : here], top, least)
        after = _bands(sound[here : here + window], top, least)
        over = _bands(sound[here - window // 2 : here + window - window // 2], top, least)
        steps.append(_rms(after - before))
        aways.append(_rms(over - (before + after) / 2.0))
    return min(steps), min(aways)


def untouched_differences(reading: Reading) -> NDArray[np.float64]:
    """Give the same two figures at each pause of a reading, shape (k, 2)."""
    rate = reading.rate_hz
    around = round(0.3 * rate)
    found = []
    for pause in reading.pauses:
        start = max(0, pause.quiet - around)
        piece = soxr.resample(reading.samples[start : pause.quiet + around], rate, RATE_HZ, "VHQ")
        found.append(differences(piece, round((pause.quiet - start) * RATE_HZ / rate), reading))
    return np.array(found)


def _bands(sound: NDArray[np.float64], top: float, least: float) -> NDArray[np.float64]:
    shape = np.hanning(sound.size)
    power = np.abs(np.fft.rfft(sound * shape)) ** 2 / np.sum(shape**2) / sound.size * 2.0
    hz = np.fft.rfftfreq(sound.size, 1.0 / RATE_HZ)
    centres = _LOWEST_HZ * 2.0 ** (np.arange(40) / 3.0)
    centres = centres[centres * 2 ** (1 / 6) <= top]
    bands = np.array(
        [power[(hz >= f * 2 ** (-1 / 6)) & (hz < f * 2 ** (1 / 6))].sum() for f in centres]
    )
    return np.asarray(10.0 * np.log10(np.maximum(bands, least)), np.float64)


def _rms(values: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def _loudest(level: NDArray[np.float64]) -> float:
    if level.size < _CLIPPED_FRAMES:
        return -np.inf
    return float(np.lib.stride_tricks.sliding_window_view(level, _CLIPPED_FRAMES).min(axis=1).max())
