"""Coming in, in a real browser: by keyboard alone, by axe in every state, narrow and enlarged."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from quietleaf.booth.reading import HandIn
from quietleaf.planning.station import Station
from quietleaf.web.coming_pages import BOOTH_COOKIE, SITTING_COOKIE
from quietleaf.work.coming_in import paper_missing
from quietleaf.work.enrol_booth import make_enrolment
from quietleaf.work.messages import see_message
from quietleaf.work.open_reading import open_reading
from quietleaf.work.personal_links import make_link
from quietleaf.work.sit_down import new_sitting, sitting_of
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.browser.test_pages import LOOKS, LOOKS_AT_MANY, focused, overflow_px, tab_to, until
from tests.coming import Clock, coming_station, enrolled, handed_in, record

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

HOUR = "courier-hour-2026-11-25"
SHELF = "long-shelf-2026-11-25"
LETTERS = "letters-to-the-editor-2026-11-25"
PAPER = f"/stand/paper?assignment={HOUR}"


class AtTheDoor:
    """A served station, with readers who have got to different places."""

    def __init__(self, tools: Tools, address: str) -> None:
        self.tools = tools
        self.address = address
        self.booth = enrolled(tools)

    def sit(self, context: BrowserContext, reader: str) -> None:
        """Let a reader sit down in a browser."""
        secret = new_sitting(reader, self.tools, booth="booth-1")
        self.give(context, SITTING_COOKIE, secret)

    def give(self, context: BrowserContext, name: str, secret: str) -> None:
        """Give a browser a cookie."""
        context.add_cookies([{"name": name, "value": secret, "url": self.address}])

    def missing(self) -> str:
        """Have a paper that did not come; give the message's id."""
        secret = new_sitting("Tomas Vale", self.tools, booth="booth-1")
        return paper_missing(HOUR, sitting_of(secret, self.tools), self.tools).message_id


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> Iterator[AtTheDoor]:
    """Serve the example in the morning of its day."""
    clock = Clock()
    clock.move(hours=-5)
    with coming_station(tmp_path_factory.mktemp("door"), clock) as tools, served(tools) as address:
        made = AtTheDoor(tools, address)
        part_8 = replace(
            next(each for each in tools.database.load_station().assignments if each.key == SHELF),
            key="shelf-8",
            part=8,
            issue_date=clock().date().replace(day=23),
            air_date=clock().date().replace(day=23),
        )
        tools.database.change_station(
            lambda station: replace(station, assignments=(*station.assignments, part_8))
        )
        left = HandIn(place_page="112", place_headline="The tide", recap="Tolly has the lamp.")
        handed_in(tools, "shelf-8", "Imke Rowan", left, state="returned", note="A door banged.")
        folder = handed_in(tools, LETTERS, "Hester Lowick", state="cleared")
        assert folder.takes()
        record(
            open_reading(
                "marrowby-in-five-2026-11-25",
                sitting_of(new_sitting("Ada Fenwick", tools), tools),
                tools,
            ).folder,
            tools,
        )
        yield made


State = tuple[str, str, str | Callable[[AtTheDoor], str]]
STATES: list[State] = [
    ("no booth", "", "/booth"),
    ("names", "booth", "/booth"),
    ("enrol", "", lambda door: f"/booth/enrol/{make_enrolment('booth-2', door.tools)}"),
    ("enrol refused", "", "/booth/enrol/nothing"),
    ("link", "", lambda door: f"/link/{make_link('Ada Fenwick', 14, door.tools)}"),
    ("link refused", "", "/link/nothing"),
    ("nobody sits", "", "/stand"),
    ("today", "Tomas Vale", "/stand"),
    ("today, a serial that came back", "Imke Rowan", "/stand"),
    ("today, two things", "Joan Abara", "/stand"),
    ("today, begun", "Ada Fenwick", "/stand"),
    ("today, nothing", "Hester Lowick", "/stand"),
    ("missing", "Tomas Vale", lambda door: f"/stand?message={door.missing()}"),
    ("paper", "Tomas Vale", PAPER),
    ("paper, which date", "Tomas Vale", f"{PAPER}&other=1"),
    ("paper, differs", "Tomas Vale", f"{PAPER}&says=2026-11-24"),
    ("paper, a book", "Imke Rowan", f"/stand/paper?assignment={SHELF}"),
    ("paper, not theirs", "Tomas Vale", f"/stand/paper?assignment={SHELF}"),
    ("before", "Hester Lowick", "/stand/before"),
    ("before, came back", "Imke Rowan", "/stand/before"),
    ("before, nothing", "Tomas Vale", "/stand/before"),
    ("left", "", "/stand/left"),
    ("desk, booth", "", "/plan/booths/booth-1/enrol"),
    ("desk, links", "", "/plan/readers/Ada%20Fenwick/link"),
]

