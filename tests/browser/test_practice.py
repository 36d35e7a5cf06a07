"""A first visit in a real browser with a fed microphone: read, heard, and gone everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.web import practice_pages
from quietleaf.work.tools import Tools
from tests.browser.microphone import SCALE, microphone_flags, write_microphone
from tests.browser.serving import served
from tests.finished import example_station
from tests.helpers import running_browser
from tests.voices import Made
from tests.waiting import wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ROLLING = "You are being recorded."
JOURNALS = """async () => {
    const root = await navigator.storage.getDirectory()
    const names = []
    try {
        const journals = await root.getDirectoryHandle('journals')
        for await (const name of journals.keys()) names.push(name)
    } catch { /* nothing was ever recorded */ }
    return names
}"""


def microphone(path: Path) -> tuple[str, ...]:
    """Make a microphone into which somebody speaks without an end, sentence after sentence."""
    made = Made(seed=5, room_dbov=-68.0)
    for _ in range(20):
        made.pause(0.5)
        made.speech(2.0)
    write_microphone(path, np.round(made.samples() * SCALE).astype(np.int32))
    return tuple(flag.removesuffix("%noloop") for flag in microphone_flags(path))


def practice_folders(tools: Tools) -> list[Path]:
    """Give the folders of practice readings."""
    return list((tools.data / "practice" / "readings").glob("*/*"))


def roll_for_a_while(page: Page, tools: Tools, key: str = "Space") -> None:
    """Roll, let something be kept by the station, and hold."""
    (path,) = practice_folders(tools)
    before = len(ReadingFolder(path).takes())
    page.keyboard.press(key)
    page.locator("#state", has_text=ROLLING).wait_for()

    def kept() -> bool:
        folder = ReadingFolder(path)
        takes = len(folder.takes())
        return takes > before and folder.take_path(takes).stat().st_size > 350_000

    wait_for(kept)
    page.keyboard.press(key)
    page.locator("#state", has_text="Held.").wait_for()


def test_a_first_visit_by_keyboard_alone(browser: Browser, tmp_path: Path) -> None:
    tools = example_station(tmp_path / "station")
    flags = microphone(tmp_path / "microphone.wav")
    with (
        tools.database,
        served(tools) as address,
        running_browser(tmp_path / "browser", flags=flags) as (_, port),
    ):
        own = browser.browser_type.connect_over_cdp(port)
        page = own.new_context(locale="en-GB").new_page()
        page.goto(f"{address}/practice")
        page.get_by_role("button", name="Begin the practice reading").press("Enter")
        page.wait_for_url("**/stand/room")
        page.get_by_role("button", name="Go on without a room check").press("Enter")
        page.wait_for_url("**/stand/reading")
        page.locator("[data-phase=held]").wait_for()
        page.get_by_text("The reader is (say your name).").wait_for()
        roll_for_a_while(page, tools)
        roll_for_a_while(page, tools)
        page.get_by_role("button", name="See how it went").press("Enter")
        page.wait_for_url("**/practice/feedback")
        page.get_by_text("You held once and went on.").wait_for(timeout=60_000)
        page.locator("#verdict", has_text="You were heard").wait_for(timeout=60_000)
        page.get_by_role("button", name="Delete it and leave").press("Enter")
        page.wait_for_url("**/practice/gone")
        # Nothing of it is left: not at the station, not in the browser.
        assert practice_folders(tools) == []
        assert [path for path in (tools.data / "practice").rglob("*") if path.is_file()] == []
        assert tools.database.readings() == ()
        wait_for(lambda: page.evaluate(JOURNALS) == [])
        own.close()


def test_a_try_out_is_gone_when_its_page_is_closed(
    browser: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tools = example_station(tmp_path / "station")
    flags = microphone(tmp_path / "microphone.wav")
    with (
        tools.database,
        served(tools) as address,
        running_browser(tmp_path / "browser", flags=flags) as (_, port),
    ):
        own = browser.browser_type.connect_over_cdp(port)
        context = own.new_context(locale="en-GB")
        page = context.new_page()
        page.goto(f"{address}/practice")
        page.get_by_role("button", name="Try it with your own voice").press("Enter")
        page.wait_for_url("**/stand/room")
        page.get_by_role("button", name="Go on without a room check").press("Enter")
        page.wait_for_url("**/stand/reading")
        page.locator("[data-phase=held]").wait_for()
        roll_for_a_while(page, tools)
        monkeypatch.setattr(practice_pages, "GRACE_S", 0.0)
        page.close()
        wait_for(lambda: practice_folders(tools) == [])
        # What this browser had of it goes at the next visit.
        page = context.new_page()
        page.goto(f"{address}/practice")
        wait_for(lambda: page.evaluate(JOURNALS) == [])
        own.close()
