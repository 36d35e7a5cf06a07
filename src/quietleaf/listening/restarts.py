"""Sentences that were begun and read again: the first try, and how likely it was one.

By the sound alone: what follows a pause is laid along what follows a later one, and said to be the
same words or not. Which words is not known.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

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
"""From here on 98 of 100 cuts were right among voices that were not learned from, 96 in texts whose
words come back all the time. Ours."""
HEAR_LIKELIHOOD_MIN = 0.8
"""Nothing was told from 0.75 on in 1.5 hours of voices that were not learned from and read nothing
twice, 1.3 an hour from 0.7 on; the rest is for other voices. Ours."""
FIX_BY_WORDS_MIN = 0.93
"""From here on 97 of 100 cuts were right, by voices that neither sound nor words were learned from.
Ours."""
HEAR_BY_WORDS_MIN = 0.75
"""From here on 94 of 100 were right; 0.9 an hour were told where nothing was read twice. Ours."""
ASKED_LIKELIHOOD_MIN = 0.05
"""Whoever knows words is asked from here on: 94 of 100 true restarts, and about a hundred pairs an
hour of clean reading. Ours."""


@dataclass(slots=True, kw_only=True)
class RestartMemory:
    """What may still become a restart, and the cuts that nothing can change any more.

    Attributes
    ----------
    asked : list of Proposal
        All that words could decide, for whoever knows them.
    """

    pairs: PairMemory = field(default_factory=PairMemory)
    proposals: list[Proposal] = field(default_factory=list)
    asked: list[Proposal] = field(default_factory=list)
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
    last = _ended(memory)
    cuts = [*last.cuts, *chosen(last.proposals, HEAR_LIKELIHOOD_MIN)]
    return tuple(_finding(cut, FIX_LIKELIHOOD_MIN) for cut in cuts)


def asked_proposals(memory: RestartMemory) -> tuple[Proposal, ...]:
    """Give the pairs that words could decide, as if silence followed, by where they begin again."""
    return tuple(sorted(_ended(memory).asked, key=lambda one: (one.stop, one.first)))


def findings_by_words(proposals: Sequence[Proposal]) -> tuple[Finding, ...]:
    """Tell what was found where words were asked how likely proposals are."""
    return tuple(_finding(cut, FIX_BY_WORDS_MIN) for cut in chosen(proposals, HEAR_BY_WORDS_MIN))


def lasting(memory: RestartMemory) -> tuple[list[Any], ...]:
    """Give the lists of what is never changed again: they need no copies of what is in them."""
    speech = memory.pairs.speech
    return memory.proposals, memory.asked, memory.cuts, speech.phrases


def _ended(memory: RestartMemory) -> RestartMemory:
    last = copy.deepcopy(memory, {id(known): list(known) for known in lasting(memory)})
    _propose(last, end_pairs(last.pairs))
    return last


def _propose(memory: RestartMemory, pairs: list[Pair]) -> None:
    if not pairs:
        return
    likelihoods = restart_likelihoods(np.array([pair.numbers for pair in pairs]))
    asked = [
        Proposal(pair=pair, likelihood=float(likelihood))
        for pair, likelihood in zip(pairs, likelihoods, strict=True)
        if likelihood >= ASKED_LIKELIHOOD_MIN
    ]
    memory.asked += asked
    memory.proposals += [one for one in asked if one.likelihood >= LIKELIHOOD_MIN]
    memory.proposals.sort(key=lambda one: (one.first, one.stop))


def _finding(cut: Cut, fix_min: float) -> Finding:
    is_sure = cut.likelihood >= fix_min
    return Finding(
        kind="restart",
        start_s=cut.start_s,
        end_s=cut.end_s,
        severity="fix" if is_sure else "hear",
        value=round(cut.likelihood, 2),
        limit=fix_min,
        unit="likelihood",
        advice=(
            "This was begun and then read again; the first try can be cut."
            if is_sure
            else "This may have been begun and read again; listen, and cut the first try if so."
        ),
    )
