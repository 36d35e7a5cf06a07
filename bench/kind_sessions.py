"""Readings to learn kinds of sound from: mixed so that of every unit it is known what it is.

Each source is kept apart until all is mixed; what is loudest in a unit is its kind.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import soxr
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, sosfilt

from bench.kind_sounds import (
    RATE_HZ,
    made_breath,
    made_click,
    made_cough,
    made_rustle,
    made_thump,
    varied,
)
from bench.proving.pieces import Clip, Noise, Pieces, recording_of
from bench.proving.shaping import level_frames_db
from quietleaf.listening.segment_features import FEATURES, unit_features
from quietleaf.listening.segments import (
    LEVEL_STEPS,
    SoundWindow,
    count_levels,
    units_of,
    window_of,
)
from quietleaf.listening.sound_frames import sound_frames
from quietleaf.listening.sound_kind_names import KINDS

ROOM = KINDS.index("room")
SPEECH = KINDS.index("speech")
BREATH = KINDS.index("breath")
LEVELS_DB: dict[str, tuple[float, float]] = {
    "cough": (-10.0, 8.0),
    "rustle": (-24.0, 2.0),
    "click": (-16.0, 8.0),
    "noise": (-18.0, 6.0),
    "breath": (-12.0, 4.0),
    "breath-natural": (-38.0, -12.0),
}
"""The loudest 20 ms of a sound against the mean of the speech while it is active."""
WEIGHTS: dict[str, float] = {
    "cough": 1.0,
    "rustle": 1.2,
    "click": 1.0,
    "noise": 1.3,
    "breath": 0.6,
    "breath-natural": 1.6,
}
MAKERS = {
    "rustle": made_rustle,
    "click": made_click,
    "noise": made_thump,
    "cough": made_cough,
    "breath": made_breath,
    "breath-natural": made_breath,
}
MADE_SHARE = 0.25
GLUED = 0.25
SOFT_DB = 22.0
ROOMS_SHARE = 0.4
NOISE_SIZE = 1 << 19
RATES_HZ = (16_000, 22_050, 44_100, 48_000)
RATE_WEIGHTS = (0.4, 0.25, 0.2, 0.15)
TINY = 1e-20


@dataclass(frozen=True, slots=True, kw_only=True)
class Crowd:
    """The share of gaps that hold a sound, and of phrases that one lies over."""

    in_gaps: float
    under_speech: float


IN_PAUSES = Crowd(in_gaps=0.85, under_speech=0.15)
UNDER_WORDS = Crowd(in_gaps=0.3, under_speech=0.6)
CLEAN = Crowd(in_gaps=0.0, under_speech=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownUnits:
    """Units of one session.

    Attributes
    ----------
    features : ndarray, shape (u, f), float32
    kind : ndarray, shape (u,), int64
        Index into `KINDS`.
    weight : ndarray, shape (u,), float32
        0 where it is not known.
    start_s, stop_s : ndarray, shape (u,)
    """

    features: NDArray[np.float32]
    kind: NDArray[np.int64]
    weight: NDArray[np.float32]
    start_s: NDArray[np.float64]
    stop_s: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A sound where it lies in a session."""

    kind: int
    first: int
    samples: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixed:
    """A session, and each source of it apart.

    Attributes
    ----------
    mix, speech, noise : ndarray, shape (n,)
    placed : list of Placed
    active : list of (int, int)
        Samples where phrases lie.
    """

    rate: int
    mix: NDArray[np.float64]
    speech: NDArray[np.float64]
    noise: NDArray[np.float64]
    placed: list[Placed]
    active: list[tuple[int, int]]


def known_units(
    pieces: Pieces, voice: str, length_s: float, draw: np.random.Generator, *, clean: bool = False
) -> KnownUnits:
    """Make a session of one voice and tell what its units are."""
    crowd = CLEAN if clean else IN_PAUSES
    return _labelled(mixed_session(pieces, voice, length_s, draw, crowd))


