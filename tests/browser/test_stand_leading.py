"""While a lead-in plays: what the page says, what each key does, and when it is over."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.browser.standing import AtTheStand, at_the_stand
from tests.browser.test_stand import AGAIN, asked, begin, hear, phase, said, sit_down, tell
from tests.waiting import wait_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

LISTEN = "Listen, then read on from here."
RECORDED = "You are being recorded."


@pytest.fixture(scope="module")
def hour(tmp_path_factory: pytest.TempPathFactory) -> Iterator[AtTheStand]:
    with at_the_stand(tmp_path_factory.mktemp("hour")) as stand:
        yield stand


@pytest.fixture
def stand(browser: Browser, hour: AtTheStand) -> Iterator[Page]:
    """Give the stand, rolling, with some sentences read."""
    context = hour.context(browser, viewport={"width": 1280, "height": 860})
    page = context.new_page()
    sit_down(page, hour)
    begin(page)
    hear(page, 30.0)
    yield page
    context.close()


def press_again(page: Page, *, lead_in_s: float = 60.0) -> None:
    page.evaluate(f"recorder.leadInS = {lead_in_s}")
    page.keyboard.press("a")
    page.locator("#state", has_text=LISTEN).wait_for()


def names(page: Page) -> list[str]:
    return [str(what[0]) for what in asked(page)]


def test_before_anything_was_read_there_is_nothing_to_read_again(
    browser: Browser, hour: AtTheStand
) -> None:
    context = hour.context(browser)
    page = context.new_page()
    sit_down(page, hour)
    assert not page.locator("#again").is_visible()
    page.keyboard.press("a")
    page.keyboard.press("u")
    assert "again" not in names(page)
    context.close()


def test_one_press_and_the_lead_in_ends_by_itself(stand: Page) -> None:
    press_again(stand, lead_in_s=0.2)
    stand.locator("#state", has_text=RECORDED).wait_for()
    assert names(stand)[-2:] == ["again", "again led"]
    assert said(stand, "advice") == "Read on."
    assert LISTEN not in said(stand, "told")


def test_the_change_of_state_is_announced(stand: Page) -> None:
    press_again(stand)
    assert LISTEN in said(stand, "told")
    assert said(stand, "heard") == "What the microphone hears now is left out, until you read on."


def test_pressed_once_more_it_says_one_sentence_further_back(stand: Page) -> None:
    press_again(stand)
    stand.keyboard.press("a")
    stand.locator("#state", has_text="One sentence further back.").wait_for()
    assert names(stand)[-2:] == ["again", "again"]


def test_no_mark_is_made_while_it_plays(stand: Page) -> None:
    press_again(stand)
    stand.keyboard.press("n")
    stand.keyboard.press("c")
    stand.keyboard.press("a")
    stand.locator("#state", has_text="One sentence further back.").wait_for()
    assert "article" not in names(stand)


def test_hold_ends_it(stand: Page) -> None:
    press_again(stand, lead_in_s=1.0)
    stand.keyboard.press("Space")
    phase(stand, "held")
    # Its end, which would have come by now, does nothing any more.
    stand.wait_for_timeout(1_300)
    assert names(stand)[-1] == "hold"
    assert said(stand, "state").startswith("Held.")


def test_undo_ends_it(stand: Page) -> None:
    press_again(stand)
    stand.keyboard.press("u")
    stand.locator("#state", has_text=RECORDED).wait_for()
    assert names(stand)[-1] == "again undo"
    assert said(stand, "advice") == "The old sentence is back. Go on from where you had stopped."


def test_a_microphone_that_goes_ends_it(stand: Page) -> None:
    press_again(stand)
    tell(stand, "lost-device", sentence="The desk microphone went away.")
    phase(stand, "lost")
    assert not stand.locator("#again").is_visible()


def test_another_browser_that_takes_over_ends_it(stand: Page) -> None:
    press_again(stand)
    tell(
        stand,
        "standing",
        station="superseded",
        sentence="Ada goes on.",
        behindS=0,
        keptS=0,
        queuedBytes=0,
    )
    phase(stand, "stopped")
    assert said(stand, "state") == "Nothing is recorded here now."


def test_at_the_very_beginning_nothing_is_played(stand: Page) -> None:
    stand.evaluate("recorder.leadInS = 0")
    stand.keyboard.press("a")
    stand.locator("#state", has_text=RECORDED).wait_for()
    assert names(stand)[-2:] == ["again", "again led"]
    assert said(stand, "advice") == "From the very beginning. Read on."


def test_from_held_it_rolls(stand: Page) -> None:
    stand.keyboard.press("Space")
    phase(stand, "held")
    press_again(stand)
    phase(stand, "rolling")
    assert names(stand)[-1] == "again"


def test_a_stretch_of_the_strip_is_picked_by_key(stand: Page) -> None:
    press_again(stand)
    hear(stand, 31.0, again=AGAIN)
    runs = stand.locator("#strip button")
    assert runs.count() > 2
    runs.last.focus()
    stand.keyboard.press("ArrowLeft")
    stand.keyboard.press("ArrowLeft")
    name = stand.evaluate("document.activeElement.getAttribute('aria-label')")
    assert name.startswith("Again from here:")
    stand.keyboard.press("Enter")
    wait_for(lambda: asked(stand)[-1][0] == "again" and asked(stand)[-1][1] is not None)
    picked = asked(stand)[-1][1]
    assert picked["take"] == 1
    assert 0 < picked["sample"] < 31 * 44_100
    assert stand.evaluate("document.activeElement.id") == "main"


def test_held_the_key_takes_the_stretch_that_has_the_focus(stand: Page) -> None:
    stand.keyboard.press("Space")
    phase(stand, "held")
    hear(stand, 30.0, speaking=False)
    stand.locator("#strip button").nth(1).focus()
    stand.keyboard.press("a")
    stand.locator("#state", has_text=LISTEN).wait_for()
    assert asked(stand)[-1][1]["take"] == 1


def test_what_is_left_out_is_said_and_hollow(stand: Page) -> None:
    press_again(stand)
    hear(stand, 31.0, again=AGAIN)
    assert stand.locator("#strip .run.out").count() == 2
    twin = stand.locator("#strip .unseen").inner_text()
    assert "two of them left out" in twin


def test_what_was_left_out_is_not_counted_as_read(stand: Page) -> None:
    hear(stand, 100.0)
    before = " ".join(stand.locator("#time-left").inner_text().split())
    hear(stand, 100.0, again=AGAIN | {"secondsRead": 40.0, "leading": False})
    after = " ".join(stand.locator("#time-left").inner_text().split())
    assert before.startswith("56 minutes 20")
    assert after.startswith("57 minutes 20")


def test_a_place_that_is_not_in_memory_is_said(stand: Page) -> None:
    stand.evaluate("recorder.known = false")
    press_again(stand)
    assert "not in this page’s memory any more" in said(stand, "advice")
