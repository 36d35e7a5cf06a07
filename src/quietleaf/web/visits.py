"""What many lines brought is written by few visits to a thread.

Each visit from the loop to a thread and back costs the loop more than what a line brings; so lines
that come within a moment of each other are written by one.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

from quietleaf.booth.wire import Progress
from quietleaf.errors import QuietleafError
from quietleaf.work.record_reading import SendAgain

GATHER_S = 0.01
LINES_A_VISIT = 4
"""A visit writes them one after the other: more would wait for each other's disk."""


@dataclass(frozen=True, slots=True)
class _Asked:
    call: Callable[[], Progress]
    answer: asyncio.Future[Progress]


class Unwritten(Exception):
    """A visit ended otherwise than by a refusal: none of its lines knows what was written."""


class Visits:
    """Gathers what is to be written, for one loop; only that loop may ask."""

    def __init__(self, pool: Executor) -> None:
        self._pool = pool
        self._asked: list[_Asked] = []

    async def write(self, call: Callable[[], Progress]) -> Progress:
        """Have this called in a thread, and give or raise what comes of it."""
        loop = asyncio.get_running_loop()
        asked = _Asked(call, loop.create_future())
        self._asked.append(asked)
        if len(self._asked) == 1:
            loop.call_later(GATHER_S, self._set_out, loop)
        return await asked.answer

    def _set_out(self, loop: asyncio.AbstractEventLoop) -> None:
        asked, self._asked = self._asked, []
        for at in range(0, len(asked), LINES_A_VISIT):
            some = asked[at : at + LINES_A_VISIT]
            try:
                visit = loop.run_in_executor(self._pool, _call_all, some)
            except RuntimeError as closed:
                # The station stops, and the pool takes nothing more.
                _answer_all(some, [closed] * len(some))
            else:
                visit.add_done_callback(partial(_come_back, some))


def _call_all(some: Sequence[_Asked]) -> list[Progress | Exception]:
    outcomes: list[Progress | Exception] = []
    for asked in some:
        try:
            outcomes.append(asked.call())
        except (QuietleafError, SendAgain) as refusal:
            # It is that line's alone, and is raised there.
            outcomes.append(refusal)
    return outcomes


def _come_back(some: Sequence[_Asked], visit: asyncio.Future[list[Progress | Exception]]) -> None:
    fault = visit.exception()
    outcomes = [Unwritten(fault)] * len(some) if fault is not None else visit.result()
    _answer_all(some, outcomes)


def _answer_all(some: Sequence[_Asked], outcomes: Sequence[Progress | Exception]) -> None:
    for asked, outcome in zip(some, outcomes, strict=True):
        if asked.answer.done():
            continue  # its line has closed meanwhile
        if isinstance(outcome, Exception):
            asked.answer.set_exception(outcome)
        else:
            asked.answer.set_result(outcome)
