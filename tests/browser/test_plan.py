"""The desk plans in a real browser, by keyboard alone; the day page is live."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.message import Message
from quietleaf.planning.station import assignment_named, programme_named
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.tokens import Token, TokenPurpose
from quietleaf.work.plan_station import plan_station
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.browser.test_pages import LOOKS_AT_MANY, focused, overflow_px, tab_to, until
from tests.finished import DAY, NOW, bring_reading, example_station
from tests.stand_client import Journal, Stand
from tests.stations_served import new_pass

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PROGRAMME = "/plan/programmes/courier-hour"
PATHS = [
    "/",
    "/plan",
    "/plan?page=2",
    PROGRAMME,
    "/plan/programmes/new",
    "/plan/publications/lantern-for-tolly-weir",
    "/plan/readers/Ada%20Fenwick",
    "/plan/booths/booth-1",
    "/plan/assignments/courier-hour-2026-11-25",
    "/plan/assignments/new?programme=field-and-lane&air=2026-11-25",
    "/plan/station",
    "/plan/station/own",
]
STATES = {
    "preview": (PROGRAMME, {}, "Preview"),
    "refused": (PROGRAMME, {"title": "", "opening": "Read by {redaer}.", "slot": "x"}, "Keep it"),
    "refused at the top": ("/plan/booths/booth-1", {"name": "Booth 2"}, "Keep it"),
    "kept": ("/plan/booths/booth-1", {}, "Keep it"),
}


PURPOSES: tuple[TokenPurpose, ...] = ("booth", "enrol", "link")


def help_asked(message_id: str = "m1") -> Message:
    """Give what Booth 2 asks."""
    return Message(
        message_id=message_id,
        kind="help",
        at=NOW,
        booth="booth-2",
        reader="Ada Fenwick",
        assignment_key="courier-hour-2026-11-25",
        reading_id="k3f9",
        text="The lamp has gone out.",
        seen_at=None,
    )


def busy_station(data: Path) -> Tools:
    """Give the example with two pages of assignments, ways in, and a message."""
    tools = example_station(data)
    station = tools.database.load_station()
    days = [DAY + timedelta(days=number) for number in range(1, 30)]
    more = tuple(
        Assignment(programme_key="courier-hour", issue_date=day, air_date=day)
        for day in days
        if day.weekday() != 6
    )
    plan_station(replace(station, assignments=(*station.assignments, *more)), tools)
    for number, purpose in enumerate(PURPOSES):
        tools.database.add_token(
            Token(
                sha256=str(number) * 64,
                purpose=purpose,
                made_at=NOW,
                booth=None if purpose == "link" else "booth-1",
                reader="Ada Fenwick" if purpose == "link" else None,
                expires_at=NOW + timedelta(days=14),
            )
        )
    tools.database.add_message(help_asked())
    bring_reading(tools)
    return tools


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve the busy station; nothing is kept there but what was."""
    tools = busy_station(tmp_path_factory.mktemp("busy"))
    with tools.database, served(tools) as address:
        yield address


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[tuple[Tools, str]]:
    """Serve the example to one test alone."""
    tools = example_station(tmp_path)
    with tools.database, served(tools) as address:
        yield tools, address


def into_state(page: Page, station: str, state: str) -> None:
    """Bring a form into a state."""
    path, fields, button = STATES[state]
    page.goto(station + path)
    for name, value in fields.items():
        page.locator(f"#{name}").fill(value)
    with page.expect_navigation():
        page.get_by_role("button", name=button, exact=True).click()


def axe_findings(page: Page) -> list[tuple[str, str]]:
    """Give what axe finds."""
    from axe_playwright_python.sync_playwright import Axe

    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [(rule["id"], node["html"]) for rule in found for node in rule["nodes"]]


@pytest.mark.parametrize("look", LOOKS_AT_MANY, ids=lambda look: " ".join(look.values()))
def test_axe_finds_nothing_on_any_page_in_any_state(
    browser: Browser, station: str, look: dict[str, Any]
) -> None:
    # axe is a script of the tests; the pages' own policy would keep it out.
    context = browser.new_context(bypass_csp=True, **look)
    page = context.new_page()
    page.set_viewport_size({"width": 1280, "height": 800})
    for path in PATHS:
        page.goto(station + path)
        assert axe_findings(page) == [], path
    page.set_viewport_size({"width": 320, "height": 800})
    for state in STATES:
        into_state(page, station, state)
        assert axe_findings(page) == [], state
    context.close()


