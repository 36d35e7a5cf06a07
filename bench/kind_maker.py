"""Teach the trees that tell kinds of sound apart; `python -m bench.kind_maker` writes them.

From the shared recordings, the open sounds and a seed; `--held-out` trains on half the voices and
half the recordings of each noise instead, and says what it knows of the other halves.
"""

from __future__ import annotations

import argparse
import zlib
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from sklearn.ensemble import HistGradientBoostingClassifier

from bench.boosting import trees_of
from bench.kind_sessions import BREATH, ROOM, SPEECH, KnownUnits, known_units
from bench.number_modules import text_constant, write_constants
from bench.proving.made_pieces import made_pieces
from bench.proving.open_sounds import open_clips, open_sounds
from bench.proving.pieces import Half, Pieces, voice_folds
from bench.proving.recordings import load_pieces
from quietleaf.listening import sound_kind_numbers
from quietleaf.listening.sound_events import event_features, unit_groups
from quietleaf.listening.sound_kind_names import KINDS, NOISE_KINDS
from quietleaf.listening.sound_kinds import KnownSounds
from quietleaf.listening.trees import Trees, packed, shares_of, tree_scores
from tests.helpers import find_recordings

SEED = 0
SESSION_S = 60.0
SESSIONS_A_MINUTE = 8.0
SESSIONS_MOST = 8
"""Sessions of a voice with a minute of speech or more; of less, fewer."""
CLEAN_SHARE = 0.2
CLIP_S_MIN = 1.0
ROUNDS = 150
LEAVES = 10
RATE = 0.08
SURE = 0.6
EVENT_ROUNDS = 70
SPEECH_KEPT = 0.2
"""Units of speech are most of all and much alike: of so many is learned, each for as many more."""


def sessions_of(pieces: Pieces, voices: Iterable[str], seed: int = SEED) -> list[KnownUnits]:
    """Make sessions of some voices with all noises there are."""
    made = []
    for voice in voices:
        spoken_s = sum(clip.stop_s - clip.start_s for clip in pieces.clips[voice])
        count = min(SESSIONS_MOST, max(1, round(SESSIONS_A_MINUTE * spoken_s / 60.0)))
        for index in range(count):
            draw = np.random.default_rng([seed, zlib.crc32(voice.encode()), index])
            clean = index < CLEAN_SHARE * count - 0.5
            made.append(known_units(pieces, voice, SESSION_S, draw, clean=clean))
    return made


def learn(sessions: Sequence[KnownUnits]) -> Trees:
    """Teach twice: what was not known of a voice's own breaths and tails is told by the first."""
    features = np.concatenate([one.features for one in sessions])
    kind = np.concatenate([one.kind for one in sessions])
    weight = np.concatenate([one.weight for one in sessions])
    first = _fitted(features, kind, weight)
    unknown = np.flatnonzero(weight == 0.0)
    shares = shares_of(tree_scores(features[unknown], first))
    told = shares.argmax(axis=1)
    sure = (shares.max(axis=1) > SURE) & np.isin(told, (SPEECH, ROOM, BREATH))
    kind, weight = kind.copy(), weight.copy()
    kind[unknown[sure]] = told[sure]
    weight[unknown[sure]] = 0.5
    return _fitted(features, kind, weight)


def _fitted(
    features: NDArray[np.float32], kind: NDArray[np.int64], weight: NDArray[np.float32]
) -> Trees:
    draw = np.random.default_rng(SEED)
    common = (kind == SPEECH) & (draw.random(kind.size) > SPEECH_KEPT)
    weight = np.where(common, 0.0, np.where(kind == SPEECH, weight / SPEECH_KEPT, weight))
    counts = np.bincount(kind, weights=weight, minlength=len(KINDS))
    rare = np.sqrt(counts.sum() / len(KINDS) / np.maximum(counts, 1.0))
    weights = weight * rare[kind]
    used = weights > 0.0
    model = HistGradientBoostingClassifier(
        max_iter=ROUNDS,
        max_leaf_nodes=LEAVES,
        learning_rate=RATE,
        l2_regularization=10.0,
        min_samples_leaf=20,
        max_features=0.3,
        early_stopping=False,
        random_state=SEED,
    )
    return trees_of(model.fit(features[used], kind[used], weights[used]))


