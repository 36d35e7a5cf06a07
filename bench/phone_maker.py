"""Teach the small net of phones: `python -m bench.phone_maker` writes `listening/phone_numbers.py`.

From the shared recordings, prompts and dialogues that a package registry carries, the aligner's
model of English and a seed. Some voices are left out, so that what listens to the net's answers can
learn from voices that it does not know.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench.dialogues import dialogue_voices, load_dialogues
from bench.number_modules import text_constant, write_constants
from bench.phone_sessions import PhoneFrames, phone_frames
from bench.phone_teacher import load_teacher
from bench.prompts import RATE_HZ, load_prompts
from bench.proving.pieces import Clip, Pieces, grouped
from bench.proving.recordings import load_pieces
from quietleaf.listening import phone_numbers
from quietleaf.listening.phones import PHONES, REACH, SEEN, STEP, PhoneNet, packed_net
from quietleaf.listening.spectra import MELS
from tests.helpers import find_recordings

SEED = 100
LEFT_OUT = ("frA", "ls1998", "ls2414", "p226")
PROMPTS = ("prompt-en", "prompt-es", "prompt-fr")
SIZES = (SEEN * MELS, 256, 256, PHONES)
STEPS = 3500
ROWS = 1024
RATE = 1e-3
_VARIANTS, _FEWER_VARIANTS = 4, 2
_DIALOGUES = 200
_SHIFT_BANDS, _STRETCH, _TILT, _BAND_AWAY = 1.2, 0.05, 0.12, 0.06
"""How far other throats and rooms move a spectrum: bands, shares of the width, tens of dB."""
_WARM_STEPS = 200
_KEPT, _KEPT_SQUARE = 0.9, 0.999
_OFFSETS = np.arange(-REACH, REACH + 1, STEP)


def clips_by_voice(pieces: Pieces) -> Iterator[tuple[str, Sequence[Clip]]]:
    """Give the clips that the net learns from, in a fixed order."""
    for voice in pieces.voices:
        if voice not in LEFT_OUT:
            yield voice, pieces.clips[voice]
    others = grouped((*pieces.takes, *pieces.disfluent), lambda clip: clip.voice)
    yield from sorted(others.items())
    for voice in PROMPTS:
        yield voice, [_clip(voice, one.name, one.samples) for one in load_prompts(voice)]
    for voice in dialogue_voices():
        yield voice, load_dialogues(voice, _DIALOGUES)


def teach(sessions: Sequence[PhoneFrames], steps: int = STEPS, seed: int = SEED) -> PhoneNet:
    """Teach by the crossed entropy of the teacher's answers and the net's, softly and evenly."""
    draw = np.random.default_rng(seed)
    edge = ((REACH, REACH), (0, 0))
    mels = np.concatenate([np.pad(one.mels_db, edge, mode="edge") for one in sessions])
    mels = np.clip(mels / 10.0, -3.0, 3.0).astype(np.float32)
    shares = np.concatenate([np.pad(one.shares, edge) for one in sessions])
    frames = np.flatnonzero(np.concatenate([np.pad(one.counts, REACH) for one in sessions]))
    layers = [
        (draw.normal(size=(wide, out)).astype(np.float32) * np.float32(np.sqrt(2.0 / wide)),
         np.zeros(out, dtype=np.float32))
        for wide, out in itertools.pairwise(SIZES)
    ]  # fmt: skip
    numbers = [number for layer in layers for number in layer]
    means = [np.zeros_like(number) for number in numbers]
    squares = [np.zeros_like(number) for number in numbers]
    for step in range(1, steps + 1):
        chosen = draw.choice(frames, ROWS)
        rows = _otherwise(mels[chosen[:, np.newaxis] + _OFFSETS], draw)
        slopes = _slopes(layers, rows.reshape(ROWS, -1), shares[chosen].astype(np.float32))
        rate = RATE * 0.5 * (1.0 + np.cos(np.pi * step / steps)) * min(1.0, step / _WARM_STEPS)
        for number, slope, mean, square in zip(numbers, slopes, means, squares, strict=True):
            mean += (1.0 - _KEPT) * (slope - mean)
            square += (1.0 - _KEPT_SQUARE) * (slope**2 - square)
            sure = mean / (1.0 - _KEPT**step)
            number -= rate * sure / (np.sqrt(square / (1.0 - _KEPT_SQUARE**step)) + 1e-7)
    return PhoneNet(
        weights=tuple(weights for weights, _ in layers),
        offsets=tuple(offsets for _, offsets in layers),
    )


def _otherwise(mels: NDArray[np.float32], draw: np.random.Generator) -> NDArray[np.float32]:
    """Shift, stretch and tilt the spectra of each row, shape (r, seen, 24), as one."""
    count = mels.shape[0]
    band = np.arange(MELS, dtype=np.float32)
    moved = draw.uniform(-_SHIFT_BANDS, _SHIFT_BANDS, (count, 1)).astype(np.float32)
    wider = draw.uniform(-_STRETCH, _STRETCH, (count, 1)).astype(np.float32)
    at = np.clip(band + moved + wider * (band - MELS / 2), 0.0, MELS - 1.0)
    below = np.minimum(at.astype(np.int64), MELS - 2)
    share = (at - below)[:, np.newaxis]
    places = np.broadcast_to(below[:, np.newaxis], mels.shape)
    lower = np.take_along_axis(mels, places, 2)
    upper = np.take_along_axis(mels, places + 1, 2)
    tilt = draw.normal(0.0, _TILT, (count, 1, 1)) * (2.0 * band / (MELS - 1.0) - 1.0)
    away = draw.normal(0.0, _BAND_AWAY, (count, 1, MELS))
    other: NDArray[np.float32] = lower + share * (upper - lower) + (tilt + away).astype(np.float32)
    return other


def _slopes(
    layers: list[tuple[NDArray[np.float32], NDArray[np.float32]]],
    rows: NDArray[np.float32],
    wanted: NDArray[np.float32],
) -> list[NDArray[np.float32]]:
    seen = [rows]
    for index, (weights, offsets) in enumerate(layers):
        rows = seen[-1] @ weights + offsets
        seen.append(np.maximum(rows, 0.0) if index + 1 < len(layers) else rows)
    powers = np.exp(rows - rows.max(axis=1, keepdims=True))
    away = (powers / powers.sum(axis=1, keepdims=True) - wanted) / rows.shape[0]
    slopes: list[NDArray[np.float32]] = []
    for index in range(len(layers) - 1, -1, -1):
        slopes[:0] = [seen[index].T @ away, away.sum(axis=0)]
        away = (away @ layers[index][0].T) * (seen[index] > 0.0)
    return slopes


def _clip(voice: str, name: str, samples: NDArray[np.float64]) -> Clip:
    return Clip(
        voice=voice,
        name=name,
        samples=samples,
        sample_rate_hz=RATE_HZ,
        start_s=0.0,
        stop_s=samples.size / RATE_HZ,
    )


def main() -> None:
    """Teach, and write what was learned."""
    pieces = load_pieces(find_recordings())
    teacher = load_teacher()
    sessions = []
    for index, (voice, clips) in enumerate(clips_by_voice(pieces)):
        is_shared = voice not in (*PROMPTS, *dialogue_voices())
        variants = _VARIANTS if is_shared else _FEWER_VARIANTS
        draw = np.random.default_rng(SEED + index)
        sessions += phone_frames(clips, pieces.rooms, teacher, draw, variants)
    net = text_constant("NET", packed_net(teach(sessions)))
    write_constants(Path(phone_numbers.__file__), [net])


if __name__ == "__main__":
    main()
