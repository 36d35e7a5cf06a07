"""What the stand records is what the microphone gave, whatever the page does meanwhile."""

from __future__ import annotations

import json
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.booth.edits import ArticleStarted, WordsBegun
from quietleaf.work.tools import Tools
from tests.browser.microphone import RATE_HZ, microphone_flags, noise, write_microphone
from tests.browser.recording import (
    ALL_KEPT,
    GLUE,
    PATH,
    Booth,
    assert_exact,
    assert_nothing_missing,
    booth,
    leave,
    longest_missing,
    new_reading,
    raw_page,
    read_on,
    wait_for_takes,
)
from tests.helpers import running_browser
from tests.stations_served import StationProcess, opened_station, station_process

if TYPE_CHECKING:
    from playwright.sync_api import Browser

SEED = 20_261_125
CHUNK = 2_048
BEFORE = RATE_HZ // 2


@pytest.fixture(scope="module")
def fed() -> NDArray[np.int32]:
    """Make what the microphone hears."""
    return noise(40.0, SEED)


@pytest.fixture(scope="module")
def flags(fed: NDArray[np.int32], tmp_path_factory: pytest.TempPathFactory) -> tuple[str, ...]:
    """Give a browser that microphone."""
    path = tmp_path_factory.mktemp("microphone") / "left.wav"
    write_microphone(path, fed)
    return microphone_flags(path)


@pytest.fixture(scope="module")
def tools(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tools]:
    """Plan a station."""
    with opened_station(tmp_path_factory.mktemp("station")) as tools:
        yield tools


@pytest.fixture(scope="module")
def station(tools: Tools) -> Iterator[StationProcess]:
    """Run it."""
    with station_process(tools.data) as station:
        yield station


@pytest.fixture(scope="module")
def here(
    browser: Browser, flags: tuple[str, ...], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Booth]:
    """Run a browser that hears."""
    with booth(browser, tmp_path_factory.mktemp("booth"), flags) as here:
        yield here


def test_every_sample_is_kept_and_nothing_while_held(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "holds")
    page = here.stand(station.address, reading)
    page.evaluate("stand.recorder.addEventListener('heard', () => { stand.heards += 1 })")
    lengths = []
    for samples in (80_000, 30_000):
        page.evaluate("stand.until(() => stand.heard !== null)")
        page.evaluate("stand.recorder.roll()")
        read_on(page, samples)
        page.evaluate("stand.recorder.markArticle('Frost')")
        lengths.append(page.evaluate("stand.recorder.hold()")["samples"])
        # More than the half second before the next press: what is heard is told ten times a second.
        page.evaluate("stand.heards = 0")
        page.evaluate("stand.until(() => stand.heards >= 8)")
    page.evaluate("stand.recorder.roll()")
    page.evaluate("stand.recorder.markWords('closing')")
    lengths.append(page.evaluate("stand.recorder.hold()")["samples"])
    assert BEFORE <= lengths[2] < BEFORE + RATE_HZ // 4
    heard = page.evaluate("stand.heard.secondsRolled")
    assert heard <= sum(lengths) / RATE_HZ
    wait_for_takes(reading, 3)
    takes = reading.takes()
    assert [len(take) for take in takes] == lengths
    starts = [assert_exact(fed, take) for take in takes]
    for start, end in zip(starts[1:], np.add(starts, lengths), strict=False):
        # Between two takes lies what was held, less the half second before the press.
        assert start >= end + 0.7 * RATE_HZ - BEFORE
    articles = reading.happened(ArticleStarted)
    assert [(mark.take, mark.title) for mark in articles] == [(1, "Frost"), (2, "Frost")]
    assert [lengths[mark.take - 1] >= mark.sample >= 30_000 for mark in articles] == [True, True]
    assert [mark.which for mark in reading.happened(WordsBegun)] == ["closing"]
    leave(page)