def learn_events(sessions: Iterable[tuple[KnownUnits, Trees]]) -> Trees:
    """Teach which sounds are noises as wholes, from sessions new to their trees."""
    features, noises = [], []
    for one, trees in sessions:
        sounds = sounds_of(one, trees)
        groups = unit_groups(sounds)
        features.append(event_features(sounds, groups))
        noises += [_is_noise(one, group) for group in groups]
    model = HistGradientBoostingClassifier(
        max_iter=EVENT_ROUNDS,
        max_leaf_nodes=6,
        learning_rate=RATE,
        l2_regularization=10.0,
        min_samples_leaf=12,
        max_features=0.4,
        early_stopping=False,
        random_state=SEED,
    )
    return trees_of(model.fit(np.concatenate(features), noises))


def sounds_of(session: KnownUnits, trees: Trees) -> KnownSounds:
    """Tell the units of a session."""
    return KnownSounds(
        start=np.rint(100.0 * session.start_s).astype(np.int64),
        stop=np.rint(100.0 * session.stop_s).astype(np.int64),
        shares=shares_of(tree_scores(session.features, trees)),
        over_top_db=session.features[:, 1],
        over_floor_db=session.features[:, 3],
    )


def _is_noise(session: KnownUnits, group: Sequence[int]) -> bool:
    lasts_s = {True: 0.0, False: 0.0}
    for unit in group:
        noisy = KINDS[session.kind[unit]] in NOISE_KINDS
        lasts_s[noisy] += session.stop_s[unit] - session.start_s[unit]
    return lasts_s[True] > 0.5 * lasts_s[False]


def table_of(sessions: Sequence[KnownUnits], trees: Trees) -> str:
    """Say how often each kind is told as each, in units, with recall and precision."""
    features = np.concatenate([one.features for one in sessions])
    kind = np.concatenate([one.kind for one in sessions])
    known = np.concatenate([one.weight for one in sessions]) > 0.0
    told = tree_scores(features[known], trees).argmax(axis=1)
    counts = np.zeros((len(KINDS), len(KINDS)), dtype=np.int64)
    np.add.at(counts, (kind[known], told), 1)
    lines = ["| is \\ told | " + " | ".join(KINDS) + " | recall | precision |"]
    lines.append("|---" * (len(KINDS) + 3) + "|")
    for index, name in enumerate(KINDS):
        right = counts[index, index]
        recall = right / max(counts[index].sum(), 1)
        precision = right / max(counts[:, index].sum(), 1)
        row = " | ".join(str(count) for count in counts[index])
        lines.append(f"| {name} | {row} | {recall:.2f} | {precision:.2f} |")
    return "\n".join(lines)


def write_numbers(units: Trees, events: Trees, path: Path) -> None:
    """Write the module that holds the trees of units and of events."""
    constants = {"TREES": units, "EVENT_TREES": events}
    write_constants(path, [text_constant(name, packed(trees)) for name, trees in constants.items()])


def main() -> None:
    """Write the numbers, or print what is known of what was held out."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--held-out", action="store_true")
    held_out = words.parse_args().held_out
    pieces = all_pieces()
    folds = voice_folds(pieces.voices, 2)
    halves: tuple[Half, Half] = ("known", "unseen")
    made = {
        (fold, half): sessions_of(pieces.only(half), folds[fold])
        for fold in (0, 1)
        for half in halves
    }
    # What sounds are as wholes is learned from sessions of voices and recordings that the trees of
    # units do not know, as those of a new reader are.
    apart = (((0, halves[0]), (1, halves[1])), ((1, halves[1]), (0, halves[0])))
    units = [learn(made[train]) for train, _ in apart]
    if held_out:
        for (_, test), trees in zip(apart, units, strict=True):
            print(table_of(made[test], trees), end="\n\n")
        return
    events = learn_events(
        [(one, trees) for (_, test), trees in zip(apart, units, strict=True) for one in made[test]]
    )
    every = learn([one for sessions in made.values() for one in sessions])
    write_numbers(every, events, Path(sound_kind_numbers.__file__))


def all_pieces() -> Pieces:
    """Load the shared recordings, what registries carry, and voices by formula.

    Those are the voices of tests and of the example station: they are to be heard as speech too.
    """
    made = (clip for said in made_pieces().clips.values() for clip in said)
    spoken = (clip for clip in open_clips() if clip.stop_s - clip.start_s > CLIP_S_MIN)
    pieces = load_pieces(find_recordings()).with_sounds(open_sounds())
    return pieces.with_clips([*spoken, *made])


if __name__ == "__main__":
    main()
