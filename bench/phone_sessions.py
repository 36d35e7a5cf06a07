"""Clips of one voice in a row, through changing rooms and microphones, with the teacher's phones.

The teacher hears the clips as they are; the net hears them faster or slower, tilted, in rooms and
noise, and has to say the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve, lfilter

from bench.phone_teacher import FRAME_S, MIDDLE_S, Teacher, cepstra, phone_shares
from bench.proving.pieces import Clip, Room
from bench.proving.shaping import gain_of, resampled, rms_db
from quietleaf.listening.phones import PHONES
from quietleaf.listening.sound_frames import sound_frames
from quietleaf.listening.spectra import MELS

SPEECH_DBOV = -26.0
SPEECH_DB = 30.0
"""Under the 92nd percentile of the levels; what is softer counts for no mean."""
HEARD_DB = 40.0
_LOWEST_HZ = 8_000
_IN_ROOM, _DULL = 0.3, 0.35
_PINKISH = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneFrames:
    """Frames of 10 ms of one session.

    Attributes
    ----------
    mels_db : ndarray, shape (n, 24), float32
        Less the mean of the voice.
    shares : ndarray, shape (n, 40), float16
        What the teacher says.
    counts : ndarray, shape (n,), bool
        Whether it said anything, and something is heard.
    """

    mels_db: NDArray[np.float32]
    shares: NDArray[np.float16]
    counts: NDArray[np.bool_]


def phone_frames(
    clips: Sequence[Clip],
    rooms: Sequence[Room],
    teacher: Teacher,
    draw: np.random.Generator,
    variants: int,
) -> list[PhoneFrames]:
    """Make sessions of all clips of a voice; the first is plain."""
    of_clips = [cepstra(clip.samples, clip.sample_rate_hz) for clip in clips]
    of_voice = np.concatenate(of_clips).mean(axis=0)
    shares = [phone_shares(of_clip, of_voice, teacher) for of_clip in of_clips]
    return [
        _session(clips, shares, rooms, draw, is_plain=not variant) for variant in range(variants)
    ]


def _session(
    clips: Sequence[Clip],
    shares: Sequence[NDArray[np.float32]],
    rooms: Sequence[Room],
    draw: np.random.Generator,
    *,
    is_plain: bool,
) -> PhoneFrames:
    rate = clips[0].sample_rate_hz
    parts, starts_s, order = [], [], draw.permutation(len(clips))
    at = 0
    for index in order:
        gap = round(draw.uniform(0.2, 0.5) * rate)
        sound = resampled(clips[index].samples, clips[index].sample_rate_hz, rate)
        parts += [np.zeros(gap), sound * gain_of(float(draw.normal(0.0, 1.5)))]
        starts_s.append((at + gap) / rate)
        at += gap + sound.size
    sound = _levelled(np.concatenate(parts), SPEECH_DBOV)
    faster = 1.0
    if not is_plain:
        faster = float(np.exp(draw.uniform(np.log(0.8), np.log(1.25))))
        faster = 1.0 if rate / faster < _LOWEST_HZ else faster
        sound = _changed(sound, rate, rooms, draw)
    sound = sound + _noise(sound.size, draw) * gain_of(
        -75.0 if is_plain else draw.uniform(-72, -42)
    )
    # Samples that are told to lie closer together are speech that is faster and higher.
    return _frames(sound, round(rate / faster), faster, [shares[i] for i in order], starts_s)


def _frames(
    sound: NDArray[np.float64],
    rate: int,
    faster: float,
    shares: Sequence[NDArray[np.float32]],
    starts_s: Sequence[float],
) -> PhoneFrames:
    chunks = sound_frames(sound, rate)
    mels = np.concatenate([chunk.spectra.mels_dbov for chunk in chunks])
    level = np.concatenate([chunk.level_dbov for chunk in chunks])
    top = float(np.percentile(level, 92.0))
    told = np.zeros((level.size, PHONES), dtype=np.float16)
    is_told = np.zeros(level.size, dtype=np.bool_)
    for of_clip, start_s in zip(shares, starts_s, strict=True):
        first = int(np.ceil(start_s * faster / FRAME_S))
        frames = np.arange(first, min(first + int(of_clip.shape[0] * faster), level.size))
        there_s = (frames + 0.5) * FRAME_S / faster - start_s - MIDDLE_S
        there = np.rint(there_s / FRAME_S).astype(np.int64)
        within = (there >= 0) & (there < of_clip.shape[0])
        told[frames[within]] = of_clip[there[within]]
        is_told[frames[within]] = True
    assert mels.shape[1] == MELS
    return PhoneFrames(
        mels_db=mels - mels[level > top - SPEECH_DB].mean(axis=0),
        shares=told,
        counts=is_told & (level > top - HEARD_DB),
    )


def _changed(
    sound: NDArray[np.float64], rate: int, rooms: Sequence[Room], draw: np.random.Generator
) -> NDArray[np.float64]:
    if rooms and draw.random() < _IN_ROOM:
        room = rooms[int(draw.integers(len(rooms)))]
        response = resampled(room.samples, room.sample_rate_hz, rate)[: round(0.6 * rate)]
        response = response * np.exp(-np.arange(response.size) / rate * draw.uniform(0.0, 12.0))
        sound = fftconvolve(sound, response)[: sound.size]
    sound = lfilter([1.0, -draw.uniform(-0.5, 0.5)], [1.0], sound)
    if draw.random() < _DULL:
        sound = lfilter([1.0, draw.uniform(0.1, 0.6)], [1.0], sound)
    return _levelled(sound, float(draw.uniform(-34.0, -20.0)))


def _noise(count: int, draw: np.random.Generator) -> NDArray[np.float64]:
    noise = draw.normal(size=count)
    if draw.random() < _PINKISH:
        noise = lfilter([0.06], [1.0, -0.94], noise)
    return _levelled(noise, 0.0)


def _levelled(sound: NDArray[np.float64], level_dbov: float) -> NDArray[np.float64]:
    return sound * gain_of(level_dbov - rms_db(sound))