def test_nothing_scrolls_sideways_and_no_target_is_low(browser: Browser, station: str) -> None:
    # 640 is 1280 at 200 % (WCAG 2.2, 1.4.4); 320 is 1280 at 400 % (1.4.10).
    for width, scale in ((1280, 1), (640, 2), (320, 4)):
        context = browser.new_context(
            viewport={"width": width, "height": 600}, device_scale_factor=scale
        )
        page = context.new_page()
        for place in (*PATHS, *STATES):
            if place in STATES:
                into_state(page, station, place)
            else:
                page.goto(station + place)
            assert overflow_px(page) == 0, (width, place)
            low = page.evaluate(
                """() => [...document.querySelectorAll(
                        'main a, summary, button, select, textarea, input[id], label:has(input)')]
                    .filter(part => part.getBoundingClientRect().height < 32)
                    .map(part => part.outerHTML)"""
            )
            assert low == [], place
        context.close()


def test_each_page_has_one_heading_of_the_first_rank_and_no_message_to_the_console(
    page: Page, station: str
) -> None:
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    for path in PATHS:
        page.goto(station + path)
        assert page.locator("h1").count() == 1
    assert told == []


def press_until(page: Page, name: str, key: str = "Enter") -> None:
    """Tab to something and press a key that leads to another page."""
    tab_to(page, name)
    with page.expect_navigation():
        page.keyboard.press(key)


