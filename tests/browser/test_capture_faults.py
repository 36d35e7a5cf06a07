"""What goes wrong around a recording costs nothing of it: station, line, browser, tabs, device."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.storage.tokens import sha256_of
from quietleaf.work.tools import Tools
from tests.browser.microphone import RATE_HZ, microphone_flags, noise, write_microphone
from tests.browser.recording import (
    ALL_KEPT,
    GLUE,
    Booth,
    Reading,
    assert_exact,
    assert_nothing_missing,
    booth,
    leave,
    new_reading,
    read_on,
    wait_for_takes,
)
from tests.browser.tcp_line import TcpLine, tcp_line
from tests.stations_served import StationProcess, new_pass, opened_station, station_process
from tests.waiting import wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SEED = 1_125
CHUNK = 2_048
JOURNALS = """async () => {
    const root = await navigator.storage.getDirectory()
    const journals = await root.getDirectoryHandle('journals', { create: true })
    const names = []
    for await (const name of journals.keys()) names.push(name)
    return names
}"""

CUT = """async ([journal, bytes]) => {
    const root = await navigator.storage.getDirectory()
    const journals = await root.getDirectoryHandle('journals')
    const folder = await journals.getDirectoryHandle(journal)
    let last = null
    for await (const [name, file] of folder.entries()) {
        if (name.endsWith('.records') && (await file.getFile()).size > 0) {
            if (last === null || name > last.name) last = file
        }
    }
    const { size } = await last.getFile()
    const out = await last.createWritable({ keepExistingData: true })
    await out.truncate(size - bytes)
    await out.close()
}"""


@pytest.fixture(scope="module")
def fed() -> NDArray[np.int32]:
    """Make what the microphone hears on its right side alone."""
    return noise(40.0, SEED)


@pytest.fixture(scope="module")
def flags(fed: NDArray[np.int32], tmp_path_factory: pytest.TempPathFactory) -> tuple[str, ...]:
    """Give a browser that microphone."""
    path = tmp_path_factory.mktemp("microphone") / "right.wav"
    write_microphone(path, np.zeros_like(fed), fed)
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
def line(station: StationProcess) -> Iterator[TcpLine]:
    """Lead to it by a line that can fail."""
    with tcp_line(station.port) as line:
        yield line


@pytest.fixture(scope="module")
def here(
    browser: Browser, flags: tuple[str, ...], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Booth]:
    """Run a browser that hears."""
    with booth(browser, tmp_path_factory.mktemp("booth"), flags) as here:
        yield here


def hold_and_compare(page: Page, reading: Reading, fed: NDArray[np.int32]) -> int:
    """Hold, and compare the one take that the station has with what was fed."""
    length: int = page.evaluate("stand.recorder.hold()")["samples"]
    page.evaluate(ALL_KEPT)
    wait_for_takes(reading, 1)
    (take,) = reading.takes()
    assert len(take) == length
    assert_exact(fed, take)
    assert_nothing_missing(reading)
    return length


def give_pass(page: Page, tools: Tools, reading: Reading) -> None:
    """Let the page ask for another pass, as a reader who sits here may."""
    page.route(
        "**/stand/pass",
        lambda route: route.fulfill(json={"pass": new_pass(tools, reading.place)}),
    )


def test_the_side_that_has_the_microphone_is_found(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "right")
    page = here.stand(station.address, reading, side=None)
    page.evaluate("stand.until(() => stand.heard !== null)")
    page.evaluate("stand.recorder.roll()")
    read_on(page, 30_000)
    hold_and_compare(page, reading, fed)
    assert page.evaluate("stand.recorder.sides") == ["left", "right"]
    page.close()


def test_a_station_that_is_killed_gets_all_of_it(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "killed")
    page = here.stand(station.address, reading, "right")
    page.evaluate("stand.recorder.roll()")
    for samples in (40_000, 120_000):
        read_on(page, samples)
        station.kill()
        page.evaluate("stand.until(() => stand.standing.station === 'away')")
        assert page.evaluate("stand.standing.behindS") > 0
        station.start()
        page.evaluate("stand.until(() => stand.standing.station === 'well')")
    hold_and_compare(page, reading, fed)
    page.close()


def test_without_network_it_rolls_holds_and_marks(
    here: Booth, line: TcpLine, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "away")
    page = here.stand(line.address, reading, "right")
    line.refuse()
    page.evaluate("stand.until(() => stand.standing.station === 'away')")
    lengths = []
    for _ in range(2):
        page.evaluate("stand.recorder.roll()")
        read_on(page, 40_000)
        page.evaluate("stand.recorder.markArticle('')")
        lengths.append(page.evaluate("stand.recorder.hold()")["samples"])
    page.evaluate("stand.until(() => stand.standing.behindS > 1.5)")
    assert reading.takes() == []
    line.let_pass()
    wait_for_takes(reading, 2)
    takes = reading.takes()
    assert [len(take) for take in takes] == lengths
    for take in takes:
        assert_exact(fed, take)
    leave(page)


def test_a_line_that_swallows_everything_is_found_out(
    here: Booth, line: TcpLine, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "hole")
    page = here.stand(line.address, reading, "right")
    page.evaluate("stand.recorder.roll()")
    read_on(page, 40_000)
    line.swallow()
    page.evaluate("stand.until(() => stand.standing.station === 'away')")
    line.let_pass()
    page.evaluate("stand.until(() => stand.standing.station === 'well')")
    hold_and_compare(page, reading, fed)
    page.close()


def test_a_killed_browser_costs_less_than_a_chunk(
    browser: Browser,
    flags: tuple[str, ...],
    line: TcpLine,
    tools: Tools,
    fed: NDArray[np.int32],
    tmp_path: Path,
) -> None:
    reading = new_reading(tools, "browser")
    with booth(browser, tmp_path / "profile", flags) as first:
        page = first.stand(line.address, reading, "right")
        line.refuse()
        page.evaluate("stand.recorder.roll()")
        read_on(page, 100_000)
        told = page.evaluate("stand.recorder.takeSamples")
        first.process.kill()
        first.process.wait()
    line.let_pass()
    with booth(browser, tmp_path / "profile", flags) as again:
        page = again.page(line.address)
        page.evaluate(GLUE, [{"pass": None, "place": reading.place}, None])
        wait_for_takes(reading, 1)
        page.evaluate(ALL_KEPT)
        wait_for(lambda: page.evaluate(JOURNALS) == [])
    (take,) = reading.takes()
    assert len(take) >= told - CHUNK
    assert_exact(fed, take)


@pytest.mark.parametrize("is_ahead", [False, True], ids=["torn", "station-ahead"])
def test_a_journal_that_lost_its_end_goes_up_as_far_as_it_is_whole(
    here: Booth, line: TcpLine, tools: Tools, fed: NDArray[np.int32], is_ahead: bool
) -> None:
    reading = new_reading(tools, f"torn-{is_ahead:d}")
    page = here.page(line.address)
    before = set(page.evaluate(JOURNALS))
    page.evaluate(GLUE, [reading.given(), "right"])
    (journal,) = set(page.evaluate(JOURNALS)) - before
    if not is_ahead:
        line.refuse()
    page.evaluate("stand.recorder.roll()")
    read_on(page, 80_000)
    least = page.evaluate("stand.recorder.takeSamples") - 2 * CHUNK
    if is_ahead:
        page.evaluate("stand.until(() => stand.standing.keptS > 1.7)")
        least = round(1.7 * RATE_HZ)
    page.close()
    line.let_pass()
    page = here.page(line.address)
    lost = 60_000 if is_ahead else 100
    # As a power cut may leave it: cut in the middle of a record.
    page.evaluate(CUT, [journal, lost])
    page.evaluate(GLUE, [{"pass": None, "place": reading.place}, None])
    wait_for_takes(reading, 1)
    (take,) = reading.takes()
    assert len(take) >= least
    assert_exact(fed, take)
    leave(page)


def test_a_second_tab_is_told_and_may_take_over(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "tabs")
    first = here.stand(station.address, reading, "right")
    first.evaluate("stand.recorder.roll()")
    read_on(first, 30_000)
    second = here.stand(station.address, reading, "right")
    second.evaluate("stand.until(() => stand.standing?.station === 'busy')")
    assert "another tab" in second.evaluate("stand.recorder.roll().catch(why => why.message)")
    give_pass(second, tools, reading)
    second.evaluate("stand.recorder.takeOver()")
    first.evaluate("stand.until(() => stand.standing.station === 'superseded')")
    assert not first.evaluate("stand.recorder.rolling")
    assert [told["name"] for told in first.evaluate("stand.told")] == ["stopped"]
    second.evaluate("stand.until(() => stand.standing.station === 'well')")
    second.evaluate("stand.recorder.roll()")
    read_on(second, 30_000)
    second.evaluate("stand.recorder.hold()")
    wait_for_takes(reading, 2)
    for take in reading.takes():
        assert_exact(fed, take)
    first.close()
    leave(second)


def test_another_browser_is_told_and_may_take_over(
    browser: Browser,
    here: Booth,
    station: StationProcess,
    flags: tuple[str, ...],
    tools: Tools,
    fed: NDArray[np.int32],
    tmp_path: Path,
) -> None:
    reading = new_reading(tools, "browsers")
    first = here.stand(station.address, reading, "right")
    first.evaluate("stand.recorder.roll()")
    read_on(first, 20_000)
    with booth(browser, tmp_path / "profile", flags) as there:
        second = there.stand(station.address, reading, "right")
        second.evaluate("stand.until(() => stand.standing?.station === 'busy')")
        assert "Ada" in second.evaluate("stand.standing.sentence")
        give_pass(second, tools, reading)
        second.evaluate("stand.recorder.takeOver()")
        first.evaluate("stand.until(() => stand.standing.station === 'superseded')")
        first.evaluate("stand.until(() => !stand.recorder.rolling)")
        second.evaluate("stand.until(() => stand.standing.station === 'well')")
        second.evaluate("stand.recorder.roll()")
        read_on(second, 20_000)
        second.evaluate("stand.recorder.hold()")
        second.evaluate(ALL_KEPT)
        second.close()
    for take in reading.takes():
        assert_exact(fed, take)
    leave(first)


@pytest.mark.parametrize("way", ["ended", "unlisted"])
def test_a_microphone_that_goes_away_is_told(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32], way: str
) -> None:
    reading = new_reading(tools, f"gone-{way}")
    page = here.stand(station.address, reading, "right")
    page.evaluate("stand.recorder.roll()")
    read_on(page, 20_000)
    if way == "ended":
        page.evaluate("{ stand.track.dispatchEvent(new Event('ended')) }")
    else:
        page.evaluate("{ navigator.mediaDevices.enumerateDevices = async () => [] }")
    page.evaluate("stand.until(() => stand.told.some(({ name }) => name === 'lost-device'))")
    wait_for_takes(reading, 1)
    (take,) = reading.takes()
    assert len(take) >= 20_000
    assert_exact(fed, take)
    leave(page)


def test_a_stream_that_ends_seals_the_take(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "stopped")
    page = here.stand(station.address, reading, "right")
    page.evaluate("stand.recorder.roll()")
    read_on(page, 20_000)
    page.evaluate("{ stand.track.stop() }")
    page.evaluate("stand.until(() => stand.told.some(({ name }) => name === 'ended'))")
    assert not page.evaluate("stand.recorder.rolling")
    wait_for_takes(reading, 1)
    assert_exact(fed, reading.takes()[0])
    leave(page)


def test_a_full_store_is_told_and_the_station_gets_all(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "full")
    page = here.page(station.address)
    control = here.context.new_cdp_session(page)
    small = {"origin": station.address, "quotaSize": 1_000_000}
    control.send("Storage.overrideQuotaForOrigin", small)
    try:
        page.evaluate(GLUE, [reading.given(), "right"])
        page.evaluate("stand.until(() => stand.told.some(({ name }) => name === 'little-room'))")
        page.evaluate("stand.recorder.roll()")
        read_on(page, 60_000)
        hold_and_compare(page, reading, fed)
    finally:
        control.send("Storage.overrideQuotaForOrigin", {"origin": station.address})
    page.close()


def test_a_pass_that_opens_nothing_keeps_the_sound_here_but_practice_goes(
    here: Booth, station: StationProcess, line: TcpLine, tools: Tools
) -> None:
    reading = new_reading(tools, "refused")
    page = here.page(line.address)
    before = set(page.evaluate(JOURNALS))
    left: list[str] = []
    for place in (reading.place, "practice:gone"):
        page.reload()
        secret = new_pass(tools, reading.place)
        page.evaluate(GLUE, [{"pass": secret, "place": place}, "right"])
        line.refuse()
        page.evaluate("stand.recorder.roll()")
        read_on(page, 10_000)
        page.evaluate("stand.recorder.hold()")
        (journal,) = set(page.evaluate(JOURNALS)) - before - set(left)
        left.append(journal)
        tools.database.end_token(sha256_of(secret), tools.clock())
        line.let_pass()
        page.evaluate("stand.until(() => stand.standing.station === 'refused')")
        refusal = page.evaluate("stand.recorder.roll().catch(why => why.message)")
        assert "come in again" in refusal.lower()
    page.reload()
    page.evaluate(GLUE, [{"pass": None, "place": reading.place}, None])
    wait_for(lambda: left[1] not in page.evaluate(JOURNALS))
    assert left[0] in page.evaluate(JOURNALS)
    assert reading.takes() == []
    page.close()


def test_a_browser_without_the_exact_way_says_so(
    here: Booth, station: StationProcess, tools: Tools, fed: NDArray[np.int32]
) -> None:
    reading = new_reading(tools, "fallback")
    page = here.page(station.address)
    page.evaluate("{ delete window.MediaStreamTrackProcessor }")
    page.evaluate(GLUE, [reading.given(), "right"])
    page.evaluate("stand.recorder.roll()")
    read_on(page, RATE_HZ)
    page.evaluate("stand.recorder.hold()")
    wait_for_takes(reading, 1)
    assert [told["name"] for told in page.evaluate("stand.told")] == ["fallback"]
    (take,) = reading.folder.reload().takes()
    assert take.origin == "a test, through the audio graph, which can lose single blocks"
    # Whole blocks may go or come twice; what there is of them is what was fed.
    (sound,) = reading.takes()
    (a, b, c), (x, y, z) = (
        (every[:-2].tolist(), every[1:-1].tolist(), every[2:].tolist()) for every in (fed, sound)
    )
    there = set(zip(a, b, c, strict=True))
    assert np.mean([three in there for three in zip(x, y, z, strict=True)]) > 0.9
    leave(page)
