"""A stand that records in a real browser: pages, what they are told, and what the station has."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.request import urlopen

import numpy as np
import soundfile as sf
from numpy.typing import NDArray
from websockets.sync.client import ClientConnection, connect

from quietleaf.booth.edits import Happening, SoundMissing
from quietleaf.storage.reading_folder import ReadingFolder, create_reading
from quietleaf.storage.reading_places import READINGS, place_of
from quietleaf.work.tools import Tools
from tests.browser.microphone import RATE_HZ, place_in
from tests.helpers import running_browser
from tests.readings import AT, FACTS
from tests.stations_served import new_pass
from tests.waiting import wait_for

if TYPE_CHECKING:
    from subprocess import Popen

    from playwright.sync_api import Browser, BrowserContext, Page

# A page of the station's own origin and policy, which does nothing of its own.
PATH = "/health"
GLUE = """async ([reading, side]) => {
    const { Recorder } = await import('/static/scripts/audio/recorder.js')
    const stand = { told: [], standing: null, heard: null }
    window.stand = stand
    // A page looks often, since a hidden one has no frames.
    stand.until = (holds) => new Promise((done, late) => {
        const end = performance.now() + 60_000
        const timer = setInterval(() => {
            if (!holds() && performance.now() < end) return
            clearInterval(timer)
            if (holds()) done(); else late(new Error('it never held: ' + holds))
        }, 10)
    })
    stand.recorder = await Recorder.open({ wire: '/stand/wire', origin: 'a test', ...reading })
    for (const name of ['missing', 'lost-device', 'ended', 'stopped', 'little-room', 'fallback']) {
        stand.recorder.addEventListener(name, ({ detail }) => stand.told.push({ name, ...detail }))
    }
    stand.recorder.addEventListener('standing', ({ detail }) => { stand.standing = detail })
    stand.recorder.addEventListener('heard', ({ detail }) => { stand.heard = detail })
    if (side === undefined) return
    const audio = { echoCancellation: false, noiseSuppression: false, autoGainControl: false }
    const media = await navigator.mediaDevices.getUserMedia({ audio })
    stand.track = media.getAudioTracks()[0]
    await stand.recorder.listen(stand.track, { side })
}"""
ALL_KEPT = "stand.until(() => stand.standing?.queuedBytes === 0)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A reading that a page records into."""

    tools: Tools
    folder: ReadingFolder
    place: str

    def given(self) -> dict[str, str]:
        """Give a page what it needs, with a pass of its own."""
        return {"pass": new_pass(self.tools, self.place), "place": self.place}

    def takes(self) -> list[NDArray[np.int32]]:
        """Give every take as it is on the station's disk."""
        folder = self.folder.reload()
        return [wave(folder.take_path(take.take)) for take in folder.takes()]

    def are_sealed(self, count: int) -> bool:
        """Say whether there are so many takes, and every one is complete."""
        takes = self.folder.reload().takes()
        return len(takes) == count and all(take.samples is not None for take in takes)

    def happened(self, kind: type[Happening]) -> list[Any]:
        """Give the ledger's entries of one kind."""
        return [edit.what for edit in self.folder.reload().ledger() if isinstance(edit.what, kind)]


def longest_missing(reading: Reading) -> SoundMissing | None:
    """Give the longest gap that the recorder found.

    On a busy machine the fake microphone itself comes late by some hundredths of a second now and
    then: the clock says so, and a real microphone would have lost as much.
    """
    gaps: list[SoundMissing] = reading.happened(SoundMissing)
    return max(gaps, key=lambda gap: gap.samples, default=None)


def assert_nothing_missing(reading: Reading) -> None:
    """Hold against the ledger that the recorder missed nothing worth a word."""
    longest = longest_missing(reading)
    assert longest is None or longest.samples < RATE_HZ // 2, longest


def new_reading(tools: Tools, name: str) -> Reading:
    """Make a reading that has nothing in it."""
    folder = create_reading(tools.data, replace(FACTS, reading_id=name), AT, "Ada")
    return Reading(tools=tools, folder=folder, place=place_of(READINGS, name))


def wave(path: Path) -> NDArray[np.int32]:
    """Read a take, in steps of 24 bits."""
    samples, _ = sf.read(path, dtype="int32")
    steps: NDArray[np.int32] = samples >> 8
    return steps


def assert_exact(fed: NDArray[np.int32], take: NDArray[np.int32]) -> int:
    """Hold a take against what the microphone was fed, sample for sample; say where it begins."""
    at = place_in(fed, take)
    expected = fed[at : at + len(take)]
    assert len(expected) == len(take), "the microphone's file is too short for this test"
    wrong = np.flatnonzero(expected != take)
    assert not len(wrong), f"{len(wrong)} samples differ, the first at {wrong[0]}"
    return at


