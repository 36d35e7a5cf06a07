"""Sentences that were begun and read again: the first try, and how likely it was one.

By the sound alone: what follows a pause is laid along what follows a later one, and said to be the
same words or not. Which words is not known.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.restart_choice import LIKELIHOOD_MIN, Cut, Proposal, chosen
from quietleaf.listening.restart_model import restart_likelihoods
from quietleaf.listening.restart_pairs import Pair
from quietleaf.listening.restart_search import (
    APART_FRAMES_MOST,
    PairMemory,
    end_pairs,
    judged_up_to,
    step_pairs,
)
from quietleaf.listening.sound_frames import SoundFrames

FIX_LIKELIHOOD_MIN = 0.93
"""From 0.9 on 97 of 100 cuts were right among voices that were not learned from; the rest is for
what made sessions do not hold, like headlines whose words come back. Ours."""
HEAR_LIKELIHOOD_MIN = 0.75
"""Lower ones are wrong more than twice an hour where nothing was read twice. Ours."""


@dataclass(slots=True, kw_only=True)
class RestartMemory:
    """What may still become a restart, and the cuts that nothing can change any more."""

    pairs: PairMemory = field(default_factory=PairMemory)
    proposals: list[Proposal] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)


def step_restarts(memory: RestartMemory, chunk: SoundFrames, speech: NDArray[np.bool_]) -> None:
    """Take the next chunk in, with which of its frames are speech without breath and noise."""
    _propose(memory, step_pairs(memory.pairs, chunk, speech))
    # What comes later begins no earlier than this.
    before = judged_up_to(memory.pairs) - APART_FRAMES_MOST
    settled: list[Proposal] = []
    stop = 0
    for index, proposal in enumerate(memory.proposals):
        if proposal.first >= stop:
            settled = memory.proposals[:index]
        stop = max(stop, proposal.stop)
        if stop > before:
            break
    else:
        settled = memory.proposals
    memory.cuts += chosen(settled, HEAR_LIKELIHOOD_MIN)
    memory.proposals = memory.proposals[len(settled) :]


def restart_findings(memory: RestartMemory) -> tuple[Finding, ...]:
    """Tell what was found, as if silence followed; the memory stays as it is.

    Returns
    -------
    findings : tuple of Finding
        Each from within the pause before the first try to the like place within the pause before
        what was read again, in order; several tries in a row touch. ``value`` is the likelihood
        that it is one.
    """
    last = copy.deepcopy(memory)
    _propose(last, end_pairs(last.pairs))
    return tuple(
        _finding(cut) for cut in [*last.cuts, *chosen(last.proposals, HEAR_LIKELIHOOD_MIN)]
    )


def _propose(memory: RestartMemory, pairs: list[Pair]) -> None:
    if not pairs:
        return
    likelihoods = restart_likelihoods(np.array([pair.numbers for pair in pairs]))
    memory.proposals += [
        Proposal(pair=pair, likelihood=float(likelihood))
        for pair, likelihood in zip(pairs, likelihoods, strict=True)
        if likelihood >= LIKELIHOOD_MIN
    ]
    memory.proposals.sort(key=lambda one: (one.first, one.stop))


def _finding(cut: Cut) -> Finding:
    is_sure = cut.likelihood >= FIX_LIKELIHOOD_MIN
    return Finding(
        kind="restart",
        start_s=cut.start_s,
        end_s=cut.end_s,
        severity="fix" if is_sure else "hear",
        value=round(cut.likelihood, 2),
        limit=FIX_LIKELIHOOD_MIN,
        unit="likelihood",
        advice=(
            "This was begun and then read again; the first try can be cut."
            if is_sure
            else "This may have been begun and read again; listen, and cut the first try if so."
        ),
    )
