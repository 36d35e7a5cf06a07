"""Sounds that are no speech: units put together, and asked as wholes whether they are noises.

A cough of three units, paper in ten strokes, a tick: how long it lasts, how loud it is, what its
parts are taken for and how near words are say more than each part alone. What a noise is called
is what its units are taken for: as wholes they were told apart no better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.sound_kind_names import KINDS, NOISE_KINDS
from quietleaf.listening.sound_kind_numbers import EVENT_TREES
from quietleaf.listening.sound_kinds import SPEECH, SPEECH_SHARE_MIN, KnownSounds
from quietleaf.listening.trees import shares_of, tree_scores, unpacked

SAME_FRAMES = 35
"""The same kind again within 0.35 s is one sound."""
TOUCHES_FRAMES = 6
SHORT_FRAMES = 8
"""A tick this short between two of a kind belongs to them."""
NOISE_SHARE_MIN = 0.35
FAR_FRAMES = 150
_FIRST_NOISE = KINDS.index(NOISE_KINDS[0])
_TREES = unpacked(EVENT_TREES)


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundEvents:
    """Sounds that may be findings, in order of time.

    Attributes
    ----------
    start, stop : ndarray, shape (e,), int64
        Frames of 10 ms.
    peak_db : ndarray, shape (e,), float32
        Against the reader's usual top.
    covers_words : ndarray, shape (e,), bool
        Whether speech goes on right before and right after it.
    likelihood : ndarray, shape (e,), float32
        That it is a noise or a breath at all.
    shares : ndarray, shape (e, 5), float32
        If so, how likely it is each of `NOISE_KINDS`.
    """

    start: NDArray[np.int64]
    stop: NDArray[np.int64]
    peak_db: NDArray[np.float32]
    covers_words: NDArray[np.bool_]
    likelihood: NDArray[np.float32]
    shares: NDArray[np.float32]


def joined(chunks: Sequence[KnownSounds]) -> KnownSounds:
    """Put the sounds of successive chunks into one; of none, none."""
    none = np.empty(0)
    return KnownSounds(
        start=np.concatenate([none.astype(np.int64), *(one.start for one in chunks)]),
        stop=np.concatenate([none.astype(np.int64), *(one.stop for one in chunks)]),
        shares=np.concatenate(
            [np.empty((0, len(KINDS)), dtype=np.float32), *(one.shares for one in chunks)]
        ),
        over_top_db=np.concatenate([none.astype(np.float32), *(one.over_top_db for one in chunks)]),
        over_floor_db=np.concatenate(
            [none.astype(np.float32), *(one.over_floor_db for one in chunks)]
        ),
    )


def sound_events(sounds: KnownSounds) -> SoundEvents:
    """Put units together and tell what they are."""
    groups = unit_groups(sounds)
    features = event_features(sounds, groups)
    kinds = features[:, _FIRST_NOISE : len(KINDS)]
    return SoundEvents(
        start=np.array([sounds.start[group[0]] for group in groups], dtype=np.int64),
        stop=np.array([sounds.stop[group[-1]] for group in groups], dtype=np.int64),
        peak_db=features[:, _PEAK],
        covers_words=(features[:, _GAPS] < TOUCHES_FRAMES)
        & (features[:, _GAPS + 1] < TOUCHES_FRAMES),
        likelihood=shares_of(tree_scores(features, _TREES))[:, 0],
        shares=kinds / kinds.sum(axis=1, keepdims=True),
    )


def unit_groups(sounds: KnownSounds) -> list[list[int]]:
    """Give the units of each sound: first what touches, then the same kind in a row."""
    touching: list[list[int]] = []
    noisy = sounds.shares[:, _FIRST_NOISE:].sum(axis=1)
    for unit in np.flatnonzero(noisy > NOISE_SHARE_MIN):
        if touching and sounds.start[unit] - sounds.stop[touching[-1][-1]] < TOUCHES_FRAMES:
            touching[-1].append(int(unit))
        else:
            touching.append([int(unit)])
    kinds = [int(np.argmax(_mean_shares(sounds, group)[_FIRST_NOISE:])) for group in touching]
    groups: list[list[int]] = []
    last = -1
    for index, (group, kind) in enumerate(zip(touching, kinds, strict=True)):
        if groups and sounds.start[group[0]] - sounds.stop[groups[-1][-1]] <= SAME_FRAMES:
            short = sounds.stop[group[-1]] - sounds.start[group[0]] <= SHORT_FRAMES
            again = index + 1 < len(kinds) and kinds[index + 1] == last
            if kind == last or (short and again):
                groups[-1] += group
                continue
        groups.append(list(group))
        last = kind
    return groups


_PEAK = 2 * len(KINDS) + 2
_GAPS = 2 * len(KINDS) + 5
FEATURES = 2 * len(KINDS) + 10


def event_features(sounds: KnownSounds, groups: Sequence[Sequence[int]]) -> NDArray[np.float32]:
    """Describe each group, shape (e, `FEATURES`).

    In order: shares of the kinds, mean by length and loudness, then most; length in frames, units;
    peak against the top, peak over the floor, how unlike the units' peaks are; frames to the speech
    before and after, to the sound before and after; length of the loudest unit.
    """
    features = np.empty((len(groups), FEATURES), dtype=np.float32)
    spoken = np.flatnonzero(sounds.shares[:, SPEECH] >= SPEECH_SHARE_MIN)
    ends, starts = sounds.stop[spoken], sounds.start[spoken]
    for row, group in enumerate(groups):
        first, last = group[0], group[-1]
        start, stop = sounds.start[first], sounds.stop[last]
        peaks = sounds.over_top_db[list(group)]
        loudest = group[int(np.argmax(peaks))]
        before = int(np.searchsorted(starts, start)) - 1
        after = int(np.searchsorted(ends, stop, side="right"))
        features[row] = [
            *_mean_shares(sounds, group),
            *sounds.shares[list(group)].max(axis=0),
            stop - start,
            len(group),
            peaks.max(),
            sounds.over_floor_db[list(group)].max(),
            peaks.max() - peaks.min(),
            _gap(start - ends[before]) if before >= 0 else FAR_FRAMES,
            _gap(starts[after] - stop) if after < starts.size else FAR_FRAMES,
            _gap(start - sounds.stop[groups[row - 1][-1]]) if row > 0 else FAR_FRAMES,
            _gap(sounds.start[groups[row + 1][0]] - stop) if row + 1 < len(groups) else FAR_FRAMES,
            sounds.stop[loudest] - sounds.start[loudest],
        ]
    return features


def _gap(frames: np.int64) -> int:
    return min(max(int(frames), 0), FAR_FRAMES)


def _mean_shares(sounds: KnownSounds, group: Sequence[int]) -> NDArray[np.float64]:
    some = list(group)
    lengths = (sounds.stop[some] - sounds.start[some]).astype(np.float64)
    loudness = 10.0 ** (np.clip(sounds.over_top_db[some], -40.0, 6.0) / 40.0)
    weights = np.sqrt(lengths) * loudness
    shares: NDArray[np.float64] = weights @ sounds.shares[some] / weights.sum()
    return shares
