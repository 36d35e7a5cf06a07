"""Ten minutes at the microphone, ten without network, and an hour's worth of sound in one go."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.work.tools import Tools
from tests.browser.microphone import RATE_HZ, microphone_flags, noise, write_microphone
from tests.browser.recording import (
    ALL_KEPT,
    Reading,
    assert_exact,
    assert_nothing_missing,
    booth,
    new_reading,
    wait_for_takes,
)
from tests.browser.tcp_line import tcp_line
from tests.stations_served import StationProcess, opened_station, station_process

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.long
MINUTES = 10
HOUR = 3_600 * RATE_HZ
# The worker as it is, fed by the port that the audio graph would feed, as fast as it takes it.
FEED = """async ([reading, samples]) => {
    const worker = new Worker('/static/scripts/audio/capture.worker.js', { type: 'module' })
    const waiting = new Map()
    let ids = 0
    let heard = 0
    window.fed = { standing: null }
    worker.onmessage = ({ data }) => {
        if (data.kind === 'done') waiting.get(data.id)(data.answer)
        if (data.kind === 'failed') throw new Error(data.sentence)
        if (data.kind === 'heard') heard = data.takeSamples
        if (data.kind === 'standing') window.fed.standing = data.detail
    }
    const ask = (asked, handed = []) => new Promise(done => {
        ids += 1
        waiting.set(ids, done)
        worker.postMessage({ ...asked, id: ids }, handed)
    })
    await ask({ kind: 'open', wire: '/stand/wire', origin: '', ...reading })
    const { port1, port2 } = new MessageChannel()
    const block = at => {
        const channel = Float32Array.from({ length: 1024 }, (_, n) => ((at + n) % 8000) / 8388608)
        port1.postMessage({ channels: [channel] }, [channel.buffer])
    }
    const source = { port: port2, rate: 44100, side: 'left', origin: '' }
    const listens = ask({ kind: 'listen-fallback', ...source }, [port2])
    block(0)
    await listens
    await ask({ kind: 'roll' })
    window.fed.run = async stop => {
        let at = heard
        while (at < stop) {
            for (let count = 0; count < 200; count += 1, at += 1024) block(at)
            const behind = () => at - heard > 500_000 || window.fed.standing?.queuedBytes > 4e6
            while (behind()) await new Promise(done => setTimeout(done, 5))
        }
        while (at - heard > 10_000) await new Promise(done => setTimeout(done, 5))
        return at
    }
    window.fed.hold = () => ask({ kind: 'hold' })
}"""


@pytest.fixture(scope="module")
def fed() -> NDArray[np.int32]:
    """Make what the microphone hears."""
    return noise(60.0 * MINUTES + 20.0, 6_010)


@pytest.fixture(scope="module")
def flags(fed: NDArray[np.int32], tmp_path_factory: pytest.TempPathFactory) -> tuple[str, ...]:
    """Give a browser that microphone."""
    path = tmp_path_factory.mktemp("microphone") / "left.wav"
    write_microphone(path, fed)
    return microphone_flags(path)


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Plan a station."""
    with opened_station(tmp_path / "station") as tools:
        yield tools


@pytest.fixture
def station(tools: Tools) -> Iterator[StationProcess]:
    """Run it."""
    with station_process(tools.data) as station:
        yield station


def read_minutes(page: Page) -> None:
    """Record for the whole time, a minute at once."""
    for minute in range(MINUTES):
        samples = (minute + 1) * 60 * RATE_HZ
        page.evaluate(
            "new Promise(done => { const timer = setInterval(() => {"
            f" if (stand.recorder.takeSamples >= {samples}) {{ clearInterval(timer); done() }}"
            "}, 100) })"
        )


def compare(reading: Reading, length: int, fed: NDArray[np.int32]) -> None:
    """Hold the one take against what was fed."""
    wait_for_takes(reading, 1)
    (take,) = reading.takes()
    assert len(take) == length >= 60 * MINUTES * RATE_HZ
    assert_exact(fed, take)
    assert_nothing_missing(reading)


def test_ten_minutes_are_exact(
    browser: Browser,
    flags: tuple[str, ...],
    station: StationProcess,
    tools: Tools,
    fed: NDArray[np.int32],
    tmp_path: Path,
) -> None:
    reading = new_reading(tools, "ten")
    with booth(browser, tmp_path / "booth", flags) as here:
        page = here.stand(station.address, reading)
        page.evaluate("stand.recorder.roll()")
        read_minutes(page)
        length = page.evaluate("stand.recorder.hold()")["samples"]
        page.evaluate(ALL_KEPT)
    compare(reading, length, fed)


def test_ten_minutes_without_network_all_go_up_afterwards(
    browser: Browser,
    flags: tuple[str, ...],
    station: StationProcess,
    tools: Tools,
    fed: NDArray[np.int32],
    tmp_path: Path,
) -> None:
    reading = new_reading(tools, "away")
    with booth(browser, tmp_path / "booth", flags) as here, tcp_line(station.port) as line:
        page = here.stand(line.address, reading)
        page.evaluate("stand.recorder.roll()")
        line.refuse()
        read_minutes(page)
        length = page.evaluate("stand.recorder.hold()")["samples"]
        line.let_pass()
        page.evaluate(ALL_KEPT)
    compare(reading, length, fed)


def test_an_hour_takes_no_more_memory_than_a_minute(
    browser: Browser,
    flags: tuple[str, ...],
    station: StationProcess,
    tools: Tools,
    tmp_path: Path,
) -> None:
    reading = new_reading(tools, "hour")
    with booth(browser, tmp_path / "booth", flags) as here:
        page = here.page(station.address)
        page.evaluate(FEED, [reading.given(), HOUR])
        sizes_kb = []
        fed_samples = 0
        for quarter in range(1, 5):
            fed_samples = page.evaluate(f"fed.run({quarter * HOUR // 4})")
            sizes_kb.append(sum(resident_kb(process) for process in here.family()))
        length = page.evaluate("fed.hold()")["samples"]
        assert length >= fed_samples - 1_024
        # The engine clears away when it likes, so that single figures go up and down by 60 MB.
        assert max(sizes_kb[2:]) - max(sizes_kb[:2]) < 60 * 1024, sizes_kb
        wait_for_takes(reading, 1)
    (take,) = reading.takes()
    assert len(take) == length


def resident_kb(process: int) -> int:
    """Give how much memory a process has that nothing else shares."""
    for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines():
        if line.startswith("Pss:"):
            return int(line.split()[1])
    return 0
