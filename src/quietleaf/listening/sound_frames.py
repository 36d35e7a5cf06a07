"""Frames with everything that tells sounds apart, in chunks of 20 s that lie where they lie.

However a recording is cut into blocks, its chunks begin and end at the same samples, so that what
is worked out of them comes out the same to the bit.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import FRAMES_PER_S, frame_start
from quietleaf.listening.quarters import quarter_powers
from quietleaf.listening.sentence_frames import band_frames, band_numbers
from quietleaf.listening.spectra import (
    NOTHING_DBOV,
    Spectra,
    SpectralFilters,
    frame_middles,
    spectra_of,
    spectral_filters,
)

CHUNK_FRAMES = 20 * FRAMES_PER_S


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundFrames:
    """A chunk of frames of 10 ms.

    Attributes
    ----------
    first : int
        Index of the first frame; frame ``i`` covers the samples from ``floor(i rate / 100 + 1/2)``.
    samples : ndarray, shape (c, n), float32, full scale 1.0
        What the frames cover; not to be written to.
    level_dbov : ndarray, shape (k,), float32
        Of the 10 ms alone, above 80 Hz, of the louder channel; -120 for nothing.
    low_dbov : ndarray, shape (k,), float32
        The same from 80 to 500 Hz.
    quarters_db : ndarray, shape (k, 4), float32
        Of the highs of each 2.5 ms; to be compared with each other alone; -120 for nothing.
    spectra : Spectra
        Of 40 ms around the middle of the frame.
    """

    first: int
    samples: NDArray[np.float32]
    level_dbov: NDArray[np.float32]
    low_dbov: NDArray[np.float32]
    quarters_db: NDArray[np.float32]
    spectra: Spectra

    @property
    def count(self) -> int:
        """How many frames there are."""
        return int(self.level_dbov.size)


@dataclass(slots=True, kw_only=True)
class SoundMemory:
    """What is kept until a chunk is whole: at most 20 s of samples."""

    filters: SpectralFilters
    samples: list[NDArray[np.float32]] = field(default_factory=list)
    position: int = 0
    heard: int = 0
    voice: list[NDArray[np.float64]] = field(default_factory=list)
    low: list[NDArray[np.float64]] = field(default_factory=list)
    first: int = 0
    known: int = 0


def start_sound(sample_rate_hz: int, channels: int) -> SoundMemory:
    """Begin before the first sample."""
    filters = spectral_filters(sample_rate_hz)
    before = np.zeros((channels, filters.reach), dtype=np.float32)
    return SoundMemory(filters=filters, samples=[before], position=-filters.reach)


def step_sound(
    memory: SoundMemory,
    block: NDArray[np.float64],
    voice_power: NDArray[np.float64],
    low_power: NDArray[np.float64],
) -> list[SoundFrames]:
    """Take a block in; give the chunks that became whole.

    Parameters
    ----------
    block : ndarray, shape (n, c), full scale 1.0
    voice_power, low_power : ndarray, shape (k,)
        Mean squares above 80 Hz, and from 80 to 500 Hz, of the frames that the block completed.
    """
    memory.samples.append(np.ascontiguousarray(block.T, dtype=np.float32))
    memory.heard += block.shape[0]
    memory.voice.append(voice_power)
    memory.low.append(low_power)
    memory.known += voice_power.size
    chunks = []
    while _is_whole(memory):
        chunks.append(_chunk(memory, CHUNK_FRAMES))
        _forget(memory, CHUNK_FRAMES)
    return chunks


def rest_of_sound(memory: SoundMemory) -> SoundFrames | None:
    """Give the last frames, as if silence followed; the memory stays as it is."""
    count = memory.known - memory.first
    return _chunk(memory, count) if count else None


def sound_frames(samples: NDArray[np.float64], sample_rate_hz: int) -> list[SoundFrames]:
    """Look at a whole recording in memory, shape (n,).

    Examples
    --------
    >>> [chunk.count for chunk in sound_frames(np.zeros(8_000 * 21), 8_000)]
    [2000, 100]
    """
    frames = samples.size * FRAMES_PER_S // sample_rate_hz + 2
    voice, low = np.empty(frames), np.empty(frames)
    done = band_frames(
        samples, 0, 0, sample_rate_hz, band_numbers(sample_rate_hz), np.zeros(8), voice, low
    )
    memory = start_sound(sample_rate_hz, 1)
    chunks = step_sound(memory, samples[:, np.newaxis], voice[:done], low[:done])
    rest = rest_of_sound(memory)
    return [*chunks, rest] if rest else chunks


def _is_whole(memory: SoundMemory) -> bool:
    if memory.known - memory.first < CHUNK_FRAMES:
        return False
    last = memory.first + CHUNK_FRAMES - 1
    middle = int(frame_middles(last, 1, memory.filters.sample_rate_hz)[0])
    return memory.heard >= middle + memory.filters.reach


def _chunk(memory: SoundMemory, count: int) -> SoundFrames:
    samples = _joined(memory.samples)
    memory.samples = [samples]
    rate = memory.filters.sample_rate_hz
    start, stop = (
        frame_start(index, rate) - memory.position for index in (memory.first, memory.first + count)
    )
    last = int(frame_middles(memory.first + count - 1, 1, rate)[0])
    missing = last + memory.filters.reach - (memory.position + samples.shape[1])
    if missing > 0:
        samples = np.pad(samples, ((0, 0), (0, missing)))
    return SoundFrames(
        first=memory.first,
        samples=samples[:, start:stop],
        level_dbov=_dbov(np.concatenate(memory.voice)[:count]),
        low_dbov=_dbov(np.concatenate(memory.low)[:count]),
        quarters_db=_dbov(
            quarter_powers(samples, memory.position, memory.first, count, rate).astype(np.float64)
        ),
        spectra=spectra_of(samples, memory.position, memory.first, count, memory.filters),
    )


def _forget(memory: SoundMemory, count: int) -> None:
    memory.voice = [np.concatenate(memory.voice)[count:].copy()]
    memory.low = [np.concatenate(memory.low)[count:].copy()]
    memory.first += count
    middle = int(frame_middles(memory.first, 1, memory.filters.sample_rate_hz)[0])
    kept_from = middle - memory.filters.reach
    memory.samples = [memory.samples[0][:, kept_from - memory.position :].copy()]
    memory.position = kept_from


def _joined(pieces: list[NDArray[np.float32]]) -> NDArray[np.float32]:
    return pieces[0] if len(pieces) == 1 else np.concatenate(pieces, axis=1)


def _dbov(power: NDArray[np.float64]) -> NDArray[np.float32]:
    least = 10.0 ** (NOTHING_DBOV / 10.0)
    level: NDArray[np.float32] = (10.0 * np.log10(np.maximum(power, least))).astype(np.float32)
    return level
