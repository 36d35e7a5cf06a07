"""The ear page in a real browser, by keyboard alone: a reading is cleared, another returned."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from quietleaf.booth.edits import Decided
from quietleaf.booth.review import review
from quietleaf.listening.findings import Finding, FindingKind
from quietleaf.storage import passwords
from quietleaf.storage.index_rows import master_row, read_made, reading_row, write_made
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.work.accounts import add_account
from quietleaf.work.decide import AtTheDesk, decide
from quietleaf.work.see_review import see_review
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.browser.test_pages import focused, open_all, until
from tests.finished import FACTS, bring_reading, example_station, finish_reading
from tests.unit.work.test_decide import READY, plan_review

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PASSWORD = "four quiet leaves fall"
PRODUCER = "Ida Marsh"
TOLD = "document.querySelector('#told').textContent"
PLAYER = "document.querySelector('#player')"
CHOSEN = "document.querySelector('.thing.chosen')"


def found(kind: FindingKind, start_s: float) -> Finding:
    return replace(READY.findings[1], kind=kind, start_s=start_s, end_s=start_s + 0.4)


FOUR = (READY.findings[0], found("rustle", 8.6), found("cough", 9.4), found("breath", 10.4))


@pytest.fixture(scope="module")
def tools(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tools]:
    """Give a station with accounts, and readings of four things to hear each."""
    tools = example_station(tmp_path_factory.mktemp("station"))
    with pytest.MonkeyPatch.context() as patch, tools.database:
        patch.setattr(passwords, "SCRYPT_N", 1 << 4)
        add_account("The steward", ["steward"], PASSWORD, tools)
        add_account(PRODUCER, ["desk"], PASSWORD, tools)
        add_account("Ada Fenwick", ["reviewer"], PASSWORD, tools)
        plan_review(tools, "things to hear", other_reviewer=True)
        for reading_id in ("r1", "r2", "r3", "r4"):
            folder = bring_reading(tools, replace(FACTS, reading_id=reading_id))
            finish_reading(tools, folder, replace(READY, findings=FOUR))
        yield tools


@pytest.fixture(scope="module")
def station(tools: Tools) -> Iterator[str]:
    with served(tools) as address:
        yield address


def opened(page: Page, station: str, reading_id: str, name: str = PRODUCER) -> None:
    """Sign in, and open a reading."""
    page.request.post(f"{station}/sign-in", form={"name": name, "password": PASSWORD})
    page.goto(f"{station}/reading/{reading_id}")
    until(page, f"{PLAYER}.readyState >= 1 && !document.querySelector('#transport').hidden")


def press(page: Page, keys: str, told: str) -> None:
    """Press a key, and wait for what is said then."""
    page.keyboard.press(keys)
    until(page, f"{TOLD}.startsWith({told!r})")


def folder_of(tools: Tools, reading_id: str) -> ReadingFolder:
    return find_reading(tools.data, reading_id)


def test_a_producer_clears_a_reading_with_four_findings_in_ten_keys(
    page: Page, station: str, tools: Tools
) -> None:
    opened(page, station, "r1")
    plays_s = sum(
        thing.hear_s[1] - thing.hear_s[0] for thing in see_review("r1", PRODUCER, tools).things
    )
    # Two minutes of work, most of which is listening, leave a second for each key.
    assert plays_s + 10 < 120

    page.keyboard.press("n")
    until(page, f"{CHOSEN} && !{PLAYER}.paused && {PLAYER}.currentTime > 4")
    assert focused(page).startswith("Read twice at 0:06 to 0:08")
    page.locator("#speed").focus()
    page.keyboard.press("f")
    assert page.evaluate(f"[{PLAYER}.playbackRate, {PLAYER}.preservesPitch]") == [1.25, True]
    press(page, "c", "To be cut. 3 left.")
    assert page.evaluate(f"{CHOSEN}.querySelector('h3').textContent").startswith("Paper")
    press(page, "u", "Four, ")
    page.keyboard.press("p")
    press(page, "l", "Left as it is. 3 left.")
    press(page, "l", "Left as it is. 2 left.")
    press(page, "l", "Left as it is. One left.")
    press(page, "l", "Left as it is. Everything is decided.")
    assert focused(page) == "Clear it"
    press(page, "Enter", "Cleared by Ida Marsh, Wednesday 25 November, 14:20.")
    assert folder_of(tools, "r1").state == tools.database.reading("r1").state == "cleared"
    # One key from the next one on the desk.
    assert focused(page).startswith("Next: Marrowby in Five")
    page.keyboard.press("Enter")
    page.wait_for_url("**/reading/r*")


def test_a_sentence_is_returned_with_a_remark(page: Page, station: str, tools: Tools) -> None:
    opened(page, station, "r2")
    page.keyboard.press("n")
    page.keyboard.press("n")
    page.keyboard.press("w")
    until(page, "document.activeElement.name === 'note'")
    page.keyboard.type("A page turned over “harbour”. Call it clear: a, l, c")
    page.keyboard.press("Escape")
    press(page, "a", "To be read again, the sound. 3 left.")
    page.keyboard.press("n")  # past the cough
    press(page, "l", "Left as it is. 2 left.")
    press(page, "l", "Left as it is. One left.")
    press(page, "l", "Left as it is. Everything is decided.")
    assert focused(page) == "Return it"
    press(page, "Enter", "Returned to Ada Fenwick by Ida Marsh")
    returned = folder_of(tools, "r2")
    assert returned.state == "returned"
    (again,) = review(returned.standing).to_read_again
    assert (again.what.finding, again.what.remark) == ("rustle", "sound")
    assert again.what.note == "A page turned over “harbour”. Call it clear: a, l, c"


def test_what_goes_wrong_is_told_and_nothing_is_lost(
    page: Page, station: str, tools: Tools
) -> None:
    opened(page, station, "r3")
    page.keyboard.press("n")
    page.route("**/decide", lambda route: route.abort())
    press(page, "l", "The station is not answering.")
    page.unroute("**/decide")
    # Meanwhile somebody else decides.
    thing = see_review("r3", "Tom Lark", tools).things[1]
    what = Decided(start=thing.start, stop=thing.stop, finding="rustle", decision="read again")
    desk = AtTheDesk(reading_id="r3", who="Tom Lark", revision=3, asked_id="tom")
    decide(desk, what, tools)
    page.keyboard.press("l")
    until(page, "document.querySelector('#refusal') !== null")
    refusal = page.locator("#refusal").inner_text()
    assert "Tom Lark came before" in refusal
    assert "Paper at 0:08 is to be read again." in refusal
    press(page, "l", "Left as it is. 2 left.")
    assert page.locator("#refusal").count() == 0
    # At a time of the reading, where it is heard: a mark of one's own.
    page.keyboard.press("m")
    until(page, "document.activeElement.id === 'own-what'")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.type("Mill Lane, not Mill Road")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    until(page, "document.body.textContent.includes('Marked at the desk')")
    decisions = review(folder_of(tools, "r3").standing).decisions
    assert [(one.author, one.what.finding, one.what.decision) for one in decisions] == [
        (PRODUCER, "restart", "leave"),
        ("Tom Lark", "rustle", "read again"),
        (PRODUCER, "", "read again"),
    ] or decisions[0].what.finding == ""


def made_again(folder: ReadingFolder, tools: Tools, number: int) -> None:
    """Let another version of the masters be in use, as long and with other bytes."""
    rows = []
    for row in read_made(folder.path):
        old = folder.path / row.path
        path = old
        if row.kind in ("wave", "mp3"):
            path = old.with_name(f"marrowby-{number}{old.suffix}")
            path.write_bytes(old.read_bytes() + bytes(number))
        rows.append(master_row(row.kind, path, row.facts))
    write_made(folder, tuple(rows))
    tools.database.index_reading(reading_row(folder))


def test_what_is_cleared_is_what_is_played_by_then(page: Page, station: str, tools: Tools) -> None:
    folder = bring_reading(tools, replace(FACTS, reading_id="r5"))
    finish_reading(tools, folder, replace(READY, findings=FOUR))
    opened(page, station, "r5")
    made_again(folder, tools, 2)
    page.locator("#clear").press("Enter")
    page.locator("#refusal", has_text="finished again since you heard it").wait_for()
    assert page.evaluate(f"{PLAYER}.src").endswith("/marrowby-2.mp3")
    page.keyboard.press("n")
    made_again(folder, tools, 4)
    press(page, "l", "Another version is in use by now")
    assert page.evaluate(f"[{PLAYER}.paused, {PLAYER}.src.endsWith('/marrowby-4.mp3')]") == [
        *(True, True)
    ]
    page.keyboard.press("n")
    press(page, "l", "Left as it is. 2 left.")


def test_keys_are_switched_off_and_changed(page: Page, station: str, tools: Tools) -> None:
    opened(page, station, "r4")
    page.keyboard.press("n")
    page.locator("#keys summary").click()
    page.locator("#keys-on").uncheck()
    before = folder_of(tools, "r4").revision
    page.keyboard.press("l")
    page.locator("#to-hear button[data-action=leave]").first.focus()
    page.keyboard.press("Enter")
    until(page, f"{TOLD}.startsWith('Left as it is. 3 left.')")
    assert folder_of(tools, "r4").revision == before + 1
    assert page.locator("#to-hear kbd:visible").count() == 0
    page.get_by_role("button", name="Change the key for Leave").click()
    page.keyboard.press("F9")
    press(page, "F9", "Left as it is. 2 left.")
    page.locator("#keys-first").click()
    assert page.locator("#key-said").inner_text() == ""


def test_a_reviewer_is_refused_their_own_reading_and_a_stranger_sees_nothing(
    page: Page, station: str, tools: Tools
) -> None:
    page.goto(f"{station}/reading/r4")
    assert page.url.startswith(f"{station}/sign-in?")
    assert "Marrowby in Five" not in page.content()
    opened(page, station, "r4", "Ada Fenwick")
    assert "Somebody else decides about it" in page.locator("#outcome").inner_text()
    before = folder_of(tools, "r4").revision
    page.keyboard.press("n")
    press(page, "l", "That cannot be decided about this.")
    assert page.locator("#desk form").count() == 0
    assert folder_of(tools, "r4").revision == before


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_once_something_is_decided(
    browser: Browser, station: str, scheme: str
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    # axe is a script of the tests; the pages' own policy would keep it out.
    context = browser.new_context(bypass_csp=True, color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    opened(page, station, "r3")
    page.keyboard.press("n")
    until(page, f"{CHOSEN} !== null")
    open_all(page)
    violations = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    assert [(rule["id"], node["html"]) for rule in violations for node in rule["nodes"]] == []
    context.close()
