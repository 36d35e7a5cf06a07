"""Where the reader goes on after a lead-in: early, late, or with headphones that leak.

What was played is known. As far as the microphone heard it, it is fitted to what was played and
taken away, for listening alone: what is then left is the reader and the room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_toeplitz
from scipy.ndimage import uniform_filter1d
from scipy.signal import fftconvolve

from quietleaf.listening.mask_ranges import ranges_of
from quietleaf.listening.structure import Structure, frame_starts, structure_of_sound
from quietleaf.listening.voice_frames import voice_frames

_ALIKE = 0.65
"""A voice repeats itself so much, noise of one band to 0.5 by chance; see `take_edges`."""
_UNDER_VOICE_DB = 22.0
_VOICED_FRAMES = 10
_VOICED_GAP_FRAMES = 6
_FRAMES_PER_S = 200
_TOGETHER_S = 1.0
_APART_S = 0.4
"""Voice nearer to what goes on over the end of the lead-in is the beginning of it; less where it is
not known what was played, which may be that voice."""
_READ_APART_S = 1.5
_READ_S = 0.8
"""Voice of such a length is no "sorry": that was read, and a longer pause came after it."""
_TAIL_S = 0.05
"""What was spoken at the press, and so long after it, is the end of the stumble."""
_PRESS_S = 0.15
"""So long the key itself may be heard."""
_AWAY_S = 0.3
"""The lead-in's end is known to less: playing and hearing have delays of their own."""
_CLEAR_DB = 11.0
"""Without a leak 8.5 dB was the most in 378 trials; with one, 24 dB is usual."""
_REST_PERCENT = 99.0
_NEAR_S = 0.02
_EVEN_S = 0.03
_FILTER_S = (0.002, 0.024)
"""The way from the headphones into the microphone: before and after its strongest path."""
_LOADING = 1e-4
_FIT_S = 0.7
_LOUD_DB = 12.0
_LOUD_FRAMES = 6
_OF_LEAK = 0.2
"""Of a stretch of leak alone the fit leaves less of its power."""
_RINGS_S = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """The lead-in as the microphone heard it.

    Attributes
    ----------
    sound : ndarray, shape (n,)
        On the microphone's own time; zero where nothing was played.
    stop : int
        Where it has died away.
    level_dbov : float
        RMS above 80 Hz of its loud parts.
    """

    sound: NDArray[np.float64]
    stop: int
    level_dbov: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GoesOn:
    """Where the reader's voice begins that is wanted.

    Attributes
    ----------
    structure : Structure
        Of the microphone's sound without the leak.
    voice : int
        Where it begins.
    look_from : int
        Nothing that is before this belongs to the sentence.
    clean_from : int
        From here on nothing of the press or of the lead-in is heard.
    early_s : float
        How long before the end of the lead-in the voice begins; 0 where it does not.
    leak : Leak or None
        None where nothing is known to be played, or nothing of it is heard.
    """

    structure: Structure
    voice: int
    look_from: int
    clean_from: int
    early_s: float
    leak: Leak | None


