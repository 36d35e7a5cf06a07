"""Whoever leaves the stand in the middle of a take hands in all that was said."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.browser.microphone import SCALE, microphone_flags, noise, place_in, write_microphone
from tests.browser.standing import at_the_stand
from tests.helpers import running_browser
from tests.waiting import wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser


def test_the_page_of_handing_in_sends_what_the_stand_left(browser: Browser, tmp_path: Path) -> None:
    fed = noise(40.0, seed=3)
    write_microphone(tmp_path / "microphone.wav", fed)
    flags = microphone_flags(tmp_path / "microphone.wav")
    with (
        at_the_stand(tmp_path / "station") as at,
        running_browser(tmp_path / "browser", flags=flags) as (_, port),
    ):
        own = browser.browser_type.connect_over_cdp(port)
        page = at.context(own).new_page()
        page.goto(f"{at.address}/stand/reading")
        page.locator("[data-phase=held]").wait_for()
        page.keyboard.press("Space")
        page.locator("#state", has_text="You are being recorded.").wait_for()

        def arrived() -> int:
            folder = at.folder.reload()
            return folder.take_path(1).stat().st_size if folder.takes() else 0

        wait_for(lambda: arrived() > 300_000)
        page.goto(f"{at.address}/stand/hand-in")
        page.locator("#copy", has_text="in one take, complete.").wait_for(timeout=60_000)
        page.get_by_role("button", name="Hand it in").press("Enter")
        page.wait_for_url("**/stand/receipt")
        folder = at.folder.reload()
        assert folder.state == "handed in"
        (take,) = folder.takes()
        with folder.open_take(1) as sound:
            kept = np.round(sound.read(0, sound.info.frames).reshape(-1) * SCALE).astype(np.int32)
        starts = place_in(fed, kept)
        np.testing.assert_array_equal(kept, fed[starts : starts + kept.size])
        assert take.samples == kept.size > 100_000
        own.close()