def tab_to_field(page: Page, field: str) -> None:
    """Press Tab until a field has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == field:
            return
    raise AssertionError(f"no Tab reaches {field}")


def test_a_station_of_ones_own_gets_its_first_programme_and_turn_by_keyboard_alone(
    page: Page, fresh: tuple[Tools, str]
) -> None:
    tools, address = fresh
    page.goto(address)
    press_until(page, "The plan")
    press_until(page, "Throw the example away")
    for field, text in (
        ("name", "Fenmouth Talking Pages"),
        ("zone", "Europe/London"),
        ("originator", "Fenmouth"),
    ):
        tab_to_field(page, field)
        page.keyboard.type(text)
    press_until(page, "Begin my own station")
    assert "Your station is here." in page.locator("[role=status]").inner_text()

    press_until(page, "Add a publication")
    tab_to_field(page, "title")
    page.keyboard.type("The Fenmouth Sheet")
    press_until(page, "Keep it")
    press_until(page, "The plan")
    press_until(page, "Add a reader")
    tab_to_field(page, "name")
    page.keyboard.type("Élodie Marsh")
    press_until(page, "Keep it")
    press_until(page, "The plan")

    press_until(page, "Add a programme")
    tab_to_field(page, "title")
    page.keyboard.type("The Sheet")
    tab_to_field(page, "publication")
    page.keyboard.type("The F")
    for _ in range(4):  # the serial, Monday, Tuesday, Wednesday
        page.keyboard.press("Tab")
    page.keyboard.press("Space")
    for field, text in (
        ("air_times", "18:30"),
        ("slot", "60"),
        ("review", "The whole"),
        ("opening", "This is {programme}, read by {redaer}."),
    ):
        tab_to_field(page, field)
        page.keyboard.type(text)
    press_until(page, "Keep it")
    # The focus is where something is needed, and what was typed is there.
    until(page, "document.activeElement.id === 'opening'")
    assert "{redaer}" in page.locator("#opening-refusal").inner_text()
    assert page.locator("#air_times").input_value() == "18:30"
    page.keyboard.press("Control+A")
    page.keyboard.type("This is {programme}, read by {reader}.")
    press_until(page, "Preview")
    until(page, "document.activeElement.textContent === 'As it will be read'")
    assert page.locator(".print u").all_inner_texts() == ["The Sheet", "Élodie Marsh"]
    press_until(page, "Keep it")
    programme = programme_named(tools.database.load_station(), "the-sheet")
    assert (programme.weekdays, str(programme.window)) == ((2,), "56:00 to 58:00")
    assert programme.review == "whole"

    page.goto(address)
    press_until(page, "Assign a reader for The Sheet")
    tab_to_field(page, "reader")
    page.keyboard.press("ArrowDown")
    press_until(page, "Keep it")
    assignment = assignment_named(tools.database.load_station(), "the-sheet-2026-11-25")
    assert (assignment.readers, assignment.issue_date) == (("Élodie Marsh",), DAY)
    page.goto(address)
    assert "Élodie Marsh" in page.locator("#shown-guide").inner_text()


def test_removing_asks_first_and_says_why_not(page: Page, fresh: tuple[Tools, str]) -> None:
    _tools, address = fresh
    page.goto(address + PROGRAMME)
    tab_to(page, "Remove from the plan")
    page.keyboard.press("Enter")
    press_until(page, "Yes, remove it")
    until(page, "document.activeElement.textContent.includes('The Courier Hour stays')")


def test_the_first_page_without_a_station_offers_ones_own_and_ones_voice(
    page: Page, tmp_path: Path
) -> None:
    with Database(database_url(tmp_path)) as database:
        tools = Tools(data=tmp_path, database=database, clock=lambda: NOW)
        with served(tools) as address:
            page.goto(address)
            assert page.get_by_role("link", name="Try it with your own voice").is_visible()
            assert overflow_px(page) == 0
            press_until(page, "Begin my own station")
            assert page.locator("h1").inner_text() == "A station of your own"


def test_the_day_shows_what_comes_and_leaves_focus_and_place_alone(
    page: Page, fresh: tuple[Tools, str]
) -> None:
    tools, address = fresh
    page.goto(address)
    tab_to(page, "Change who reads for The Courier Hour")
    page.evaluate("window.untouched = document.activeElement")
    tools.database.add_message(help_asked())
    until(page, "document.querySelector('#told') !== null")
    assert page.evaluate("document.activeElement === window.untouched")
    assert page.locator("#news").inner_text() == (
        "Booth 2 asks for help. Ada Fenwick, The Courier Hour."
    )
    # Its own line changes: the same link has the focus again.
    station = tools.database.load_station()
    changed = tuple(
        replace(one, readers=("Imke Rowan",)) if one.programme_key == "courier-hour" else one
        for one in station.assignments
    )
    plan_station(replace(station, assignments=changed), tools)
    until(
        page,
        "[...document.querySelectorAll('.slot')].some(slot => "
        "slot.textContent.includes('The Courier Hour') && slot.textContent.includes('Imke'))",
    )
    assert focused(page).startswith("Change who reads for The Courier Hour")

    page.keyboard.press("Home")
    page.locator("#seen-m1").focus()
    tools.database.see_message("m1", NOW)
    until(page, "document.querySelector('#told') === null")
    assert page.evaluate("document.activeElement.id") == "page"


def test_a_message_is_seen_by_keyboard_also_without_script(
    page: Page, fresh: tuple[Tools, str]
) -> None:
    tools, address = fresh
    tools.database.add_message(help_asked())
    page.route("**/*.js", lambda route: route.abort())
    page.goto(address)
    press_until(page, "Seen: Booth 2 asks for help.")
    assert tools.database.message("m1").seen_at == NOW
    assert page.locator("#told").count() == 0


def test_a_new_day_brings_a_new_page(page: Page, tmp_path: Path) -> None:
    now = [NOW]
    tools = replace(example_station(tmp_path), clock=lambda: now[0])
    with tools.database, served(tools) as address:
        page.goto(address)
        now[0] = NOW + timedelta(days=1)
        with page.expect_navigation(timeout=60_000):
            pass
        until(page, "document.querySelector('h1').textContent.startsWith('Thursday 26')")


def test_who_is_recording_is_seen_on_the_day_while_the_line_is_open(
    page: Page, fresh: tuple[Tools, str]
) -> None:
    tools, address = fresh
    bring_reading(tools, state="in the booth")
    page.goto(address)
    says = "document.querySelector('#board').textContent"
    until(page, f"{says}.includes('Begun, 12')")
    journal = Journal()
    journal.roll()
    journal.sound(np.zeros(48_000 * 3))
    secret = new_pass(tools, "readings:k3f9", booth="booth-2", reader="Ada Fenwick")
    stand = Stand(address, secret, journal)
    with stand.line() as line:
        stand.pour(line)
        until(page, f"{says}.includes('In Booth 2 just now, 15')")
        assert page.locator("#news").inner_text() == (
            "Marrowby in Five: Ada Fenwick is reading just now."
        )
    until(page, f"{says}.includes('Begun, 15')")
    assert page.locator("#news").inner_text() == (
        "Marrowby in Five: begun, and nobody is reading just now."
    )