def goes_on(
    new: NDArray[np.float64],
    sample_rate_hz: int,
    *,
    mark: int | None,
    resume: int,
    lead_in: NDArray[np.float64] | None,
) -> GoesOn | None:
    """Find from where on the reader's voice is the sentence that is read again.

    Parameters
    ----------
    new : ndarray, shape (n,), full scale 1.0
        The microphone, from before the press on to well into the sentence.
    mark : int or None
        The press; None where nothing was pressed: then the voice after ``resume`` is it.
    resume : int
        About the end of the lead-in.
    lead_in : ndarray, shape (m,), or None
        What was played up to about ``resume``.

    Returns
    -------
    GoesOn or None
        None where no voice comes any more.

    Notes
    -----
    Of the voice before the lead-in's end, that belongs to the sentence which goes on over this end,
    or follows it, with gaps of up to 1 s (1.5 s after 0.8 s of speech): a reader who does not wait.
    In doubt too much stays. What is said right at the press is the stumble; what is said and then
    followed by a silence, as "sorry", stays outside. The leak is a filter of 26 ms, by least
    squares over what was played, at a delay found by correlation, which must stand 11 dB out of
    all others within 0.3 s.
    """
    structure = structure_of_sound(new, sample_rate_hz)
    if structure is None:
        return None
    leak = None if lead_in is None else find_leak(new, sample_rate_hz, lead_in, resume, structure)
    heard = new if leak is None else new - leak.sound
    if leak is not None:
        structure = structure_of_sound(heard, sample_rate_hz) or structure
    from_here = resume if mark is None else mark
    spoken = voiced_runs(heard, sample_rate_hz, structure)
    spoken = [one for one in spoken if one[1] > from_here]
    if leak is not None:
        spoken = [one for one in spoken if not _is_leak(one, new, heard)]
    tail = from_here + (0 if mark is None else round(_TAIL_S * sample_rate_hz))
    known = [one for one in spoken if one[0] >= tail or (mark is None and one[1] > resume)]
    index = next((i for i, (_, stop) in enumerate(known) if stop > resume), None)
    if index is None:
        return None
    index = _first_of_it(known, index, sample_rate_hz, is_played_known=lead_in is not None)
    start = known[index][0]
    before = max([from_here, *(stop for _, stop in spoken if stop <= start)])
    clean_from = from_here if mark is None else mark + round(_PRESS_S * sample_rate_hz)
    if leak is not None:
        clean_from = max(clean_from, leak.stop)
    elif lead_in is None:
        clean_from = max(clean_from, resume)
    return GoesOn(
        structure=structure,
        voice=start,
        look_from=min(before, start),
        clean_from=max(clean_from, before),
        early_s=max(0.0, (resume - start) / sample_rate_hz),
        leak=leak,
    )


def _first_of_it(
    known: list[tuple[int, int]], index: int, sample_rate_hz: int, *, is_played_known: bool
) -> int:
    """Go back from a run to the first one that is read with it."""
    together = (_TOGETHER_S if is_played_known else _APART_S) * sample_rate_hz
    while index > 0 and known[index][0] - known[index - 1][1] <= together:
        index -= 1
    spoken = 0
    for first in range(index - 1, -1, -1):
        gap = known[first + 1][0] - known[first][1]
        if gap > (_READ_APART_S if first == index - 1 else _TOGETHER_S) * sample_rate_hz:
            break
        spoken += known[first][1] - known[first][0]
        if is_played_known and spoken >= _READ_S * sample_rate_hz:
            return _first_of_it(known, first, sample_rate_hz, is_played_known=True)
    return index


def voiced_runs(
    samples: NDArray[np.float64], sample_rate_hz: int, structure: Structure
) -> list[tuple[int, int]]:
    """Give the runs of sound that have a voice in them, in samples.

    The others are paper, keys, or consonants alone.
    """
    starts = frame_starts(structure.level.size, sample_rate_hz)
    voiced = voiced_stretches(samples, sample_rate_hz, structure)
    return [
        (start, stop)
        for start, stop in starts[structure.runs].tolist()
        if any(first < stop and last > start for first, last in voiced)
    ]


def voiced_stretches(
    samples: NDArray[np.float64], sample_rate_hz: int, structure: Structure
) -> list[tuple[int, int]]:
    """Find where there is a voice: half-open ranges of samples, 50 ms and more.

    What lies under the speech threshold, or over 22 dB under the voice, is none of it.
    """
    frames = voice_frames(samples, sample_rate_hz)
    least = max(structure.speech_dbov - _UNDER_VOICE_DB, structure.threshold_dbov)
    mask = (frames.alike >= _ALIKE) & (frames.level_dbov > least)
    joined = ranges_of(mask, closed=_VOICED_GAP_FRAMES)
    return [
        (first * frames.hop, stop * frames.hop)
        for first, stop in joined.tolist()
        if mask[first:stop].sum() >= _VOICED_FRAMES
    ]


