"""Repairs on a reading's page: before and now by button and by key, with what is heard spoken."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.browser.serving import served
from tests.browser.test_pages import overflow_px, until
from tests.repaired import repaired_station

if TYPE_CHECKING:
    from playwright.sync_api import Page

STATUS = "document.querySelector('#compared [role=status]').textContent"


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with repaired_station(tmp_path_factory.mktemp("station")) as tools, served(tools) as address:
        yield address


def test_a_key_changes_between_before_and_now(page: Page, station: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page.set_viewport_size({"width": 320, "height": 800})
    page.goto(f"{station}/reading/r7")
    page.click("#repairs ~ details summary")
    assert Axe().run(page).response["violations"] == []
    assert overflow_px(page) <= 0

    page.focus("#compared a[data-version=before]")
    page.keyboard.press("b")
    assert page.evaluate(STATUS) == ""
    page.keyboard.press("Enter")
    until(page, f"{STATUS} === 'Before is playing.'")
    page.keyboard.press("b")
    assert page.evaluate(STATUS) == "Now is playing."
    # Outside of the list it is a letter like any other.
    page.focus("#play")
    page.keyboard.press("b")
    assert page.evaluate(STATUS) == "Now is playing."
    until(page, f"{STATUS} === ''")


def test_what_cannot_be_played_is_told(page: Page, station: str) -> None:
    page.goto(f"{station}/reading/r7")
    page.click("#repairs ~ details summary")
    page.route("**/repairs/1/now", lambda route: route.fulfill(status=409))
    page.click("#compared a[data-version=now]")
    until(page, f"{STATUS}.startsWith('That cannot be played.')")
