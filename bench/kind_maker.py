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

from bench.boosting import as_lines, trees_of
from bench.kind_sessions import BREATH, ROOM, SPEECH, KnownUnits, known_units
from bench.proving.pieces import Pieces, load_pieces, voice_folds
from quietleaf.listening import sound_kind_numbers
from quietleaf.listening.sound_kind_names import KINDS
from quietleaf.listening.trees import Trees, shares_of, tree_scores
from tests.helpers import find_recordings

SEED = 0
SESSION_S = 75.0
SESSIONS_A_MINUTE = 8.0
SESSIONS_MOST = 8
"""Sessions of a voice with a minute of speech or more; of less, fewer."""
CLEAN_SHARE = 0.25
ROUNDS = 150
LEAVES = 10
RATE = 0.1
SURE = 0.6


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
    counts = np.bincount(kind, weights=weight, minlength=len(KINDS))
    rare = np.sqrt(counts.sum() / len(KINDS) / np.maximum(counts, 1.0))
    weights = weight * rare[kind]
    used = weights > 0.0
    model = HistGradientBoostingClassifier(
        max_iter=ROUNDS,
        max_leaf_nodes=LEAVES,
        learning_rate=RATE,
        l2_regularization=5.0,
        min_samples_leaf=15,
        max_features=0.4,
        early_stopping=False,
        random_state=SEED,
    )
    return trees_of(model.fit(features[used], kind[used], weights[used]))


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


def write_numbers(trees: Trees, path: Path) -> None:
    """Write the module that holds the trees."""
    head = Path(sound_kind_numbers.__file__).read_text().partition('TREES = """\\\n')[0]
    path.write_text(head + 'TREES = """\\\n' + as_lines(trees) + '\n"""\n')


def main() -> None:
    """Write the numbers, or print what is known of what was held out."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--held-out", action="store_true")
    held_out = words.parse_args().held_out
    pieces = load_pieces(find_recordings())
    if not held_out:
        trees = learn(sessions_of(pieces, pieces.voices))
        write_numbers(trees, Path(sound_kind_numbers.__file__))
        return
    some, others = voice_folds(pieces.voices, 2)
    known, unseen = pieces.only("known"), pieces.only("unseen")
    for train, voices, test, of in ((known, some, unseen, others), (unseen, others, known, some)):
        trees = learn(sessions_of(train, voices))
        print(table_of(sessions_of(test, of, SEED + 1), trees), end="\n\n")


if __name__ == "__main__":
    main()
