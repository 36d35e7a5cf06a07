"""Teach what noises under words are told by; `python -m bench.under_maker` writes the numbers.

From the same pieces as `bench.kind_maker`, laid over words; `--held-out` trains on half the voices
and half the recordings of each noise instead, and says what is found in the other halves.
"""

from __future__ import annotations

import argparse
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from sklearn.ensemble import HistGradientBoostingClassifier

from bench.boosting import trees_of
from bench.kind_maker import all_pieces
from bench.kind_sessions import (
    BREATH,
    CLEAN,
    ROOM,
    SPEECH,
    UNDER_WORDS,
    mixed_session,
    powers_of,
    spoken_frames,
    windows_around,
)
from bench.number_modules import text_constant, write_constants
from bench.proving.pieces import Half, Pieces, voice_folds
from quietleaf.listening import under_numbers
from quietleaf.listening.sound_kind_names import KINDS, NOISE_KINDS
from quietleaf.listening.trees import Trees, packed, shares_of, tree_scores
from quietleaf.listening.under_events import runs_of
from quietleaf.listening.under_words import WINDOW_FRAMES, window_features

SEED = 77
SESSION_S = 60.0
SESSIONS_A_MINUTE = 6.0
SESSIONS_MOST = 5
CLEAN_EVERY = 5
NOISY_SHARE, QUIET_SHARE = 0.3, 0.01
"""Of a window's speech: so strong a noise is to be told, so weak a one is none."""
SELDOM = 0.3
"""Breaths are no noise under words, and where nobody speaks units tell more."""
ROUNDS, KIND_ROUNDS = 100, 40
FIRST_NOISE = KINDS.index(NOISE_KINDS[0])
LEASTS = (0.8, 0.85, 0.9, 0.95)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownWindows:
    """Windows of one session.

    Attributes
    ----------
    start : ndarray, shape (w,), int64
        Frames.
    features : ndarray, shape (w, f), float32
    kind : ndarray, shape (w,), int64
        Index into `KINDS`.
    weight : ndarray, shape (w,), float32
        0 where it is neither a noise nor none.
    sounds : list of (kind, start, stop)
        What was laid, in frames.
    spoken : ndarray, shape (k,), bool
    """

    start: NDArray[np.int64]
    features: NDArray[np.float32]
    kind: NDArray[np.int64]
    weight: NDArray[np.float32]
    sounds: list[tuple[int, int, int]]
    spoken: NDArray[np.bool_]


def known_windows(
    pieces: Pieces, voice: str, draw: np.random.Generator, *, clean: bool
) -> KnownWindows:
    """Make a session with noises over its words and tell what its windows hold."""
    mixed = mixed_session(pieces, voice, SESSION_S, draw, CLEAN if clean else UNDER_WORDS)
    starts, features = [], []
    for window in windows_around(mixed.mix, mixed.rate):
        begins, described = window_features(window)
        starts.append(begins + window.first)
        features.append(described)
    start = np.concatenate(starts)
    sums = np.cumsum(np.pad(powers_of(mixed), ((0, 0), (1, 0))), axis=1)
    within = np.minimum(start, sums.shape[1] - 1 - WINDOW_FRAMES)
    powers = sums[:, within + WINDOW_FRAMES] - sums[:, within]
    noisiest = powers[FIRST_NOISE:].argmax(axis=0) + FIRST_NOISE
    share = powers[FIRST_NOISE:].max(axis=0) / (powers[SPEECH] + powers[ROOM] + 1e-20)
    spoken = spoken_frames(mixed)
    kind = np.where(share > NOISY_SHARE, noisiest, SPEECH)
    weight = np.where((share > NOISY_SHARE) | (share < QUIET_SHARE), 1.0, 0.0)
    silent = ~np.array([spoken[at : at + WINDOW_FRAMES].any() for at in within], dtype=np.bool_)
    weight[silent] *= np.where(kind[silent] == SPEECH, 0.0, SELDOM)
    weight[kind == BREATH] *= SELDOM
    return KnownWindows(
        start=start,
        features=np.concatenate(features),
        kind=kind,
        weight=weight.astype(np.float32),
        sounds=[
            (
                one.kind,
                one.first * 100 // mixed.rate,
                (one.first + one.samples.size) * 100 // mixed.rate,
            )
            for one in mixed.placed
        ],
        spoken=spoken,
    )


