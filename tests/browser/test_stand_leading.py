"""While a lead-in plays: what the page says, what each key does, and when it is over."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.browser.standing import AtTheStand, at_the_stand
from tests.browser.test_stand import AGAIN, asked, begin, hear, phase, said, sit_down, tell

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
    for key in ("n", "c"):
        stand.keyboard.press(key)
        stand.locator("#advice", has_text="Not while you listen.").wait_for()
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
    stand.evaluate(
        """() => {
            recorder.leadInS = 0
            window.told = []
            new MutationObserver(() => told.push(document.querySelector('#told').textContent))
                .observe(document.querySelector('#told'), {childList: true})
        }"""
    )
    stand.keyboard.press("a")
    stand.locator("#advice", has_text="From the very beginning. Read on.").wait_for()
    assert stand.evaluate("told") == ["From the very beginning. Read on."]
    assert said(stand, "state") == RECORDED
    assert names(stand)[-2:] == ["again", "again led"]


def test_from_held_it_rolls(stand: Page) -> None:
    stand.keyboard.press("Space")
    phase(stand, "held")
    press_again(stand)
    phase(stand, "rolling")
    assert names(stand)[-1] == "again"


def test_a_stretch_of_the_strip_is_picked_by_key(stand: Page) -> None:
    runs = stand.locator("#strip button")
    assert runs.count() > 2
    tab_to_the_strip(stand)
    stand.keyboard.press("ArrowLeft")
    stand.keyboard.press("ArrowLeft")
    name = stand.evaluate("document.activeElement.getAttribute('aria-label')")
    assert name == "Again from here: three seconds of speech, from 15 seconds ago"
    stand.evaluate("recorder.leadInS = 60")
    stand.keyboard.press("Enter")
    stand.locator("#state", has_text="From the place you picked. Listen,").wait_for()
    assert asked(stand)[-1] == ["again", {"take": 1, "sample": 15 * 44_100}]
    # Space is for the next hold, not for the same stretch.
    assert stand.evaluate("document.activeElement.id") == "main"


def tab_to_the_strip(page: Page) -> None:
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.closest('sentence-strip') !== null"):
            return
    raise AssertionError("no Tab reaches the strip")


def test_a_stretch_is_picked_while_another_lead_in_plays(stand: Page) -> None:
    press_again(stand)
    stand.locator("#strip button").nth(1).click()
    stand.locator("#state", has_text="From the place you picked.").wait_for()
    assert asked(stand)[-1][1]["take"] == 1


def test_what_has_the_focus_stays_the_same_stretch_while_lines_fill(stand: Page) -> None:
    hear(stand, 37.0)
    stand.locator("#strip button").last.focus()
    name = "document.activeElement.getAttribute('aria-label')"
    before = stand.evaluate(name)
    # Its line moves up; by then it is longer ago, but it is not renamed while it is listened to.
    hear(stand, 41.0)
    assert stand.evaluate(name) == before
    stand.keyboard.press("Enter")
    stand.locator("#state", has_text="From the place you picked.").wait_for()
    assert asked(stand)[-1] == ["again", {"take": 1, "sample": 35 * 44_100}]


def test_who_waits_on_a_stretch_that_moves_away_goes_on_by_the_main_key(stand: Page) -> None:
    hear(stand, 39.0)
    stand.locator("#strip button").first.focus()
    hear(stand, 65.0)
    assert stand.evaluate("document.activeElement.id") == "main"


def test_held_the_key_takes_the_stretch_that_has_the_focus(stand: Page) -> None:
    stand.keyboard.press("Space")
    phase(stand, "held")
    hear(stand, 30.0, speaking=False)
    stand.locator("#strip button").nth(1).focus()
    stand.keyboard.press("a")
    stand.locator("#state", has_text=LISTEN).wait_for()
    assert asked(stand)[-1][1]["take"] == 1


def test_what_is_left_out_is_said_and_struck_out(stand: Page) -> None:
    press_again(stand)
    hear(stand, 36.0, again=AGAIN)
    assert stand.locator("#strip .run.out").count() == 2
    assert stand.locator("#strip .join").count() == 1
    twin = stand.locator("#strip .unseen").text_content() or ""
    assert "two of them left out" in twin
    labels = stand.locator("#strip button").evaluate_all(
        "runs => runs.map(run => run.getAttribute('aria-label').split(', ').at(-1))"
    )
    assert labels.count("left out") == 2
    assert labels[labels.index("left out") + 2] == "read again"


def test_what_was_left_out_is_not_heard_with_the_last_sentences(stand: Page) -> None:
    hear(stand, 36.0, again=AGAIN)
    stand.keyboard.press("Space")
    phase(stand, "held")
    stand.keyboard.press("l")
    stand.get_by_text("You hear what you read.").first.wait_for()
    parts = [what[1] for what in asked(stand) if what[0] == "recent"]
    # Two stretches from 20 s to 30 s are out: what was read before and after them is heard.
    assert [part["start"] for part in parts] == [15 * 44_100, 30 * 44_100]
    assert parts[0]["stop"] < 20 * 44_100


def test_an_article_that_was_marked_anew_counts_once(stand: Page) -> None:
    hear(stand, 24.0)
    stand.keyboard.press("n")
    hear(stand, 29.0)
    press_again(stand, lead_in_s=0.1)
    # The mark was in what is read again: it goes with its sentence, and that is said.
    stand.evaluate("recorder.backS = 20")
    press_again(stand, lead_in_s=0.1)
    stand.locator("#advice", has_text="“New article” is marked here now").wait_for()
    hear(stand, 33.0, again=AGAIN | {"leading": False})
    stand.keyboard.press("n")
    hear(stand, 40.0, again=AGAIN | {"leading": False})
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert [what[0] for what in asked(stand)].count("article") == 2


def test_what_was_left_out_is_not_counted_as_read(stand: Page) -> None:
    hear(stand, 100.0)
    before = " ".join(stand.locator("#time-left").inner_text().split())
    hear(stand, 100.0, again=AGAIN | {"secondsRead": 40.0, "leading": False})
    after = " ".join(stand.locator("#time-left").inner_text().split())
    assert before.startswith("56 minutes 20")
    assert after.startswith("57 minutes 20")


def test_a_lead_in_that_is_partly_in_memory_is_said(stand: Page) -> None:
    stand.evaluate("recorder.known = false")
    press_again(stand)
    assert said(stand, "advice").startswith("Only the last of what comes before that sentence")


def test_a_place_that_is_not_in_memory_is_said(stand: Page) -> None:
    stand.evaluate("Object.assign(recorder, { known: false, leadInS: 0 })")
    stand.keyboard.press("a")
    stand.locator("#advice", has_text="That sentence began thirty seconds ago, and what").wait_for()
    assert said(stand, "state") == RECORDED
    assert names(stand)[-1] == "again led"


def test_where_nothing_can_be_played_reading_goes_on(stand: Page) -> None:
    # The line to the headphones was lost, and does not come back.
    stand.evaluate(
        """() => {
            Object.defineProperty(AudioContext.prototype, 'state', { get: () => 'suspended' })
            AudioContext.prototype.resume = () => new Promise(() => {})
        }"""
    )
    stand.keyboard.press("a")
    stand.locator("#advice", has_text="Nothing can be played just now.").wait_for()
    assert said(stand, "state") == RECORDED
    assert names(stand)[-2:] == ["again", "again led"]


def test_where_the_sound_never_ends_reading_goes_on(stand: Page) -> None:
    stand.evaluate("() => { AudioBufferSourceNode.prototype.addEventListener = () => {} }")
    press_again(stand, lead_in_s=0.2)
    stand.locator("#advice", has_text="Nothing can be played just now.").wait_for()
    assert names(stand)[-1] == "again led"


def test_a_press_that_is_refused_leads_out_of_the_lead_in(stand: Page) -> None:
    press_again(stand)
    stand.evaluate(
        "() => { recorder.again = () => Promise.reject(new Error('Not now, it says.')) }"
    )
    stand.keyboard.press("a")
    stand.locator("#advice", has_text="Not now, it says.").wait_for()
    assert said(stand, "state") == RECORDED
    assert names(stand)[-1] == "again led"


def test_a_second_pedal_takes_a_sentence_again(stand: Page) -> None:
    stand.keyboard.press("Space")
    phase(stand, "held")
    stand.get_by_role("link", name="Keys and pedal").click()
    stand.locator("#pedalAgain-learn").click()
    stand.keyboard.press("F9")
    stand.locator("#key-said", has_text="The pedal is set up. It sends “F9”.").wait_for()
    stand.evaluate("document.activeElement.blur()")
    stand.keyboard.press("F9")
    stand.locator("#state", has_text=LISTEN).wait_for()


def test_nothing_sounds_louder_than_half_nor_with_the_volume_at_nought(stand: Page) -> None:
    stand.evaluate(
        """() => {
            window.gains = []
            const value = Object.getOwnPropertyDescriptor(AudioParam.prototype, 'value')
            Object.defineProperty(AudioParam.prototype, 'value', {
                get() { return value.get.call(this) },
                set(to) { gains.push(to); value.set.call(this, to) },
            })
        }"""
    )
    for percent in (0, 100):
        stand.evaluate(
            """percent => {
                const volume = document.querySelector('#volume')
                volume.value = percent
                volume.dispatchEvent(new Event('input'))
            }""",
            percent,
        )
        press_again(stand, lead_in_s=0.1)
        stand.locator("#state", has_text=RECORDED).wait_for()
    # What is played has peaks of a tenth: with the volume at most it is doubled, no more.
    assert stand.evaluate("gains") == [0, 2]