def test_a_roll_soon_after_a_hold_doubles_nothing(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "soon")
    page = here.stand(station.address, reading)
    page.evaluate("stand.recorder.roll()")
    read_on(page, 30_000)
    page.evaluate("stand.recorder.hold().then(() => stand.recorder.roll())")
    read_on(page, 5_000)
    page.evaluate("stand.recorder.hold()")
    wait_for_takes(reading, 2)
    first, second = reading.takes()
    assert assert_exact(fed, second) >= assert_exact(fed, first) + len(first)
    leave(page)


def test_a_page_that_stalls_loses_nothing(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "stalls")
    page = here.stand(station.address, reading)
    page.evaluate("stand.recorder.roll()")
    page.evaluate("{ const end = performance.now() + 6000; while (performance.now() < end); }")
    length = page.evaluate("stand.recorder.hold()")["samples"]
    assert length >= 6 * RATE_HZ
    wait_for_takes(reading, 1)
    (take,) = reading.takes()
    assert len(take) == length
    assert_exact(fed, take)
    assert_nothing_missing(reading)
    leave(page)


def test_a_hidden_page_records_on(
    browser: Browser,
    flags: tuple[str, ...],
    station: StationProcess,
    tools: Tools,
    fed: NDArray[np.int32],
    tmp_path: Path,
) -> None:
    # The pages of a driver are never hidden, nor are others in the same browser.
    reading = new_reading(tools, "hidden")
    with (
        running_browser(tmp_path / "profile", flags=flags) as (_, control),
        raw_page(control, f"{station.address}{PATH}") as page,
    ):
        page.evaluate(f"({GLUE})({json.dumps([reading.given(), 'left'])})")
        page.evaluate("stand.recorder.roll()")
        page.hide()
        page.evaluate("stand.until(() => document.visibilityState === 'hidden')")
        length = page.evaluate("stand.recorder.takeSamples")
        page.evaluate(f"stand.until(() => stand.recorder.takeSamples >= {length} + 130_000)")
        page.evaluate("stand.recorder.hold()")
        wait_for_takes(reading, 1)
        (take,) = reading.takes()
        assert len(take) >= length + 130_000
        assert_exact(fed, take)
        page.evaluate(ALL_KEPT)


def test_a_page_loaded_again_keeps_what_was_recorded(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "reload")
    page = here.stand(station.address, reading)
    page.evaluate("stand.recorder.roll()")
    read_on(page, 60_000)
    told = page.evaluate("stand.recorder.takeSamples")
    page.reload()
    page.evaluate(GLUE, [reading.given(), "left"])
    page.evaluate("stand.recorder.roll()")
    read_on(page, 30_000)
    page.evaluate("stand.recorder.hold()")
    wait_for_takes(reading, 2)
    before, after = reading.takes()
    assert len(before) >= told - CHUNK
    assert_exact(fed, before)
    assert_exact(fed, after)
    leave(page)


def test_a_suspended_browser_says_what_is_missing(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "paused")
    page = here.stand(station.address, reading)
    page.evaluate("stand.recorder.roll()")
    # Only then are the stamps of its blocks to be believed.
    read_on(page, 4 * RATE_HZ)
    before = page.evaluate("stand.recorder.takeSamples")
    here.signal(signal.SIGSTOP)
    try:
        signal.sigtimedwait([signal.SIGUSR2], 2.5)
    finally:
        here.signal(signal.SIGCONT)
    page.evaluate("stand.until(() => stand.told.some(({ missingS }) => missingS > 2))")
    page.evaluate("stand.recorder.hold()")
    wait_for_takes(reading, 1)
    (take,) = reading.takes()
    assert_exact(fed, take)
    missing = longest_missing(reading)
    assert missing is not None
    assert missing.reason == "paused"
    assert 2.3 * RATE_HZ <= missing.samples <= 3.5 * RATE_HZ
    assert before - 2 * CHUNK <= missing.sample <= before + RATE_HZ
    told = [each["missingS"] for each in page.evaluate("stand.told")]
    assert max(told) == pytest.approx(missing.samples / RATE_HZ)
    leave(page)