def sessions_of(pieces: Pieces, voices: Iterable[str], half: Half) -> list[KnownWindows]:
    """Make sessions of some voices."""
    made = []
    for voice in voices:
        spoken_s = sum(clip.stop_s - clip.start_s for clip in pieces.clips[voice])
        count = min(SESSIONS_MOST, max(1, round(SESSIONS_A_MINUTE * spoken_s / 60.0)))
        for index in range(count):
            named = zlib.crc32(f"{voice} {half}".encode())
            draw = np.random.default_rng([SEED, named, index])
            clean = index % CLEAN_EVERY == CLEAN_EVERY - 1
            made.append(known_windows(pieces, voice, draw, clean=clean))
    return made


def learn(sessions: Sequence[KnownWindows]) -> tuple[Trees, Trees]:
    """Teach which windows hold a noise, and, of those, which."""
    features = np.concatenate([one.features for one in sessions])
    kind = np.concatenate([one.kind for one in sessions])
    weight = np.concatenate([one.weight for one in sessions])
    noisy = kind >= FIRST_NOISE
    used, named = weight > 0.0, (weight > 0.0) & noisy
    counts = np.bincount(kind[named] - FIRST_NOISE, weights=weight[named])
    rare = np.sqrt(counts.sum() / np.maximum(counts, 1.0))
    return (
        trees_of(_model(ROUNDS).fit(features[used], noisy[used], weight[used])),
        trees_of(
            _model(KIND_ROUNDS).fit(
                features[named],
                kind[named] - FIRST_NOISE,
                weight[named] * rare[kind[named] - FIRST_NOISE],
            )
        ),
    )


def held_out_lines(sessions: Sequence[tuple[KnownWindows, tuple[Trees, Trees]]]) -> list[str]:
    """Say what is found of what lies under words, in sessions new to their trees."""
    told = [(one, shares_of(tree_scores(one.features, trees[0]))[:, 0]) for one, trees in sessions]
    hours = sum(one.spoken.size for one, _ in told) / 360_000.0
    lines = []
    for least in LEASTS:
        laid, found = np.zeros(len(KINDS)), np.zeros(len(KINDS))
        right = wrong = 0
        for one, likelihood in told:
            runs = [
                (int(one.start[run[0]]), int(one.start[run[-1]]) + WINDOW_FRAMES)
                for run in runs_of(one.start, likelihood, least)
            ]
            for kind, start, stop in one.sounds:
                if stop > start and one.spoken[start:stop].mean() > 0.7:
                    laid[kind] += 1
                    found[kind] += any(a < stop + 10 and b > start - 10 for a, b in runs)
            for a, b in runs:
                met = any(a < stop + 30 and b > start - 30 for _, start, stop in one.sounds)
                right, wrong = right + met, wrong + (not met)
        of_kinds = ", ".join(
            f"{name} {found[KINDS.index(name)] / max(laid[KINDS.index(name)], 1.0):.2f}"
            for name in NOISE_KINDS
        )
        lines.append(
            f"likelihood {least}: precision {right / max(right + wrong, 1):.2f},"
            f" {wrong / hours:.1f} wrong an hour; found: {of_kinds}"
        )
    return lines


def _model(rounds: int) -> HistGradientBoostingClassifier:
    return HistGradientBoostingClassifier(
        max_iter=rounds,
        max_leaf_nodes=8,
        learning_rate=0.1,
        l2_regularization=10.0,
        min_samples_leaf=20,
        max_features=0.3,
        early_stopping=False,
        random_state=SEED,
    )


def main() -> None:
    """Write the numbers, or print what is found of what was held out."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--held-out", action="store_true")
    held_out = words.parse_args().held_out
    pieces = all_pieces()
    folds = voice_folds(pieces.voices, 2)
    halves: tuple[Half, Half] = ("known", "unseen")
    pairs = ((0, halves[0]), (1, halves[1])), ((1, halves[1]), (0, halves[0]))
    wanted = pairs[0] if held_out else [(fold, half) for fold in (0, 1) for half in halves]
    made = {
        (fold, half): sessions_of(pieces.only(half), folds[fold], half) for fold, half in wanted
    }
    if held_out:
        told = []
        for train, test in pairs:
            trees = learn(made[train])
            told += [(one, trees) for one in made[test]]
        print("\n".join(held_out_lines(told)))
        return
    noisy, kinds = learn([one for sessions in made.values() for one in sessions])
    numbers = (("TREES", noisy), ("KIND_TREES", kinds))
    write_constants(
        Path(under_numbers.__file__),
        [text_constant(name, packed(trees)) for name, trees in numbers],
    )


if __name__ == "__main__":
    main()
