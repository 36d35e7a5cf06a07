"""Lines whose writing shares a visit to a thread: what comes of one is no matter of the others."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from quietleaf.booth.wire import Progress
from quietleaf.errors import Unavailable
from quietleaf.web.visits import LINES_A_VISIT, Unwritten, Visits
from quietleaf.work.record_reading import SendAgain


def came_of(
    calls: list[Callable[[], Progress]], *, is_closed: bool = False
) -> list[Progress | BaseException]:
    """Ask for all at once; give what came of each."""

    async def ask() -> list[Progress | BaseException]:
        visits = Visits(pool)
        return await asyncio.gather(*(visits.write(call) for call in calls), return_exceptions=True)

    with ThreadPoolExecutor(2) as pool, ThreadPoolExecutor(1) as apart:
        if is_closed:
            pool.shutdown()
        # Where a browser is running for other tests, this thread has a loop already.
        return apart.submit(lambda: asyncio.run(ask())).result()


def progress_of(samples: int) -> Callable[[], Progress]:
    return lambda: Progress(entries=1, samples=samples)


def raising(fault: Exception) -> Callable[[], Progress]:
    def call() -> Progress:
        raise fault

    return call


def test_each_line_gets_its_own_answer() -> None:
    several = 3 * LINES_A_VISIT + 1
    found = came_of([progress_of(number) for number in range(several)])
    assert found == [Progress(entries=1, samples=number) for number in range(several)]


def test_a_refusal_is_one_line_s_alone() -> None:
    full, gap = Unavailable("disk/full", "The disk is full."), SendAgain()
    found = came_of([progress_of(1), raising(full), raising(gap), progress_of(2)])
    assert found == [Progress(entries=1, samples=1), full, gap, Progress(entries=1, samples=2)]


def test_what_nobody_thought_of_is_told_to_every_line_of_the_visit() -> None:
    fault = ZeroDivisionError()
    found = came_of([progress_of(1), raising(fault)])
    assert [type(each) for each in found] == [Unwritten, Unwritten]
    assert [each.args for each in found if isinstance(each, Unwritten)] == [(fault,), (fault,)]


def test_a_station_that_stops_writes_nothing_more() -> None:
    (found,) = came_of([progress_of(1)], is_closed=True)
    assert isinstance(found, RuntimeError)