def mixed_session(
    pieces: Pieces, voice: str, length_s: float, draw: np.random.Generator, crowd: Crowd
) -> Mixed:
    """Make a session of one voice, in some room, through some microphone, over some floor."""
    rate = int(draw.choice(RATES_HZ, p=RATE_WEIGHTS))
    speech, active, placed = _read_aloud(pieces, voice, rate, length_s, draw, crowd)
    target = 10.0 ** (draw.uniform(-33.0, -17.0) / 20.0)
    speech *= target
    placed = [_louder(one, target) for one in placed]
    if draw.random() < ROOMS_SHARE:
        response = _response(pieces, rate, draw)
        speech = fftconvolve(speech, response)[: speech.size]
        placed = [_in_room(one, response, speech.size) for one in placed]
    speech = _heard_by(speech, rate, np.random.default_rng(draw.integers(1 << 31)))
    noise = _floor(pieces, speech.size, rate, target, draw)
    mix = speech + noise
    for one in placed:
        mix[one.first : one.first + one.samples.size] += one.samples
    # Converters clip; what is far over full scale would not be heard so.
    np.clip(mix, -1.0, 1.0, out=mix)
    return Mixed(rate=rate, mix=mix, speech=speech, noise=noise, placed=placed, active=active)


def powers_of(mixed: Mixed) -> NDArray[np.float64]:
    """Give the power of each of `KINDS` in each frame of 10 ms, without the lows, shape (7, k)."""
    frames = mixed.mix.size * 100 // mixed.rate
    powers = np.zeros((len(KINDS), frames))
    powers[SPEECH] = _frame_powers(mixed.speech, mixed.rate, frames)
    powers[ROOM] = _frame_powers(mixed.noise, mixed.rate, frames)
    by_kind: dict[int, NDArray[np.float64]] = {}
    for one in mixed.placed:
        sound = by_kind.setdefault(one.kind, np.zeros(mixed.mix.size))
        sound[one.first : one.first + one.samples.size] += one.samples
    for kind, sound in by_kind.items():
        powers[kind] += _frame_powers(sound, mixed.rate, frames)
    return powers


