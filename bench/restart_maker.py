"""Teach what is a restart: `python -m bench.restart_maker` writes `listening/restart_numbers.py`.

From the shared recordings, prompts that a package registry carries, the net of `phone_maker` and a
seed. Likelihoods are set right on true second renditions by voices that were left out; a table of
what is found of voices left out is printed. Needs `locks/makers.lock`.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench.boosting import joined_trees, trees_of
from bench.number_modules import text_constant, write_constants
from bench.proving.pieces import voice_folds
from bench.proving.recordings import load_pieces
from bench.proving.scores import Heard, Score, score_restarts
from bench.restart_pairs import KnownPairs, Sort, known_pairs
from quietleaf.listening import restart_numbers
from quietleaf.listening.restart_choice import LIKELIHOOD_MIN, Proposal, chosen
from quietleaf.listening.restart_model import AWAY_MOST, likelihoods_of, model_odds
from quietleaf.listening.trees import Trees, packed
from tests.helpers import find_recordings

SEEDS = (0, 1)
ROUNDS = 140
LEAVES = 10
RATE = 0.05
FEATURES_SHARE = 0.4
WEIGHTS: dict[Sort, float] = {"true": 1.0, "prompt": 0.7, "warped": 0.5, "clean": 0.5}
"""True renditions decide: warped ones are alike in what true ones are not."""
FOLDS = 4
_LINE_STRENGTH = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """What `model_odds` takes."""

    trees: Trees
    line: NDArray[np.float32]


def learn(sessions: Sequence[KnownPairs]) -> Model:
    """Teach trees and a line."""
    from sklearn.ensemble import HistGradientBoostingClassifier
    from sklearn.linear_model import LogisticRegression

    numbers = np.concatenate([one.numbers[one.counts] for one in sessions])
    wanted = np.concatenate([one.is_restart[one.counts] for one in sessions])
    weights = np.concatenate([np.full(one.counts.sum(), WEIGHTS[one.sort]) for one in sessions])
    grown = [
        HistGradientBoostingClassifier(
            max_iter=ROUNDS,
            max_leaf_nodes=LEAVES,
            learning_rate=RATE,
            max_features=FEATURES_SHARE,
            min_samples_leaf=20,
            l2_regularization=1.0,
            early_stopping=False,
            random_state=seed,
        ).fit(numbers, wanted, sample_weight=weights)
        for seed in SEEDS
    ]
    mean, spread = numbers.mean(axis=0), numbers.std(axis=0) + 1e-6
    away = np.clip((numbers - mean) / spread, -AWAY_MOST, AWAY_MOST)
    straight = LogisticRegression(C=_LINE_STRENGTH, max_iter=400)
    straight.fit(away, wanted, sample_weight=weights)
    line = np.zeros((3, mean.size + 1), dtype=np.float32)
    line[0, :-1], line[1, :-1], line[2, :-1] = mean, spread, straight.coef_[0]
    line[2, -1] = straight.intercept_[0]
    return Model(trees=joined_trees([trees_of(one) for one in grown]), line=line)


def odds_left_out(sessions: Sequence[KnownPairs]) -> list[NDArray[np.float64]]:
    """Give the odds of all pairs by models that know nothing of their voice."""
    odds = [np.empty(0)] * len(sessions)
    for fold in voice_folds({one.voice for one in sessions}, FOLDS):
        model = learn([one for one in sessions if one.voice not in fold])
        for index, one in enumerate(sessions):
            if one.voice in fold:
                odds[index] = model_odds(one.numbers, model.trees, model.line)
    return odds


def set_right(
    sessions: Sequence[KnownPairs], odds: Sequence[NDArray[np.float64]]
) -> tuple[float, float]:
    """Find slope and offset that make likelihoods of the odds of true renditions."""
    from sklearn.linear_model import LogisticRegression

    some = [(one, found) for one, found in zip(sessions, odds, strict=True) if one.sort == "true"]
    found = np.concatenate([odds[one.counts] for one, odds in some])
    wanted = np.concatenate([one.is_restart[one.counts] for one, _ in some])
    fitted = LogisticRegression(C=1e6).fit(found[:, np.newaxis], wanted)
    return float(fitted.coef_[0, 0]), float(fitted.intercept_[0])


def table_of(
    sessions: Sequence[KnownPairs],
    odds: Sequence[NDArray[np.float64]],
    slope: float,
    offset: float,
) -> str:
    """Write recall and precision of proposed cuts by likelihood, for each sort."""
    lines = [
        "| sessions | false starts | p | recall | precision | wrong an hour |",
        "|" + "---|" * 6,
    ]
    for sort in WEIGHTS:
        some = [(one, at) for one, at in zip(sessions, odds, strict=True) if one.sort == sort]
        hours = sum(one.length_s for one, _ in some) / 3600.0
        for least in (0.4, 0.6, 0.8, 0.9, 0.95):
            whole = Score()
            for one, at in some:
                whole += _score(one, likelihoods_of(at, slope, offset), least)
            lines.append(
                f"| {sort} | {whole.labels} | {least} | {whole.recall or 0.0:.2f} |"
                f" {whole.precision or 0.0:.3f} | {whole.wrong / max(hours, 1e-9):.1f} |"
            )
    return "\n".join(lines)


def write_numbers(model: Model, slope: float, offset: float, path: Path) -> None:
    """Write the module that holds the model."""
    line = base64.b85encode(model.line.astype("<f4").tobytes()).decode()
    write_constants(
        path,
        [
            f"SLOPE = {slope:.4f}\nOFFSET = {offset:.4f}\n",
            text_constant("LINE", line),
            text_constant("TREES", packed(model.trees)),
        ],
    )


def _score(session: KnownPairs, likelihoods: NDArray[np.float64], least: float) -> Score:
    """Score the cuts that are proposed from a likelihood on."""
    proposals = [
        Proposal(pair=pair, likelihood=float(likelihood))
        for pair, likelihood, counts in zip(session.pairs, likelihoods, session.counts, strict=True)
        if counts and likelihood >= LIKELIHOOD_MIN
    ]
    heard = [
        Heard(kind="restart", start_s=cut.start_s, end_s=cut.end_s)
        for cut in chosen(proposals, least)
    ]
    score, _ = score_restarts(session.labels, heard)
    return score


def main() -> None:
    """Write the numbers, and print what is found of voices that were left out."""
    sessions = list(known_pairs(load_pieces(find_recordings())))
    odds = odds_left_out(sessions)
    slope, offset = set_right(sessions, odds)
    print(table_of(sessions, odds, slope, offset))
    write_numbers(learn(sessions), slope, offset, Path(restart_numbers.__file__))


if __name__ == "__main__":
    main()