def find_leak(
    new: NDArray[np.float64],
    sample_rate_hz: int,
    lead_in: NDArray[np.float64],
    resume: int,
    structure: Structure,
) -> Leak | None:
    """Find what the microphone heard of the lead-in; None where it cannot be told from the room.

    The filter is fitted a second time to what comes before the reader's voice, where that is 0.7 s
    or more: the voice is no part of it.
    """
    away = round(_AWAY_S * sample_rate_hz)
    first = resume - lead_in.size - away
    skip = max(0, -first)
    played = lead_in[skip:]
    first = max(0, first + skip) if skip else first
    stop = min(new.size, resume + away)
    if played.size < _FIT_S * sample_rate_hz or not played.any() or stop - first < played.size:
        return None
    delay = _delay(new[first:stop], played, sample_rate_hz)
    if delay is None:
        return None
    at = first + delay - round(_FILTER_S[0] * sample_rate_hz)
    taps = round(sum(_FILTER_S) * sample_rate_hz)
    at = max(0, at)
    until = _first_loud(structure, sample_rate_hz, at)
    if until - at < _FIT_S * sample_rate_hz:
        until = new.size
    sound = _placed(new, played, at, taps, until)
    voice = [
        one
        for one in voiced_stretches(new - sound, sample_rate_hz, structure)
        if one[0] >= at and not _is_leak(one, new, new - sound)
    ]
    if voice and _FIT_S * sample_rate_hz <= voice[0][0] - at < played.size:
        sound = _placed(new, played, at, taps, voice[0][0])
    power = np.square(sound[at : at + played.size])
    loud = power[power > 0.1 * power.mean()]
    level = 10.0 * np.log10(max(float(loud.mean()) if loud.size else 0.0, 1e-20))
    over = at + played.size + taps + round(_RINGS_S * sample_rate_hz)
    return Leak(sound=sound, stop=min(over, new.size), level_dbov=float(level))


def _delay(
    heard: NDArray[np.float64], played: NDArray[np.float64], sample_rate_hz: int
) -> int | None:
    """Find the strongest path.

    Differences over their own level stand for the samples, so that neither one vowel rules alone
    nor the reader's voice, where it comes on top.
    """
    sharp = _even(played, sample_rate_hz)
    alike = np.abs(fftconvolve(_even(heard, sample_rate_hz), sharp[::-1], "valid"))
    at = int(np.argmax(alike))
    near = round(_NEAR_S * sample_rate_hz)
    rest = np.delete(alike, np.arange(max(0, at - near), min(alike.size, at + near)))
    if rest.size < near or alike[at] <= 0.0:
        return None
    around = float(np.percentile(rest, _REST_PERCENT))
    clear = 20.0 * np.log10(alike[at] / max(around, 1e-30))
    return at if clear >= _CLEAR_DB else None


def _first_loud(structure: Structure, sample_rate_hz: int, start: int) -> int:
    """Give where something is louder than headphones, for 30 ms: the reader, who is no leak."""
    starts = frame_starts(structure.level.size, sample_rate_hz)
    first = int(np.searchsorted(starts, start))
    loud = structure.level[first:] >= structure.speech_dbov - _LOUD_DB
    found = np.flatnonzero(np.convolve(loud, np.ones(_LOUD_FRAMES), "valid") >= _LOUD_FRAMES)
    return int(starts[first + found[0]]) if found.size else int(starts[-1])


def _even(samples: NDArray[np.float64], sample_rate_hz: int) -> NDArray[np.float64]:
    sharp = np.diff(samples, n=2)
    power = uniform_filter1d(np.square(sharp), round(_EVEN_S * sample_rate_hz))
    return np.asarray(sharp / np.sqrt(power + 0.01 * power.mean() + 1e-20), np.float64)


def _placed(
    new: NDArray[np.float64], played: NDArray[np.float64], at: int, taps: int, until: int
) -> NDArray[np.float64]:
    """Fit the filter by least squares up to a sample, and give what was played through it."""
    count = min(played.size, until - at)
    source = played[:count]
    target = new[at : at + count + taps - 1]
    target = np.pad(target, (0, count + taps - 1 - target.size))
    if count < played.size:
        # What is played goes on there: its beginning there is not the end of what was fitted.
        target = target.copy()
        target[count:] = 0.0
    own = fftconvolve(source, source[::-1])[count - 1 : count - 1 + taps]
    both = fftconvolve(target, source[::-1])[count - 1 : count - 1 + taps]
    own[0] *= 1.0 + _LOADING
    way = solve_toeplitz(own, both)
    through = fftconvolve(played, way)
    sound = np.zeros(new.size)
    stop = min(new.size, at + through.size)
    sound[at:stop] = through[: stop - at]
    return sound


def _is_leak(
    stretch: tuple[int, int], new: NDArray[np.float64], heard: NDArray[np.float64]
) -> bool:
    start, stop = stretch
    left = float(np.sum(np.square(heard[start:stop])))
    return left < _OF_LEAK * float(np.sum(np.square(new[start:stop])))