RICHEST = [
    state
    for state in STATES
    if state[0] in ("names", "today, a serial that came back", "paper, which date", "missing")
]
"""In every look; the others differ from them in nothing that has a colour."""


def come_to(door: AtTheDoor, context: BrowserContext, state: State) -> Page:
    _, who, path = state
    if who == "booth":
        door.give(context, BOOTH_COOKIE, door.booth)
    elif who:
        door.sit(context, who)
    page = context.new_page()
    page.goto(door.address + (path if isinstance(path, str) else path(door)))
    return page


def names_of(state: State) -> str:
    return state[0]


@pytest.mark.parametrize("look", LOOKS_AT_MANY, ids=lambda look: " ".join(look.values()))
def test_axe_finds_nothing(browser: Browser, door: AtTheDoor, look: dict[str, Any]) -> None:
    from axe_playwright_python.sync_playwright import Axe

    for state in STATES if look == LOOKS[0] else RICHEST:
        context = browser.new_context(bypass_csp=True, **look)
        page = come_to(door, context, state)
        page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
        found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
        told = [(state[0], rule["id"], node["html"]) for rule in found for node in rule["nodes"]]
        assert told == []
        assert page.locator("h1").count() == 1
        context.close()


@pytest.mark.parametrize("state", STATES, ids=names_of)
def test_it_fits_narrow_and_enlarged_and_its_controls_are_large(
    browser: Browser, door: AtTheDoor, state: State
) -> None:
    context = browser.new_context()
    page = come_to(door, context, state)
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
    least = 32 if state[0].startswith("desk") else 64
    for width in (1280, 640, 320):  # 640 is 1280 at 200 %
        page.set_viewport_size({"width": width, "height": 800})
        assert overflow_px(page) == 0
        small = page.evaluate(
            """least => [...document.querySelectorAll('main :is(button, .button, select)')]
                .filter(part => part.getBoundingClientRect().height < least - 0.5)
                .map(part => part.textContent)""",
            least,
        )
        assert small == []
    context.close()


def test_what_a_form_refuses_is_heard_and_found(browser: Browser, door: AtTheDoor) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(bypass_csp=True)
    door.sit(context, "Tomas Vale")
    page = context.new_page()
    page.goto(f"{door.address}{PAPER}&other=1")
    page.get_by_role("button", name="Go on").click()
    refusal = page.get_by_role("alert")
    assert "Choose the date that your paper says" in refusal.inner_text()
    assert page.evaluate("document.activeElement.id") == "refusal"
    assert page.get_by_label("Day", exact=True).get_attribute("aria-describedby") == "refusal"
    assert Axe().run(page).response["violations"] == []
    page.goto(f"{door.address}/plan/readers/Ada%20Fenwick/link")
    page.get_by_label("Days that it is good for").fill("none")
    page.get_by_role("button", name="Make a link").click()
    assert page.get_by_role("alert").inner_text() == "Days are written as a whole number, like 14."
    assert page.evaluate("document.activeElement.id") == "days"
    assert Axe().run(page).response["violations"] == []
    context.close()


def test_from_the_first_page_to_the_room_by_keyboard_alone(
    browser: Browser, door: AtTheDoor
) -> None:
    context = browser.new_context()
    page = context.new_page()
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    page.goto(f"{door.address}/plan/booths/booth-2/enrol")
    press(page, "Make an address", "Enter")
    page.get_by_role("link", name="Make this very browser").wait_for()
    press(page, "Make this very browser the booth", "Enter")
    page.wait_for_url("**/booth/enrol/*")
    press(page, "Make this browser Booth 2", "Enter")
    page.wait_for_url("**/booth")
    press(page, "Lucian Marsh", "Space")
    page.wait_for_url("**/stand")
    assert page.locator("h1").inner_text() == "Today you read this"
    press(page, "Read this", "Enter")
    page.wait_for_url("**/stand/paper?*")
    assert page.locator("h1").inner_text() == "Is this the book: Six Short Evenings?"
    press(page, "Yes", "Enter")
    page.wait_for_url("**/stand/room")
    assert told == []
    kept = {cookie["name"]: cookie for cookie in context.cookies()}
    for name in (BOOTH_COOKIE, SITTING_COOKIE):
        assert (kept[name]["httpOnly"], kept[name]["sameSite"]) == (True, "Strict")
    assert page.evaluate("document.cookie") == ""
    context.close()