@dataclass(slots=True, kw_only=True)
class Booth:
    """A browser of its own, with a file for a microphone, and the usual permissions."""

    process: Popen[bytes]
    context: BrowserContext
    control: str
    errors: list[str] = field(default_factory=list)

    def page(self, address: str) -> Page:
        """Open a page that can record."""
        page = self.context.new_page()
        page.on("pageerror", lambda fault: self.errors.append(str(fault)))
        page.goto(f"{address}{PATH}")
        return page

    def stand(self, address: str, reading: Reading, side: str | None = "left") -> Page:
        """Open a page that listens, held."""
        page = self.page(address)
        page.evaluate(GLUE, [reading.given(), side])
        return page

    def family(self) -> list[int]:
        """Give the numbers of all its processes."""
        parents = {}
        for folder in Path("/proc").iterdir():
            if folder.name.isdigit():
                try:
                    status = (folder / "stat").read_text()
                except OSError:
                    continue  # it has ended meanwhile
                parents[int(folder.name)] = int(status.rpartition(")")[2].split()[1])
        found = [self.process.pid]
        for process in found:
            found += [child for child, parent in parents.items() if parent == process]
        return found

    def signal(self, number: int) -> None:
        """Send a signal to all its processes."""
        for process in self.family():
            os.kill(process, number)


@contextmanager
def booth(driver: Browser, profile: Path, flags: tuple[str, ...]) -> Iterator[Booth]:
    """Run a browser whose first context is the usual one: permissions and files are kept."""
    # One that was killed leaves the number of its port behind.
    (profile / "DevToolsActivePort").unlink(missing_ok=True)
    with running_browser(profile, flags=flags) as (process, control):
        connected = driver.browser_type.connect_over_cdp(control)
        made = Booth(process=process, context=connected.contexts[0], control=control)
        yield made
        if connected.is_connected():
            connected.close()
        assert made.errors == []


def read_on(page: Page, samples: int) -> None:
    """Wait until the present take has so many samples."""
    page.evaluate(f"stand.until(() => stand.recorder.takeSamples >= {samples})")


def leave(page: Page) -> None:
    """Wait until the station has everything, and close the page."""
    page.evaluate(ALL_KEPT)
    page.close()


class RawPage:
    """A page that no driver looks after: it can be hidden, which a driver's pages never are."""

    def __init__(self, line: ClientConnection, url: str) -> None:
        self._line = line
        self._number = 0
        self._page = ""
        target = self._ask("Target.createTarget", {"url": url})["targetId"]
        self.target = target
        asked = {"targetId": target, "flatten": True}
        self._page = self._ask("Target.attachToTarget", asked)["sessionId"]

    def is_loaded(self, url: str) -> bool:
        """Say whether it shows what was asked for."""
        looked = self._told("Runtime.evaluate", {"expression": "location + document.readyState"})
        # At first it has nowhere to evaluate anything.
        value: str = looked.get("result", {}).get("result", {}).get("value", "")
        return value == f"{url}complete"

    def evaluate(self, expression: str) -> Any:
        """Evaluate, and wait for what it promises."""
        asked = {"expression": expression, "awaitPromise": True, "returnByValue": True}
        told = self._ask("Runtime.evaluate", asked)
        assert "exceptionDetails" not in told, told
        return told["result"].get("value")

    def hide(self) -> None:
        """Put its window away."""
        page, self._page = self._page, ""
        window = self._ask("Browser.getWindowForTarget", {"targetId": self.target})["windowId"]
        away = {"windowId": window, "bounds": {"windowState": "minimized"}}
        self._ask("Browser.setWindowBounds", away)
        self._page = page

    def _ask(self, method: str, members: dict[str, Any]) -> Any:
        told = self._told(method, members)
        assert "error" not in told, told
        return told["result"]

    def _told(self, method: str, members: dict[str, Any]) -> dict[str, Any]:
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": members}
        if self._page:
            message["sessionId"] = self._page
        self._line.send(json.dumps(message))
        while True:
            told: dict[str, Any] = json.loads(self._line.recv(60))
            if told.get("id") == self._number:
                return told


@contextmanager
def raw_page(control: str, url: str) -> Iterator[RawPage]:
    """Open a page by the browser's own line."""
    with urlopen(f"{control}/json/version") as answer:
        address = json.load(answer)["webSocketDebuggerUrl"]
    with connect(address, max_size=None) as line:
        page = RawPage(line, url)
        wait_for(lambda: page.is_loaded(url))
        yield page


def wait_for_takes(reading: Reading, count: int) -> None:
    """Wait until the station has so many takes, all of them complete."""
    wait_for(lambda: reading.are_sealed(count))