def spoken_frames(mixed: Mixed) -> NDArray[np.bool_]:
    """Tell the frames in which phrases lie: they begin and end where they were cut."""
    spoken = np.zeros(mixed.mix.size * 100 // mixed.rate, dtype=np.bool_)
    for start, stop in mixed.active:
        spoken[start * 100 // mixed.rate : stop * 100 // mixed.rate + 1] = True
    return spoken


def windows_around(samples: NDArray[np.float64], rate: int) -> Iterator[SoundWindow]:
    """Give a window for each chunk of a whole recording, as they are heard one after the other."""
    chunks = sound_frames(samples, rate)
    counts = np.zeros(LEVEL_STEPS, dtype=np.int64)
    for chunk in chunks[:1]:
        count_levels(chunk, counts)
    for index in range(len(chunks)):
        if index + 1 < len(chunks):
            count_levels(chunks[index + 1], counts)
        before = max(index - 1, 0)
        yield window_of(chunks[before : index + 2], index - before, counts)


def units_with_features(
    samples: NDArray[np.float64], rate: int
) -> tuple[NDArray[np.float32], NDArray[np.int64], NDArray[np.int64]]:
    """Give features, first and last-but-one frames of the units of a whole recording."""
    found, starts, stops = [np.empty((0, FEATURES), dtype=np.float32)], [], []
    for window in windows_around(samples, rate):
        units = units_of(window)
        begins = (units.start >= window.asked[0]) & (units.start < window.asked[1])
        found.append(unit_features(window, units)[begins])
        starts.append(units.start[begins] + window.first)
        stops.append(units.stop[begins] + window.first)
    return np.concatenate(found), np.concatenate(starts), np.concatenate(stops)


def _read_aloud(
    pieces: Pieces,
    voice: str,
    rate: int,
    length_s: float,
    draw: np.random.Generator,
    crowd: Crowd,
) -> tuple[NDArray[np.float64], list[tuple[int, int]], list[Placed]]:
    """Lay phrases, with a sound in most gaps and over some phrases; one sound at a time."""
    parts: list[NDArray[np.float64]] = []
    active: list[tuple[int, int]] = []
    placed: list[Placed] = []
    at = 0
    while at < length_s * rate:
        phrase = _phrase(pieces.clips[voice], rate, draw)
        over = None
        if crowd.under_speech and draw.random() <= crowd.under_speech:
            over = _drawn(pieces, rate, draw)
        if over is not None:
            first = at + int(draw.integers(0, max(phrase.size - over.samples.size, 1)))
            placed.append(replace(over, first=first))
        active.append((at, at + phrase.size))
        parts.append(phrase)
        at += phrase.size
        gap = round(rate * float(np.exp(draw.normal(np.log(0.5), 0.6))))
        sound = None
        if crowd.in_gaps and over is None and draw.random() < crowd.in_gaps:
            sound = _drawn(pieces, rate, draw)
        if sound is not None:
            # Now and then right after the word before, or right before the word after.
            before = round(gap * draw.random())
            if draw.random() < GLUED:
                before = round(rate * draw.uniform(-0.03, 0.08))
                if draw.random() < 0.5:
                    before = gap - before
            placed.append(replace(sound, first=max(at + before, 0)))
            gap += sound.samples.size
        parts.append(np.zeros(gap))
        at += gap
    placed = [replace(one, samples=one.samples[: at - one.first]) for one in placed]
    return np.concatenate(parts), active, placed


def _phrase(clips: tuple[Clip, ...], rate: int, draw: np.random.Generator) -> NDArray[np.float64]:
    """Take a part of a clip, from one soft place to another, at level 1 while it is active."""
    clip = clips[int(draw.integers(len(clips)))]
    own = clip.sample_rate_hz
    sound = clip.samples[round(clip.start_s * own) : round(clip.stop_s * own)]
    level = level_frames_db(sound, own)
    loud = float(np.percentile(level, 92.0))
    soft = np.flatnonzero(level < loud - SOFT_DB)
    soft = np.concatenate([[0], soft, [level.size]])
    begin = int(draw.choice(soft)) if level.size > 300 else 0
    ends = soft[(soft > begin + 60) & (soft < begin + 350)]
    end = int(draw.choice(ends)) if ends.size and draw.random() < 0.8 else int(level.size)
    part = sound[begin * own // 100 : end * own // 100]
    if part.size < own // 4:
        part = sound
    gain = 10.0 ** (-(loud - 3.0 + draw.normal()) / 20.0)
    part = np.asarray(gain * soxr.resample(part, own, rate), dtype=np.float64)
    fade = rate // 100
    part[:fade] *= np.linspace(0.0, 1.0, fade)
    part[-fade:] *= np.linspace(1.0, 0.0, fade)
    return part


def _drawn(pieces: Pieces, rate: int, draw: np.random.Generator) -> Placed:
    """Draw a sound at a level against speech of 1."""
    kinds = [kind for kind in WEIGHTS if pieces.noises.get(kind)]
    weights = np.array([WEIGHTS[kind] for kind in kinds])
    kind = str(draw.choice(kinds, p=weights / weights.sum()))
    sound = _sound(pieces.noises[kind], kind, rate, draw)
    level = draw.uniform(*LEVELS_DB[kind])
    sound = sound * 10.0 ** (level / 20.0) / _loudest_rms(sound, rate)
    told = "breath" if kind == "breath-natural" else kind
    return Placed(kind=KINDS.index(told), first=0, samples=sound)


def _sound(
    noises: tuple[Noise, ...], kind: str, rate: int, draw: np.random.Generator
) -> NDArray[np.float64]:
    if draw.random() < MADE_SHARE:
        sound, was = MAKERS[kind](draw), RATE_HZ
    else:
        # Of many takes of one origin no more than of one of another.
        origins = sorted({recording_of(noise.name) for noise in noises})
        origin = origins[int(draw.integers(len(origins)))]
        takes = [noise for noise in noises if recording_of(noise.name) == origin]
        noise = takes[int(draw.integers(len(takes)))]
        was = noise.sample_rate_hz
        sound = varied(noise.samples, was, kind, draw)
    return np.asarray(soxr.resample(sound, was, rate), dtype=np.float64)


def _louder(one: Placed, gain: float) -> Placed:
    return replace(one, samples=one.samples * gain)


def _in_room(one: Placed, response: NDArray[np.float64], size: int) -> Placed:
    sound = fftconvolve(one.samples, response)[: size - one.first]
    return replace(one, samples=sound)


def _response(pieces: Pieces, rate: int, draw: np.random.Generator) -> NDArray[np.float64]:
    """Give a room: a measured one, or one that dies away by 60 dB in 0.15 to 0.7 s."""
    if pieces.rooms and draw.random() < 0.4:
        room = pieces.rooms[int(draw.integers(len(pieces.rooms)))]
        response = soxr.resample(room.samples, room.sample_rate_hz, rate)
        first = int(np.argmax(np.abs(response)))
        response = response[max(first - 2, 0) :]
    else:
        dies_s = draw.uniform(0.15, 0.7)
        time_s = np.arange(round(rate * dies_s)) / rate
        response = draw.normal(size=time_s.size) * 10.0 ** (-3.0 * time_s / dies_s)
        response[: rate // 250] = 0.0
        response /= np.sqrt(np.sum(response**2))
        response *= 10.0 ** (draw.uniform(-16.0, 0.0) / 20.0)
        response[0] = 1.0
    heard: NDArray[np.float64] = response / np.sqrt(np.sum(response**2))
    return heard


def _heard_by(
    sound: NDArray[np.float64], rate: int, draw: np.random.Generator
) -> NDArray[np.float64]:
    """Hear a voice through one of many microphones: a gentle tilt, and now and then no highs."""
    if draw.random() < 0.5:
        hz = min(float(np.exp(draw.uniform(np.log(1000.0), np.log(6000.0)))), 0.4 * rate)
        highs = sosfilt(butter(1, hz, "highpass", fs=rate, output="sos"), sound)
        sound = sound + draw.uniform(-0.6, 1.0) * highs
    if draw.random() < 0.15:
        hz = min(float(draw.choice([3400.0, 5500.0, 8000.0, 11_000.0])), 0.45 * rate)
        sound = sosfilt(butter(6, hz, fs=rate, output="sos"), sound)
    return sound


def _floor(
    pieces: Pieces, size: int, rate: int, target: float, draw: np.random.Generator
) -> NDArray[np.float64]:
    """Give a room's noise: pink or white, or a bed; at least 12 dB under the speech."""
    beds = [
        bed for kind in ("fan", "traffic", "hum", "roomtone") for bed in pieces.beds.get(kind, ())
    ]
    level_db = min(draw.uniform(-80.0, -45.0), 20.0 * np.log10(target) - 12.0)
    if beds and draw.random() < 0.25:
        bed = beds[int(draw.integers(len(beds)))]
        sound = soxr.resample(bed.samples, bed.sample_rate_hz, rate)
    else:
        slope = draw.uniform(0.0, 1.2)
        spectrum = np.fft.rfft(draw.normal(size=NOISE_SIZE))
        hz = np.maximum(np.fft.rfftfreq(NOISE_SIZE, 1.0 / rate), 20.0)
        sound = np.fft.irfft(spectrum * hz ** (-slope / 2.0), NOISE_SIZE)
    sound = np.tile(sound, -(-size // sound.size))[:size]
    floor: NDArray[np.float64] = sound * 10.0 ** (level_db / 20.0) / max(_rms(sound), TINY)
    return floor


def _labelled(mixed: Mixed) -> KnownUnits:
    features, starts, stops = units_with_features(mixed.mix, mixed.rate)
    powers = powers_of(mixed)
    powers[ROOM] *= 2.0
    # What is left of phrases in a gap is a tail of room.
    spoken = spoken_frames(mixed)
    kinds = np.empty(starts.size, dtype=np.int64)
    weights = np.ones(starts.size, dtype=np.float32)
    # Length, level against the top, voiced share.
    soft = (features[:, 0] > 0.08) & (features[:, 1] < -14.0) & (features[:, 15] < 0.2)
    for unit, (start, stop) in enumerate(zip(starts, stops, strict=True)):
        sums = powers[:, start:stop].sum(axis=1)
        kind = int(np.argmax(sums))
        kinds[unit] = kind
        if sums[kind] < 2.0 * np.sort(sums)[-2]:
            weights[unit] = 0.3
        if kind == SPEECH and (spoken[start:stop].mean() < 0.5 or soft[unit]):
            # A voice's own breaths and lips, and tails of room: not known which.
            weights[unit] = 0.0
    return KnownUnits(
        features=features,
        kind=kinds,
        weight=weights,
        start_s=starts / 100.0,
        stop_s=stops / 100.0,
    )


def _frame_powers(sound: NDArray[np.float64], rate: int, frames: int) -> NDArray[np.float64]:
    edges = (2 * np.arange(frames + 1) * rate + 100) // 200
    # Without the lows: a hum would own every unit else.
    heard = np.diff(sound, prepend=0.0) + (600.0 / rate) * sound
    return np.add.reduceat(heard**2, edges[:-1])


def _rms(sound: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(sound**2)))


def _loudest_rms(sound: NDArray[np.float64], rate: int) -> float:
    window = max(rate // 50, 1)
    # As levels of frames are: without rumble, of which some breaths consist for the most part.
    heard = sosfilt(butter(2, 80.0, "highpass", fs=rate, output="sos"), sound)
    sums = np.convolve(heard**2, np.ones(window), mode="full")
    return float(np.sqrt(max(sums.max() / window, TINY)))
