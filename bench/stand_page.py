"""An hour on the stand's page: what it weighs and what drawing costs, at its start and at its end.

The page is fed what a recorder tells ten times a second, as fast as it takes it, with holds, new
articles and a station that falls behind and catches up.

Asked for: memory at the end at most 1.1 times that after a sixth of the time, no more parts on the
page, and the last sixth drawn in at most 1.2 times the time of the first.
"""

from __future__ import annotations

import os
import statistics
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bench.measure import machine
from tests.browser.standing import at_the_stand, without_sound
from tests.helpers import find_node, running_browser

if TYPE_CHECKING:
    from playwright.sync_api import CDPSession, Page

PARTS = 6
HELD_EVERY_S = 90
MEMORY_RATIO_MOST = 1.1
COST_RATIO_MOST = 1.2
# What the recorder tells, from one second of what was rolled to another; gives milliseconds.
_FEED = """([from, to]) => {
    const begun = performance.now()
    for (let tenth = Math.round(10 * from); tenth < 10 * to; tenth += 1) {
        recorder.hear(tenth / 10, {speaking: tenth % 50 < 35})
        if (tenth % 3 === 0) {
            const behindS = 0.3 + (tenth % 70) / 100
            recorder.tell('standing', {station: tenth % 9000 < 300 ? 'away' : 'well',
                sentence: '', behindS, keptS: tenth / 10, queuedBytes: 90000})
        }
    }
    return performance.now() - begun
}"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What was measured, part by part of the time.

    Attributes
    ----------
    heap_mb : tuple of float
        The scripts' memory after each part, when all that is free was given back.
    nodes : tuple of int
        Parts of the page and texts in them, then too.
    cost_ms : tuple of float
        What a second of reading cost to draw.
    """

    version: str
    length_s: float
    heap_mb: tuple[float, ...]
    nodes: tuple[int, ...]
    cost_ms: tuple[float, ...]

    @property
    def memory_ratio(self) -> float:
        """Memory at the end over memory after the first part."""
        return self.heap_mb[-1] / self.heap_mb[0]

    @property
    def cost_ratio(self) -> float:
        """Drawing of the last part over that of the first."""
        return self.cost_ms[-1] / self.cost_ms[0]


def measure(folder: Path, length_s: float = 3600.0, rounds: int = 1) -> Figures:
    """Measure with reading of some length; more rounds read on in the same page."""
    os.environ["PLAYWRIGHT_NODEJS_PATH"] = str(find_node())
    from playwright.sync_api import sync_playwright

    with (
        at_the_stand(folder / "station") as at,
        running_browser(folder / "browser") as (_, address),
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.connect_over_cdp(address)
        page = at.context(browser).new_page()
        without_sound(page)
        page.goto(f"{at.address}/stand/reading")
        page.locator("[data-phase=held]").wait_for()
        figures = _read(page, length_s, PARTS * rounds, f"Chromium {browser.version}, {machine()}")
        browser.close()
    return figures


def _read(page: Page, length_s: float, parts: int, version: str) -> Figures:
    control = page.context.new_cdp_session(page)
    page.keyboard.press("Space")
    page.locator("[data-phase=rolling]").wait_for()
    # Once before it counts: what is made at first use is made.
    page.evaluate(_FEED, [0, 20])
    heap_mb: list[float] = []
    nodes: list[int] = []
    cost_ms: list[float] = []
    for part in range(parts):
        start_s, stop_s = 20 + part * length_s / PARTS, 20 + (part + 1) * length_s / PARTS
        costs_ms, at_s = [], start_s
        while at_s < stop_s:
            to_s = min(stop_s, at_s + HELD_EVERY_S)
            costs_ms.append(page.evaluate(_FEED, [at_s, to_s]) / (to_s - at_s))
            _turn_the_page(page)
            at_s = to_s
        # The machine has other work now and then: the middle one of the stretches.
        cost_ms.append(statistics.median(costs_ms))
        weight = _weigh(control)
        heap_mb.append(weight["usedSize"] / 1e6)
        nodes.append(weight["nodes"])
    return Figures(
        version=version,
        length_s=length_s * parts / PARTS,
        heap_mb=tuple(heap_mb),
        nodes=tuple(nodes),
        cost_ms=tuple(cost_ms),
    )


def _turn_the_page(page: Page) -> None:
    for key, reached in (("Space", "held"), ("n", "held"), ("Space", "rolling")):
        page.keyboard.press(key)
        page.locator(f"[data-phase={reached}]").wait_for()
    page.evaluate("recorder.asked.splice(0)")  # the bench's own notes are not the page's


def _weigh(control: CDPSession) -> dict[str, Any]:
    control.send("HeapProfiler.collectGarbage")
    return control.send("Runtime.getHeapUsage") | control.send("Memory.getDOMCounters")


def report(figures: Figures) -> list[str]:
    """Set the figures as lines."""
    return [
        f"stand: {figures.version}; {figures.length_s / 60:.0f} minutes of reading",
        "  memory       " + "  ".join(f"{heap:.2f}" for heap in figures.heap_mb) + " MB",
        f"  ratio        {figures.memory_ratio:6.3f}     asked for: {MEMORY_RATIO_MOST} at most",
        "  page         " + "  ".join(str(count) for count in figures.nodes) + " parts",
        "  drawing      "
        + "  ".join(f"{cost:.3f}" for cost in figures.cost_ms)
        + " ms a second of reading",
        f"  ratio        {figures.cost_ratio:6.3f}     asked for: {COST_RATIO_MOST} at most",
    ]
