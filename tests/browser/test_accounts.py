"""Accounts in a real browser: the first steward by keyboard alone, and axe on every page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from quietleaf.storage import passwords
from quietleaf.storage.one_time_codes import code_of_step, step_at
from quietleaf.work.accounts import add_account
from tests.browser.serving import served
from tests.browser.test_pages import LOOKS_AT_MANY, overflow_px, tab_to
from tests.browser.test_plan import axe_findings
from tests.finished import NOW, example_station

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PASSWORD = "four quiet leaves fall"
PATHS = [
    "/account",
    "/accounts",
    "/accounts/new",
    "/accounts/Ida%20Marsh",
    "/accounts/deeds",
    "/account/tokens",
    "/people",
    "/people/Ada%20Fenwick",
    "/plan",
    "/",
]


@pytest.fixture
def station(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Serve the example, which has no accounts."""
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    tools = example_station(tmp_path)
    with tools.database, served(tools) as address:
        yield address


@pytest.fixture
def station_of_ida(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Serve the example, which has a steward."""
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    tools = example_station(tmp_path)
    add_account("Ida Marsh", ["steward"], PASSWORD, tools)
    with tools.database, served(tools) as address:
        yield address


def sign_in(page: Page, name: str = "Ida Marsh") -> None:
    page.locator("#name").fill(name)
    page.locator("#password").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.locator(".signed-in").wait_for()


def test_the_first_steward_comes_by_keyboard_alone(page: Page, station: str) -> None:
    page.goto(f"{station}/plan")
    tab_to(page, "Accounts")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Accounts").wait_for()
    tab_to(page, "Add an account")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="The first account").wait_for()
    page.locator("#name").focus()
    page.keyboard.type("Ida Marsh")
    page.keyboard.press("Tab")
    page.keyboard.type("short")
    page.keyboard.press("Enter")
    assert page.locator("#password-refusal").inner_text().startswith("A password has 12 to 128")
    assert page.evaluate("document.activeElement.id") == "password"
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Sign in").wait_for()
    page.locator("#name").focus()
    page.keyboard.type("ida marsh")
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.locator(".signed-in", has_text="Ida Marsh").wait_for()
    tab_to(page, "Sign out")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Sign in").wait_for()
    page.goto(f"{station}/plan")
    page.get_by_role("heading", name="Sign in").wait_for()


def test_a_second_factor_is_set_up_by_keyboard_alone(page: Page, station_of_ida: str) -> None:
    page.goto(f"{station_of_ida}/sign-in")
    sign_in(page)
    page.goto(f"{station_of_ida}/account")
    page.locator("#again").focus()
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("img", name="A picture for the telephone").wait_for()
    secret = page.locator(".letters").inner_text().replace(" ", "")
    page.get_by_label("The six figures that the telephone shows now").focus()
    page.keyboard.type("000000")
    page.keyboard.press("Enter")
    page.locator("#code-refusal").wait_for()
    assert page.evaluate("document.activeElement.id") == "code"
    page.keyboard.type(code_of_step(secret, step_at(NOW.timestamp())))
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Your recovery codes").wait_for()
    recovery = page.locator(".codes li").first.inner_text()
    tab_to(page, "Sign out")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Sign in").wait_for()
    page.locator("#name").fill("Ida Marsh")
    page.locator("#password").fill(PASSWORD)
    page.get_by_label("Code").focus()
    page.keyboard.type(recovery)
    page.keyboard.press("Enter")
    page.locator(".signed-in", has_text="Ida Marsh").wait_for()


def test_a_token_is_made_and_ended_by_keyboard_alone(page: Page, station_of_ida: str) -> None:
    page.goto(f"{station_of_ida}/account/tokens")
    sign_in(page)
    for label, typed in (("Which program has it", "Rota sheet"), ("Your password, once more", "x")):
        page.get_by_label(label).focus()
        page.keyboard.type(typed)
    page.get_by_label("See: days").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    # What was wrong is said at its field, which has the focus; the rest is as it was typed.
    page.get_by_text("This is not the password").wait_for()
    assert page.evaluate("document.activeElement.id") == "again"
    assert page.get_by_label("See: days").is_checked()
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.locator(".secret").wait_for()
    assert axe_findings(page) == []
    page.reload()  # the same form sent again makes no second one
    assert page.get_by_text("has a token Rota sheet already").count() == 1
    page.get_by_role("button", name="End it : Rota sheet").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/account/tokens")
    page.get_by_text("never used").wait_for()
    assert page.get_by_role("button", name="End it").count() == 0


@pytest.mark.parametrize("look", LOOKS_AT_MANY, ids=lambda look: " ".join(look.values()))
def test_axe_finds_nothing(
    browser: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, look: dict[str, Any]
) -> None:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    tools = example_station(tmp_path)
    with tools.database, served(tools) as station:
        context = browser.new_context(bypass_csp=True, **look)
        page = context.new_page()
        page.goto(f"{station}/sign-in")
        assert axe_findings(page) == []
        add_account("Ida Marsh", ["desk", "steward"], PASSWORD, tools)
        page.goto(f"{station}/sign-in")
        page.locator("#name").fill("Nobody")
        page.keyboard.press("Enter")
        page.locator(".refusal").wait_for()
        assert axe_findings(page) == []
        sign_in(page)
        for width in (1280, 320):
            page.set_viewport_size({"width": width, "height": 800})
            for path in PATHS:
                page.goto(station + path)
                assert axe_findings(page) == []
                assert overflow_px(page) <= 0
            page.goto(f"{station}/account")
            page.locator("#again").fill(PASSWORD)
            page.keyboard.press("Enter")
            page.locator(".letters").wait_for()
            assert axe_findings(page) == []
            assert overflow_px(page) <= 0
        secret = page.locator(".letters").inner_text().replace(" ", "")
        page.locator("#code").fill(code_of_step(secret, step_at(NOW.timestamp())))
        page.keyboard.press("Enter")
        page.locator(".codes").wait_for()
        assert axe_findings(page) == []
        assert overflow_px(page) <= 0
        page.goto(f"{station}/accounts/new")
        page.locator("button.main").click()
        page.locator(".refusal").wait_for()
        assert axe_findings(page) == []
        context.close()