def test_a_paper_that_differs_is_settled_by_keyboard_alone(
    browser: Browser, door: AtTheDoor
) -> None:
    context = browser.new_context()
    door.sit(context, "Tomas Vale")
    page = context.new_page()
    page.goto(door.address + PAPER)
    press(page, "No, it says something else", "Enter")
    page.wait_for_url("**other=1")
    while page.evaluate("document.activeElement.type") != "radio":
        page.keyboard.press("Tab")
    page.keyboard.press("Space")  # Tuesday comes first
    press(page, "Go on", "Enter")
    page.wait_for_url("**says=2026-11-24")
    assert page.locator("h1").inner_text() == "Your paper says Tuesday 24 November"
    tab_to(page, "Look at the paper again")  # the way back to the question comes first
    press(page, "Ask the desk", "Enter")
    page.wait_for_url("**/stand?message=*")
    assert "The desk has your question." in page.get_by_role("status").inner_text()
    context.close()


def test_the_page_says_when_the_desk_has_seen_it(browser: Browser, door: AtTheDoor) -> None:
    context = browser.new_context()
    door.sit(context, "Tomas Vale")
    page = context.new_page()
    message_id = door.missing()
    page.goto(f"{door.address}/stand?message={message_id}")
    assert "The desk has seen it." not in page.get_by_role("status").inner_text()
    see_message(message_id, door.tools)
    until(page, "document.getElementById('told').textContent.endsWith('The desk has seen it.')")
    context.close()


def test_a_letters_link_is_opened_from_another_site(browser: Browser, door: AtTheDoor) -> None:
    context = browser.new_context()
    page = context.new_page()
    link = f"{door.address}/link/{make_link('Joan Abara', 14, door.tools)}"
    other_site = door.address.replace("127.0.0.1", "localhost")
    page.goto(f"{other_site}/stand/left")
    page.evaluate("link => location.assign(link)", link)
    page.wait_for_url(link)
    press(page, "Come in", "Enter")
    page.wait_for_url("**/stand")
    assert "Joan Abara" in page.locator(".where").inner_text()
    context.close()


def test_who_sits_down_next_does_not_find_the_page_before_by_going_back(
    browser: Browser, door: AtTheDoor
) -> None:
    context = browser.new_context()
    door.give(context, BOOTH_COOKIE, door.booth)
    page = context.new_page()
    page.goto(f"{door.address}/booth")
    page.get_by_role("button", name="Joan Abara").click()
    page.wait_for_url("**/stand")
    page.get_by_role("button", name="I am not Joan Abara").click()
    page.wait_for_url("**/booth")
    page.go_back()
    page.go_back()
    assert page.locator("h1").inner_text() == "Who is reading?"
    context.close()


def test_nothing_moves_and_nothing_is_asked_of_anybody_else(
    browser: Browser, door: AtTheDoor
) -> None:
    context = browser.new_context()
    door.sit(context, "Joan Abara")
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{door.address}/stand")
    moving = page.evaluate(
        """() => [...document.querySelectorAll('*')].filter(part => {
            const style = getComputedStyle(part)
            return style.animationName !== 'none' || style.transitionDuration !== '0s'
        }).length"""
    )
    assert moving == 0
    assert all(url.startswith(door.address) for url in asked)
    context.close()


def press(page: Page, name: str, key: str) -> None:
    """Go to a control by Tab and press it."""
    tab_to(page, name)
    assert focused(page).startswith(name)
    page.keyboard.press(key)


def with_many(station: Station) -> Station:
    """Give a station as many readers as a service has."""
    return replace(
        station, readers=(*station.readers, *(f"Reader {number}" for number in range(200)))
    )


def test_among_two_hundred_names_one_is_found_by_typing(browser: Browser, tmp_path: Path) -> None:
    with coming_station(tmp_path, Clock()) as tools, served(tools) as address:
        tools.database.change_station(with_many)
        door = AtTheDoor(tools, address)
        context = browser.new_context()
        door.give(context, BOOTH_COOKIE, door.booth)
        page = context.new_page()
        page.goto(f"{address}/booth")
        while page.evaluate("document.activeElement.id") != "name":
            page.keyboard.press("Tab")
        page.keyboard.type("Reader 117")
        press(page, "This is me", "Enter")
        page.wait_for_url("**/stand")
        assert page.locator(".where").inner_text() == "Reader 117\N{NO-BREAK SPACE}· Booth 1"
        assert page.locator("h1").inner_text() == "Nothing is planned for you today"
        context.close()
