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
from quietleaf.finishing.assembly import dry_blocks, master_place
from quietleaf.finishing.layout import Ends, plan_layout
from quietleaf.finishing.survey import start_survey, step_survey, survey_result
from quietleaf.listening.join_check import CONTEXT_S, check_join, own_limits
from quietleaf.listening.join_limits import OwnLimits
from quietleaf.listening.structure import frame_starts, structure_of_sound
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.timeline_sound import CROSS_FADE_S, TimelineSound
from quietleaf.work.place_again import pauses_of, place_agains
from quietleaf.work.tools import Tools
from tests.readings import AT, folder_with
from tests.stumbles import Reading, Stumble

RATE_HZ = 48_000
ENDS = Ends(head_s=0.5, tail_s=0.5)
CLIPPED_DB = 8.0
"""What the untouched reading has over its room beside a word, for 15 ms, would be missed."""
_CLIPPED_FRAMES = 3
_WORD_EDGE_S = 0.25
_WINDOW_S = 0.05
_SHIFTS_S = (-0.02, -0.01, 0.0, 0.01, 0.02)
_LOWEST_HZ, _HIGHEST_HZ = 200.0, 8_000.0
_UNHEARD_DB = 70.0
_SPARE = 1.3
STEADY_NOISE_DB = (3.0, 2.5)
"""What two pieces of the same white noise give, 97th percentile of 400, at 16 to 48 kHz."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """A join that was made.

    Attributes
    ----------
    sound : ndarray, shape (n,), 48 kHz
        From 13 s before it to 13 s after it, as far as the reading goes.
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


def join_of(
    folder: Path, stumble: Stumble, tools: Tools, name: str, *, mastered: bool = False
) -> Joined:
    """Make a reading of a stumble, place its join, and render it.

    Parameters
    ----------
    mastered : bool
        As the master has it before its loudness is set: evened, and with its rooms filled.
    """
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
    return _rendered(reading, stumble, mastered=mastered)


def _rendered(reading: ReadingFolder, stumble: Stumble, *, mastered: bool) -> Joined:
    (placed,) = (
        edit.what for edit in counting(reading.reload().standing) if isinstance(edit.what, Again)
    )
    back, resume = placed.back_sample, placed.resume
    return joined_at(reading, 0, stumble, back=back, resume=resume, mastered=mastered)


def joined_at(
    reading: ReadingFolder,
    number: int,
    stumble: Stumble,
    *,
    back: int,
    resume: int,
    mastered: bool,
) -> Joined:
    """Render a reading around one of its joins, by its number from 0."""
    rate = stumble.reading.rate_hz
    with TimelineSound(reading, RATE_HZ) as sound:
        at = sound.joins[number]
        if mastered:
            memory = start_survey()
            for block in sound.blocks():
                step_survey(memory, block[:, 0])
            layout = plan_layout(survey_result(memory), sound, ENDS, joins=sound.joins)
            whole = np.concatenate(list(dry_blocks(layout, sound)))
            at = master_place(layout, at)
        else:
            whole = sound.read(0, sound.info.frames)[:, 0]
    start = max(0, at - round(CONTEXT_S * RATE_HZ))
    heard = whole[start : at + round(CONTEXT_S * RATE_HZ)]
    real_s = (stumble.old.start - stumble.old.stop) / rate
    with reading.open_take(1) as take:
        usual = pauses_of({1: take})
    low, high = usual.usual_s()
    return Joined(
        stumble=stumble,
        sound=heard,
        at=at - start,
        back=back,
        resume=resume,
        pause_s=(back - stumble.old.stop + stumble.new.start - resume) / rate,
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """What the pauses of a reading are by themselves.

    Attributes
    ----------
    own : OwnLimits or None
        For the hearability check.
    differences : ndarray, shape (k, 2)
        The two figures of `differences` at each of its pauses.
    """

    reading: Reading
    own: OwnLimits | None
    differences: NDArray[np.float64]


def usual_of(reading: Reading) -> Usual:
    """Measure the untouched pauses of a reading."""
    rate = reading.rate_hz
    found = [_differences_at(reading.samples, pause.quiet, reading) for pause in reading.pauses]
    pauses = [(pause.stop, pause.start) for pause in reading.pauses]
    return Usual(
        reading=reading,
        own=own_limits(reading.samples, rate, pauses),
        differences=np.array(found),
    )


def faults(joined: Joined, usual: Usual) -> set[str]:
    """Name what the hearability check finds, and does not find in the untouched reading there."""
    made = joined.stumble
    own = usual.own
    found = check_join(
        joined.sound,
        RATE_HZ,
        joined.at,
        fade_samples=round(CROSS_FADE_S * RATE_HZ),
        pauses=made.reading.usual,
        own=own,
    )
    rate = made.reading.rate_hz
    first = max(0, made.old.quiet - round(CONTEXT_S * rate))
    untouched = check_join(
        made.untouched[first : made.old.quiet + round(CONTEXT_S * rate)],
        rate,
        made.old.quiet - first,
        fade_samples=round(CROSS_FADE_S * rate),
        pauses=made.reading.usual,
        own=own,
    )
    by_itself = {fault.kind for fault in untouched.faults}
    return {fault.kind for fault in found.faults if fault.kind not in by_itself}


def shows(joined: Joined, usual: Usual) -> bool:
    """Say whether a plain spectral difference tells the join from the untouched reading.

    More than 1.3 times what 97 of 100 of its pauses have, or two pieces of white noise; and more
    than the reading itself has at the two places that are joined here.
    """
    found = np.array(differences(joined.sound, joined.at, usual.reading))
    usually = np.percentile(usual.differences, 97.0, axis=0)
    most = _SPARE * np.maximum(usually, STEADY_NOISE_DB)
    made = joined.stumble
    resumed = made.old.quiet + round((joined.resume - made.new.quiet) * made.kind.tempo)
    for place in (joined.back, resumed):
        most = np.maximum(most, _differences_at(made.untouched, place, usual.reading))
    return bool(np.any(found > most))


def _differences_at(
    samples: NDArray[np.float64], place: int, reading: Reading
) -> tuple[float, float]:
    rate = reading.rate_hz
    start = max(0, place - round(0.3 * rate))
    piece = soxr.resample(samples[start : place + round(0.3 * rate)], rate, RATE_HZ, "VHQ")
    return differences(piece, round((place - start) * RATE_HZ / rate), reading)


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
