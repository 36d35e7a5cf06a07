"""Teach what words say of restarts: `python -m bench.restart_words_maker MODEL-FOLDER`.

Writes `listening/restart_words_numbers.py`. The sound's likelihoods that it learns with are those
of models that knew nothing of the voice, as a new reader's are. Needs `locks/makers.lock` and
`locks/words.lock`; listens for half an hour.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench.number_modules import write_constants
from bench.proving.pieces import voice_folds
from bench.proving.recordings import load_pieces
from bench.proving.scores import Heard, Score, score_restarts
from bench.proving.session import Session
from bench.restart_maker import FOLDS, WEIGHTS, odds_left_out, set_right
from bench.restart_pairs import KnownPairs, Sort, known_pairs, made_sessions
from quietleaf.listening import restart_words_numbers
from quietleaf.listening.restart_choice import Proposal, chosen
from quietleaf.listening.restart_model import likelihoods_of
from quietleaf.listening.restart_words_model import AWAY_MOST, FACTS, facts_of
from quietleaf.listening.restarts import ASKED_LIKELIHOOD_MIN
from quietleaf.storage.recogniser import Recogniser, open_recogniser
from quietleaf.storage.sound_source import SoundInfo, read_in_blocks
from quietleaf.work.hear_words import Ear
from tests.helpers import find_recordings

_STRENGTH = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardPairs:
    """The pairs of a session that a recogniser was asked about.

    Attributes
    ----------
    asked : ndarray, shape (n,), int64
        Which pairs of the session.
    facts : ndarray, shape (n, 30)
        As `facts_of` gives them.
    """

    session: KnownPairs
    asked: NDArray[np.int64]
    facts: NDArray[np.float64]

    @property
    def counts(self) -> NDArray[np.bool_]:
        """Which of them are known for what they are."""
        return self.session.counts[self.asked]

    @property
    def is_restart(self) -> NDArray[np.bool_]:
        """Which of them are restarts."""
        return self.session.is_restart[self.asked]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line through facts; of ``weights`` the last is added."""

    means: NDArray[np.float64]
    spreads: NDArray[np.float64]
    weights: NDArray[np.float64]

    def odds(self, facts: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give logarithms of odds."""
        away = np.clip((facts - self.means) / self.spreads, -AWAY_MOST, AWAY_MOST)
        odds: NDArray[np.float64] = away @ self.weights[:-1] + self.weights[-1]
        return odds


def heard_pairs(
    session: Session, known: KnownPairs, likelihoods: NDArray[np.float64], recogniser: Recogniser
) -> HeardPairs:
    """Ask about all pairs of a session that are asked about in earnest."""
    asked = np.flatnonzero(likelihoods >= ASKED_LIKELIHOOD_MIN)
    ear = Ear(sound=_Source(session), recogniser=recogniser)
    facts = np.zeros((asked.size, len(FACTS)))
    # In the order of a recording, so that what was listened to is still remembered.
    for row in sorted(range(asked.size), key=lambda row: known.pairs[asked[row]].again.first):
        index = int(asked[row])
        one = Proposal(pair=known.pairs[index], likelihood=float(likelihoods[index]))
        facts[row] = facts_of(one.likelihood, one.pair.numbers, ear.numbers_of(one))
    return HeardPairs(session=known, asked=asked, facts=facts)


def learn(heard: Sequence[HeardPairs]) -> Line:
    """Teach a line."""
    from sklearn.linear_model import LogisticRegression

    facts = np.concatenate([one.facts[one.counts] for one in heard])
    wanted = np.concatenate([one.is_restart[one.counts] for one in heard])
    weights = np.concatenate(
        [np.full(one.counts.sum(), WEIGHTS[one.session.sort]) for one in heard]
    )
    means, spreads = facts.mean(axis=0), facts.std(axis=0) + 1e-6
    away = np.clip((facts - means) / spreads, -AWAY_MOST, AWAY_MOST)
    fitted = LogisticRegression(C=_STRENGTH, max_iter=500).fit(away, wanted, sample_weight=weights)
    return Line(
        means=means,
        spreads=spreads,
        weights=np.append(fitted.coef_[0], fitted.intercept_[0]),
    )


def heard_left_out(heard: Sequence[HeardPairs]) -> list[NDArray[np.float64]]:
    """Give the odds of what was asked by lines that know nothing of the voice."""
    odds = [np.empty(0)] * len(heard)
    for fold in voice_folds({one.session.voice for one in heard}, FOLDS):
        line = learn([one for one in heard if one.session.voice not in fold])
        for index, one in enumerate(heard):
            if one.session.voice in fold:
                odds[index] = line.odds(one.facts)
    return odds


def table_of(heard: Sequence[HeardPairs], likelihoods: Sequence[NDArray[np.float64]]) -> str:
    """Write what is found of voices left out, by likelihood and at two precisions."""
    lines = [
        "| sessions | false starts | p | recall | precision | wrong an hour |",
        "|" + 6 * "---|",
    ]
    for sort in WEIGHTS:
        some = [(one, at) for one, at in zip(heard, likelihoods, strict=True) if _is(one, sort)]
        hours = sum(one.session.length_s for one, _ in some) / 3600.0
        for least in (0.5, 0.75, 0.9, 0.95):
            whole = sum((_score(one, at, least) for one, at in some), Score())
            lines.append(
                f"| {sort} | {whole.labels} | {least} | {whole.recall or 0.0:.2f} |"
                f" {whole.precision or 0.0:.3f} | {whole.wrong / max(hours, 1e-9):.1f} |"
            )
        whole = sum((_score(one, at, ASKED_LIKELIHOOD_MIN) for one, at in some), Score())
        lines += [f"{sort} at {asked}: {whole.recall_at(asked)}" for asked in (0.97, 0.9)]
    return "\n".join(lines)


def write_numbers(line: Line, slope: float, offset: float, path: Path) -> None:
    """Write the module that holds the line."""
    tables = (("MEANS", line.means), ("SPREADS", line.spreads), ("WEIGHTS", line.weights))
    constants = [f"SLOPE = {slope:.4f}\nOFFSET = {offset:.4f}\n"]
    for name, numbers in tables:
        rows = "".join(f"    {number:.5g},\n" for number in numbers)
        constants.append(f"{name} = (\n{rows})\n")
    write_constants(path, constants)


@dataclass(frozen=True, slots=True)
class _Source:
    """A session as whoever hears a recording takes it."""

    session: Session

    @property
    def info(self) -> SoundInfo:
        return SoundInfo(
            sample_rate_hz=self.session.sample_rate_hz,
            channels=1,
            frames=self.session.samples.size,
            encoding="made",
        )

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        return read_in_blocks(self, block_frames)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        return self.session.samples[start:stop, np.newaxis]


def _is(one: HeardPairs, sort: Sort) -> bool:
    return one.session.sort == sort


def _score(one: HeardPairs, likelihoods: NDArray[np.float64], least: float) -> Score:
    proposals = [
        Proposal(pair=one.session.pairs[index], likelihood=float(likelihood))
        for index, likelihood, counts in zip(one.asked, likelihoods, one.counts, strict=True)
        if counts
    ]
    cuts = [
        Heard(kind="restart", start_s=cut.start_s, end_s=cut.end_s, value=cut.likelihood)
        for cut in chosen(proposals, least)
    ]
    score, _ = score_restarts(one.session.labels, cuts)
    return score


def _set_right(
    heard: Sequence[HeardPairs], odds: Sequence[NDArray[np.float64]]
) -> tuple[float, float]:
    """Find slope and offset that make likelihoods of the odds of true renditions."""
    from sklearn.linear_model import LogisticRegression

    some = [(one, at) for one, at in zip(heard, odds, strict=True) if _is(one, "true")]
    found = np.concatenate([at[one.counts] for one, at in some])
    wanted = np.concatenate([one.is_restart[one.counts] for one, _ in some])
    fitted = LogisticRegression(C=1e6).fit(found[:, np.newaxis], wanted)
    return float(fitted.coef_[0, 0]), float(fitted.intercept_[0])


def main() -> None:
    """Write the numbers, and print what is found of voices that were left out."""
    recogniser = open_recogniser(Path(sys.argv[1]))
    assert recogniser is not None, "the extra `quietleaf[words]` is needed"
    pieces = load_pieces(find_recordings())
    known = list(known_pairs(pieces))
    by_sound = odds_left_out(known)
    slope, offset = set_right(known, by_sound)
    heard = [
        heard_pairs(session, one, likelihoods_of(odds, slope, offset), recogniser)
        for (_, session), one, odds in zip(made_sessions(pieces), known, by_sound, strict=True)
    ]
    odds = heard_left_out(heard)
    slope, offset = _set_right(heard, odds)
    print(table_of(heard, [likelihoods_of(at, slope, offset) for at in odds]))
    write_numbers(learn(heard), slope, offset, Path(restart_words_numbers.__file__))


if __name__ == "__main__":
    main()
