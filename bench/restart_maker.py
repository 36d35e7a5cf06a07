"""Teach what is a restart: `python -m bench.restart_maker` writes `listening/restart_numbers.py`.

From the shared recordings, prompts and dialogues that a package registry carries, texts that speech
programs say, the net of `phone_maker` and a seed. Likelihoods are set right on true second
renditions by voices that were left out; a table of what is found of voices left out is printed.
Needs `locks/makers.lock`, and the programs `flite` and `espeak-ng`.
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
from quietleaf.listening.restart_choice import LIKELIHOOD_MIN, Cut, Proposal, chosen
from quietleaf.listening.restart_model import AWAY_MOST, likelihoods_of, model_odds
from quietleaf.listening.restarts import FIX_LIKELIHOOD_MIN, HEAR_LIKELIHOOD_MIN
from quietleaf.listening.trees import Trees, packed
from tests.helpers import find_recordings

SEEDS = (0, 1)
ROUNDS = 320
LEAVES = 20
RATE = 0.03
FEATURES_SHARE = 0.25
WEIGHTS: dict[Sort, float] = {
    "true": 1.0,
    "prompt": 0.7,
    "warped": 0.5,
    "made": 1.0,
    "clean": 1.0,
}
"""True renditions decide: warped ones are alike in what true ones are not."""
FOLDS = 4
_LINE_STRENGTH = 0.3
_PRECISIONS = (0.97, 0.9)
_STEPS = tuple(round(0.2 + 0.02 * step, 2) for step in range(40))


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
    """Write what is found of false starts: by sort, dry and in rooms, and by voice."""
    limits = (0.6, HEAR_LIKELIHOOD_MIN, FIX_LIKELIHOOD_MIN)
    lines = [
        "| sessions | false starts | hours |"
        + "".join(f" recall / precision from {least} on (wrong an hour) |" for least in limits)
        + "".join(f" recall at a precision of {wanted} |" for wanted in _PRECISIONS),
        "|" + "---|" * (3 + len(limits) + len(_PRECISIONS)),
    ]
    told = [
        (one, _cuts(one, likelihoods_of(at, slope, offset)))
        for one, at in zip(sessions, odds, strict=True)
    ]
    groups: dict[str, list[tuple[KnownPairs, list[Cut]]]] = {}
    for one, cuts in told:
        where = "room" if one.in_room else "dry"
        for name in (one.sort, f"{one.sort}, {where}", f"{one.sort}, {one.voice}"):
            groups.setdefault(name, []).append((one, cuts))
    for name in sorted(groups):
        some = groups[name]
        hours = sum(one.length_s for one, _ in some) / 3600.0
        scores = {least: _score(some, least) for least in (*limits, *_STEPS)}
        line = f"| {name} | {scores[limits[0]].labels} | {hours:.1f} |"
        for least in limits:
            score = scores[least]
            line += (
                f" {score.recall or 0.0:.2f} / {score.precision or 0.0:.3f}"
                f" ({score.wrong / hours:.1f}) |"
            )
        for wanted in _PRECISIONS:
            reached = [
                one.recall or 0.0 for one in scores.values() if (one.precision or 0.0) >= wanted
            ]
            line += f" {max(reached, default=0.0):.2f} |"
        lines.append(line)
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


def _cuts(session: KnownPairs, likelihoods: NDArray[np.float64]) -> list[Cut]:
    """Give all cuts that may be proposed."""
    proposals = [
        Proposal(pair=pair, likelihood=float(likelihood))
        for pair, likelihood, counts in zip(session.pairs, likelihoods, session.counts, strict=True)
        if counts and likelihood >= LIKELIHOOD_MIN
    ]
    return chosen(proposals, LIKELIHOOD_MIN)


def _score(some: Sequence[tuple[KnownPairs, Sequence[Cut]]], least: float) -> Score:
    """Score the cuts that are proposed from a likelihood on."""
    whole = Score()
    for session, cuts in some:
        heard = [
            Heard(kind="restart", start_s=cut.start_s, end_s=cut.end_s)
            for cut in cuts
            if cut.likelihood >= least
        ]
        score, _ = score_restarts(session.labels, heard)
        whole += score
    return whole


def main() -> None:
    """Write the numbers, and print what is found of voices that were left out."""
    sessions = list(known_pairs(load_pieces(find_recordings())))
    odds = odds_left_out(sessions)
    slope, offset = set_right(sessions, odds)
    print(table_of(sessions, odds, slope, offset))
    write_numbers(learn(sessions), slope, offset, Path(restart_numbers.__file__))


if __name__ == "__main__":
    main()
