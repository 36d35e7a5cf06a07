"""The stand in every state: by keyboard, by axe, by a live region; with sound that is only told.

What happens to real sound is tested in `test_stand_reading`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.standing import (
    REQUEST,
    AtTheStand,
    at_the_stand,
    practising,
    without_sound,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

AGAIN = {
    "starts": [5, 10, 15, 20, 25],
    "outside": [{"startS": 20.0, "stopS": 30.0}],
    "secondsRead": 22.0,
    "leading": True,
    "canUndo": True,
}
LOOKS: list[dict[str, Any]] = [
    {"color_scheme": "light"},
    {"color_scheme": "dark"},
    {"color_scheme": "light", "contrast": "more"},
    {"color_scheme": "light", "forced_colors": "active"},
    {"color_scheme": "dark", "forced_colors": "active"},
]


@pytest.fixture(scope="module")
def hour(tmp_path_factory: pytest.TempPathFactory) -> Iterator[AtTheStand]:
    """Serve an hour's slot that two people read."""
    with at_the_stand(tmp_path_factory.mktemp("hour")) as stand:
        yield stand


@pytest.fixture(scope="module")
def request_(tmp_path_factory: pytest.TempPathFactory) -> Iterator[AtTheStand]:
    """Serve a private request."""
    with at_the_stand(tmp_path_factory.mktemp("request"), REQUEST) as stand:
        yield stand


@pytest.fixture
def stand(browser: Browser, hour: AtTheStand) -> Iterator[Page]:
    """Give the stand of the hour, ready to begin."""
    context = hour.context(browser, viewport={"width": 1280, "height": 860})
    page = context.new_page()
    sit_down(page, hour)
    yield page
    context.close()


def sit_down(page: Page, at: AtTheStand) -> None:
    without_sound(page)
    page.goto(f"{at.address}/stand/reading")
    page.locator("[data-phase=held]").wait_for()


def hear(page: Page, rolled_s: float, **more: object) -> None:
    """Hear until so much was rolled, and let the page draw it."""
    page.evaluate("([rolledS, more]) => recorder.hearAll(rolledS, more)", [rolled_s, more])


def hear_on(page: Page, rolled_s: float) -> None:
    """Hear until what was just said on the page has had its time."""
    for _ in range(8):
        hear(page, rolled_s)


def tell(page: Page, name: str, **detail: object) -> None:
    page.evaluate("([name, detail]) => recorder.tell(name, detail)", [name, detail])


def station(page: Page, **detail: object) -> None:
    """Say how the station stands."""
    first = {"station": "well", "sentence": "", "behindS": 0.8, "keptS": 0, "queuedBytes": 9000}
    tell(page, "standing", **(first | detail))


def asked(page: Page) -> list[list[Any]]:
    """Give what the recorder was asked."""
    told: list[list[Any]] = page.evaluate("recorder.asked")
    return told


def said(page: Page, part: str) -> str:
    return page.locator(f"#{part}").inner_text().strip()


def phase(page: Page, wanted: str) -> None:
    page.locator(f"[data-phase={wanted}]").wait_for()


def be_ready(page: Page) -> None:
    phase(page, "held")


def begin(page: Page) -> None:
    page.keyboard.press("Space")
    phase(page, "rolling")
    hear(page, 8.0)
    station(page)


def be_held(page: Page) -> None:
    begin(page)
    page.keyboard.press("n")
    hear(page, 620.0)
    page.keyboard.press("Space")
    phase(page, "held")
    hear(page, 620.0, speaking=False)
    station(page, behindS=0, queuedBytes=0)


def fall_behind(page: Page) -> None:
    begin(page)
    station(page, station="away", behindS=95, queuedBytes=13_000_000)


def ask_for_help(page: Page) -> None:
    be_held(page)
    page.keyboard.press("h")
    page.get_by_text("The desk has been told.").first.wait_for()


def lose_the_microphone(page: Page) -> None:
    begin(page)
    tell(page, "lost-device", sentence="The desk microphone went away. Plug it in again.")
    phase(page, "lost")


def be_warned(page: Page) -> None:
    begin(page)
    page.keyboard.press("n")
    hear(page, 3480.0 - 119.0)


def close(page: Page) -> None:
    begin(page)
    page.keyboard.press("n")
    hear(page, 3465.0)
    page.locator("[data-words=closing]").wait_for()


def be_elsewhere_too(page: Page) -> None:
    tell(
        page,
        "standing",
        station="busy",
        sentence="Ada Fenwick is recording this in booth 1.",
        behindS=0,
        keptS=0,
        queuedBytes=0,
    )
    phase(page, "stopped")


def take_again(page: Page) -> None:
    begin(page)
    hear(page, 30.0)
    page.evaluate("recorder.leadInS = 120")
    page.keyboard.press("a")
    page.get_by_text("Listen, then read on from here.").first.wait_for()
    hear(page, 32.0, again=AGAIN)


def go_further_back(page: Page) -> None:
    take_again(page)
    page.keyboard.press("a")
    page.get_by_text("One sentence further back.").first.wait_for()


def be_led(page: Page) -> None:
    begin(page)
    hear(page, 30.0)
    page.evaluate("recorder.leadInS = 0.1")
    page.keyboard.press("a")
    page.locator("#advice", has_text="Read on.").wait_for()
    hear(page, 36.0, again=AGAIN | {"leading": False})


def be_held_after_again(page: Page) -> None:
    be_led(page)
    page.keyboard.press("Space")
    phase(page, "held")
    hear(page, 36.0, speaking=False, again=AGAIN | {"leading": False})


def open_all(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")


STATES: dict[str, Callable[[Page], None]] = {
    "before": be_ready,
    "rolling": begin,
    "held": be_held,
    "behind": fall_behind,
    "help": ask_for_help,
    "device lost": lose_the_microphone,
    "warned": be_warned,
    "closing due": close,
    "elsewhere too": be_elsewhere_too,
    "lead-in": take_again,
    "further back": go_further_back,
    "read again": be_led,
    "held after again": be_held_after_again,
    "settings open": open_all,
}


@pytest.mark.parametrize("state", STATES)
def test_axe_finds_nothing(browser: Browser, hour: AtTheStand, state: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    # axe is a script of the tests; the page's own policy would keep it out.
    context = hour.context(browser, bypass_csp=True)
    page = context.new_page()
    sit_down(page, hour)
    STATES[state](page)
    for look, width in [*((look, 1280) for look in LOOKS), (LOOKS[0], 640), (LOOKS[0], 320)]:
        page.emulate_media(
            color_scheme=look["color_scheme"],
            forced_colors=look.get("forced_colors", "none"),
            contrast=look.get("contrast", "no-preference"),
        )
        page.set_viewport_size({"width": width, "height": 800})
        found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
        assert [(rule["id"], node["html"]) for rule in found for node in rule["nodes"]] == []
    context.close()


@pytest.mark.parametrize("state", STATES)
def test_nothing_scrolls_sideways(stand: Page, state: str) -> None:
    STATES[state](stand)
    # 640 is 1280 at 200 % (WCAG 2.2, 1.4.4); 320 is 1280 at 400 % (1.4.10).
    for width in (1920, 1280, 1024, 900, 640, 433, 320):
        stand.set_viewport_size({"width": width, "height": 700})
        over = stand.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert over == 0, width


@pytest.mark.parametrize("state", [name for name in STATES if name != "settings open"])
def test_the_three_bands_keep_their_places(stand: Page, state: str) -> None:
    def places() -> list[tuple[float, float]]:
        boxes = [stand.locator(name).bounding_box() for name in ("#state", "#time-left", "#main")]
        return [(box["x"], box["y"]) for box in boxes if box is not None]

    before = places()
    STATES[state](stand)
    assert places() == before


@pytest.mark.parametrize("height", [860, 720])
@pytest.mark.parametrize("state", [name for name in STATES if name != "settings open"])
def test_all_of_it_is_on_one_screen(stand: Page, state: str, height: int) -> None:
    stand.set_viewport_size({"width": 1280, "height": height})
    STATES[state](stand)
    over = stand.evaluate(
        "document.documentElement.scrollHeight - document.documentElement.clientHeight"
    )
    assert over == 0


@pytest.mark.parametrize("name", ["Headphones", "Keys and pedal", "While you read"])
def test_what_is_seldom_needed_is_opened_from_above_and_left_again(stand: Page, name: str) -> None:
    way = stand.get_by_role("link", name=name)
    way.focus()
    stand.keyboard.press("Enter")
    assert stand.evaluate("document.activeElement.textContent") == name
    assert stand.evaluate("document.activeElement.localName") == "summary"
    assert stand.locator("details:visible").count() == 1
    stand.keyboard.press("Enter")
    stand.locator(".below").wait_for(state="hidden")
    stand.locator("a:focus", has_text=name).wait_for()
    # A page that is loaded again is the stand, whatever was open.
    stand.keyboard.press("Enter")
    stand.reload()
    phase(stand, "held")
    assert stand.evaluate("[scrollY, location.hash]") == [0, ""]


def test_type_and_controls_are_large(stand: Page) -> None:
    be_held(stand)
    open_all(stand)
    assert stand.evaluate("parseFloat(getComputedStyle(document.body).fontSize)") == 22
    smallest = stand.evaluate(
        """() => Math.min(...[...document.body.querySelectorAll('*')]
            .filter(part => [...part.childNodes].some(
                node => node.nodeType === Node.TEXT_NODE && node.textContent.trim()))
            .map(part => parseFloat(getComputedStyle(part).fontSize)))"""
    )
    assert smallest >= 16
    low = stand.evaluate(
        """() => [...document.querySelectorAll('.stand button:not(.run), .stand label')]
            .filter(part => part.checkVisibility() && part.getBoundingClientRect().height < 64)
            .map(part => part.outerHTML)"""
    )
    assert low == []


def test_everybody_is_named_and_filled_blanks_are_underlined(stand: Page) -> None:
    assert "read by Tomas Vale and Ada Fenwick" in stand.locator(".what .facts").inner_text()
    words = stand.locator("[data-words=opening] .print")
    assert "The reader is Tomas Vale and Ada Fenwick." in words.inner_text()
    marked = stand.locator("[data-words=opening] .filled").all_inner_texts()
    assert marked[-1] == "Tomas Vale and Ada Fenwick"
    decorations = stand.locator("[data-words=opening] .filled").evaluate_all(
        "parts => parts.map(part => getComputedStyle(part).textDecorationLine)"
    )
    assert set(decorations) == {"underline"}


def test_one_key_begins_holds_and_goes_on(stand: Page) -> None:
    assert said(stand, "state") == "Opening words. Breathe first, then press and read."
    stand.keyboard.press("Space")
    phase(stand, "rolling")
    assert said(stand, "state") == "You are being recorded."
    hear(stand, 8.0)
    stand.keyboard.press("n")
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert said(stand, "state") == "Held. Turn your page."
    stand.keyboard.press("Space")
    phase(stand, "rolling")
    assert asked(stand)[2:] == [
        ["roll"],
        ["words", "opening"],
        ["article", ""],
        ["hold"],
        ["roll"],
    ]


def test_a_key_held_down_acts_once(stand: Page) -> None:
    stand.keyboard.down("Space")
    stand.keyboard.down("Space")
    stand.keyboard.down("Space")
    stand.keyboard.up("Space")
    phase(stand, "rolling")
    assert [what for what, *_ in asked(stand)].count("roll") == 1


def test_an_article_that_comes_next_begins_with_the_next_word(stand: Page) -> None:
    be_held(stand)
    stand.keyboard.press("n")
    assert said(stand, "state") == "Held. A new article comes next."
    assert stand.locator("#article").get_attribute("aria-pressed") == "true"
    stand.keyboard.press("Space")
    phase(stand, "rolling")
    assert asked(stand)[-2:] == [["roll"], ["article", ""]]


def test_the_main_control_works_as_a_button_and_space_stays_with_it(stand: Page) -> None:
    stand.locator("#main").click()
    phase(stand, "rolling")
    hear(stand, 8.0)
    # A pointer leaves the focus on the main control, whatever it pressed.
    stand.locator("#article").click()
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert [what for what, *_ in asked(stand)].count("article") == 1
    stand.keyboard.press("Enter")
    phase(stand, "rolling")


def test_every_control_can_be_reached_and_pressed_by_tab_and_enter(stand: Page) -> None:
    be_held(stand)
    reached: list[str] = []
    for _ in range(20):
        stand.keyboard.press("Tab")
        reached.append(
            stand.evaluate(
                "document.activeElement.id || document.activeElement.className"
                " || document.activeElement.localName"
            )
        )
    for control in ("main", "article", "words", "help", "hear", "hand-in", "run"):
        assert control in reached, control
    stand.locator("#hear").focus()
    stand.keyboard.press("Enter")
    stand.get_by_text("You hear what you read.").first.wait_for()


def test_no_key_acts_while_a_field_has_the_focus(stand: Page) -> None:
    be_held(stand)
    before = asked(stand)
    open_all(stand)
    for field in ("#volume", "#keys-on"):
        stand.locator(field).focus()
        for key in ("n", "c", "l", "t"):
            stand.keyboard.press(key)
    stand.locator("#volume").focus()
    stand.keyboard.press("Space")
    assert said(stand, "state") == "Held. Turn your page."
    assert asked(stand) == before


def test_keys_can_be_switched_off_and_stay_so(stand: Page) -> None:
    open_all(stand)
    stand.locator("#keys-on").uncheck()
    assert not stand.locator("#main kbd").is_visible()
    stand.evaluate("document.activeElement.blur()")
    stand.keyboard.press("Space")
    stand.keyboard.press("h")
    assert said(stand, "help-said") == ""
    stand.reload()
    phase(stand, "held")
    assert not stand.locator("#main kbd").is_visible()
    stand.locator("#main").focus()
    stand.keyboard.press("Space")
    phase(stand, "rolling")


def test_a_key_is_changed(stand: Page) -> None:
    be_held(stand)
    open_all(stand)
    stand.get_by_role("button", name="Change the key for New article").click()
    stand.keyboard.press("c")
    assert "taken already" in said(stand, "key-said")
    stand.keyboard.press("m")
    assert said(stand, "key-said") == "That is “M” now."
    assert stand.locator("#article kbd").inner_text() == "M"
    stand.evaluate("document.activeElement.blur()")
    stand.keyboard.press("n")
    assert said(stand, "state") == "Held. Turn your page."
    stand.keyboard.press("m")
    assert said(stand, "state") == "Held. A new article comes next."
    stand.get_by_role("button", name="All as they were at first").click()
    assert stand.locator("#article kbd").inner_text() == "N"


def press_pedal(page: Page, kind: str = "rawKeyDown", **more: object) -> None:
    """Press F13, which Playwright has no name for."""
    page.context.new_cdp_session(page).send(
        "Input.dispatchKeyEvent",
        {"type": kind, "code": "F13", "key": "F13", "windowsVirtualKeyCode": 124, **more},
    )


def test_a_pedal_is_learned_by_pressing_it(stand: Page) -> None:
    open_all(stand)
    stand.locator("#pedal-learn").click()
    press_pedal(stand)
    stand.get_by_text("The pedal is set up. It sends “F13”.").wait_for()
    press_pedal(stand, "keyUp")
    press_pedal(stand)
    phase(stand, "rolling")
    press_pedal(stand, autoRepeat=True)
    press_pedal(stand, "keyUp")
    assert [what for what, *_ in asked(stand)].count("hold") == 0
    stand.reload()
    phase(stand, "held")
    press_pedal(stand)
    phase(stand, "rolling")


def test_each_state_is_told_by_one_live_region(stand: Page) -> None:
    stand.evaluate(
        """() => {
            window.told = []
            const region = document.querySelector('#told')
            new MutationObserver(() => told.push(region.textContent.trim()))
                .observe(region, {childList: true})
        }"""
    )
    begin(stand)
    stand.keyboard.press("n")
    hear(stand, 9.0)
    hear(stand, 3480.0 - 300.0)
    hear(stand, 3480.0 - 120.0)
    hear(stand, 3480.0 - 75.0)
    hear(stand, 3480.0 - 60.0)
    hear(stand, 3480.0 - 10.0)
    fall_behind_told = "The station is not answering. Read on; everything is kept here"
    station(stand, station="away", behindS=0.5)
    tell(stand, "missing", missingS=3.2)
    stand.keyboard.press("Space")
    phase(stand, "held")
    tell(stand, "lost-device", sentence="It went away.")
    phase(stand, "lost")
    told: list[str] = stand.evaluate("told")
    expected = [
        "You are being recorded.",
        "New article, marked.",
        "Five minutes left.",
        "Two minutes left.",
        "Look for a place to end.",
        "One minute left.",
        "Time for the closing words: press “Closing words”, and read them.",
        fall_behind_told,
        "About three seconds were not heard. Hold, and read that sentence again.",
        "Held. Turn your page.",
        "The microphone is gone. It went away.",
    ]
    assert len(told) == len(expected), told
    for sentence, wanted in zip(told, expected, strict=True):
        assert sentence.startswith(wanted)
    assert stand.locator("#stand [role=status]:visible").count() <= 2


def test_levels_are_never_told(stand: Page) -> None:
    begin(stand)
    before = stand.locator("#told").text_content()
    for second in range(9, 40):
        hear(stand, float(second), levelDbov=-20.0 - second % 7, speaking=bool(second % 3))
    assert stand.locator("#told").text_content() == before


def test_advice_is_one_sentence_that_lasts(stand: Page) -> None:
    begin(stand)
    assert not stand.locator("#advice").is_visible()
    for second in range(9, 22):
        hear(stand, float(second), voiceDbov=-45.0)
    assert said(stand, "advice").startswith("A little quiet. Come closer")


def test_time_left_is_seen_and_what_it_is_in_print(stand: Page) -> None:
    told = " ".join(said(stand, "time-left").split())
    assert told == "58 minutes to read about 8,700 words at a usual pace"
    begin(stand)
    hear(stand, 3480.0 - 1142.0)
    assert said(stand, "time-left").split()[:5] == ["19", "minutes", "02", "seconds", "left"]


def test_the_opening_words_tell_how_fast_this_reader_reads(stand: Page) -> None:
    stand.keyboard.press("Space")
    phase(stand, "rolling")
    # 31 words in 9.3 s are 200 a minute; 150 count as if heard for 20 s.
    hear(stand, 9.3)
    stand.keyboard.press("n")
    stand.get_by_text("at your pace").wait_for()
    hear(stand, 3480.0 - 1142.0)
    # (150 x 20 + 200 x 9.3) / 29.3 = 165.9 a minute, for 19:02 less the closing words of 31.
    assert "about 3,100 words at your pace" in " ".join(said(stand, "time-left").split())


def test_closing_words_come_when_they_are_due_and_are_marked_by_key(stand: Page) -> None:
    close(stand)
    assert "read by Tomas Vale and Ada Fenwick" in said(stand, "say")
    assert "due" in (stand.locator("#words").get_attribute("class") or "")
    stand.keyboard.press("c")
    hear(stand, 3470.0)
    assert asked(stand)[-1] == ["words", "closing"]
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert said(stand, "state") == "Held. Your closing words are read."
    assert stand.locator("#hand-in").is_visible()


def test_sound_that_was_not_heard_is_told(stand: Page) -> None:
    begin(stand)
    tell(stand, "missing", missingS=3.2)
    hear_on(stand, 9.0)
    assert said(stand, "advice").startswith("About three seconds were not heard.")
    assert "read that sentence again" in said(stand, "advice")


def test_what_was_said_of_one_state_is_gone_in_the_next(stand: Page) -> None:
    begin(stand)
    stand.keyboard.press("n")
    stand.locator("#advice", has_text="New article, marked.").wait_for()
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert not stand.locator("#advice").is_visible()
    stand.keyboard.press("l")
    stand.locator("#advice", has_text="You hear what you read.").wait_for()
    stand.keyboard.press("l")
    stand.locator("#advice").wait_for(state="hidden")
    # What is still to be done stays: it is done while held.
    stand.keyboard.press("Space")
    phase(stand, "rolling")
    tell(stand, "missing", missingS=3.2)
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert said(stand, "advice").startswith("About three seconds were not heard.")


def test_what_was_said_goes_where_nothing_is_heard_either(stand: Page) -> None:
    begin(stand)
    stand.keyboard.press("n")
    stand.locator("#advice", has_text="New article, marked.").wait_for()
    stand.locator("#heard", has_text="Nothing comes from the microphone just now.").wait_for()
    stand.locator("#advice").wait_for(state="hidden")


def test_a_recorder_that_tells_nothing_is_noticed(stand: Page) -> None:
    begin(stand)
    stand.locator("#heard", has_text="Nothing comes from the microphone just now.").wait_for()
    hear(stand, 9.0)
    stand.locator("#heard", has_text="The microphone hears you.").wait_for()


def test_time_left_is_spoken_while_held_and_only_shown_while_rolling(stand: Page) -> None:
    stand.evaluate(
        "() => { window.spoken = []; speechSynthesis.speak = words => spoken.push(words.text) }"
    )
    begin(stand)
    stand.keyboard.press("t")
    assert stand.evaluate("spoken") == []
    assert (stand.locator("#told").text_content() or "").startswith("57 minutes 52 left")
    stand.keyboard.press("Space")
    phase(stand, "held")
    stand.keyboard.press("t")
    assert stand.evaluate("spoken") == ["57 minutes 52 left"]


def test_a_private_request_shows_no_clock(browser: Browser, request_: AtTheStand) -> None:
    context = request_.context(browser)
    page = context.new_page()
    sit_down(page, request_)
    assert page.locator("time-left, slot-column").count() == 0
    assert page.get_by_text("Take the time it needs.").is_visible()
    begin(page)
    page.keyboard.press("n")
    hear_on(page, 5000.0)
    assert not page.locator("#advice").is_visible()
    context.close()


def test_the_strip_has_a_text_twin(stand: Page) -> None:
    strip = stand.locator("#strip")
    assert strip.locator(".unseen").text_content() == "Nothing has been read on this page yet."
    stand.keyboard.press("Space")
    phase(stand, "rolling")
    hear(stand, 32.0)
    drawn = strip.locator(".run").count()
    assert strip.locator(".unseen").text_content() == (
        "In the last half minute: six stretches of speech, and you are speaking now."
    )
    assert drawn >= 6
    stand.keyboard.press("Space")
    phase(stand, "held")
    names = strip.get_by_role("button").evaluate_all(
        "runs => runs.map(run => run.getAttribute('aria-label'))"
    )
    assert names[-1].startswith("Hear ")
    assert names[-1].endswith(" from two seconds ago")


def test_a_block_of_the_strip_is_heard(stand: Page) -> None:
    stand.keyboard.press("Space")
    phase(stand, "rolling")
    hear(stand, 32.0)
    stand.keyboard.press("Space")
    phase(stand, "held")
    hear(stand, 32.0)
    stand.locator("#strip").get_by_role("button").last.focus()
    stand.keyboard.press("ArrowLeft")
    stand.keyboard.press("ArrowLeft")
    stand.keyboard.press("Enter")
    stand.get_by_text("You hear what you read.").first.wait_for()
    what, place = asked(stand)[-1]
    assert what == "recent"
    assert place["start"] == 20 * 44_100
    assert said(stand, "state") == "Held. Turn your page."
    stand.keyboard.press("l")
    assert stand.locator("#hear .word").inner_text() == "Hear it"


def test_what_is_played_stops_before_rolling(stand: Page) -> None:
    be_held(stand)
    stand.keyboard.press("l")
    stand.get_by_text("You hear what you read.").first.wait_for()
    stand.keyboard.press("Space")
    phase(stand, "rolling")
    assert not stand.locator("#hear").is_visible()


def test_help_is_asked_for_and_seen(stand: Page, hour: AtTheStand) -> None:
    ask_for_help(stand)
    asking = hour.tools.database.messages(open_only=True)
    assert {(message.kind, message.booth, message.reader) for message in asking} == {
        ("help", "booth-2", "Tomas Vale")
    }
    for message in asking:
        hour.tools.database.see_message(message.message_id, message.at)
    stand.get_by_text("Somebody at the desk has seen").first.wait_for()


def test_a_lost_microphone_holds_and_leads_back(stand: Page) -> None:
    lose_the_microphone(stand)
    assert said(stand, "advice") == "The desk microphone went away. Plug it in again."
    assert stand.locator("#main .word").inner_text() == "Try again"
    # What the sentences about a microphone name is there to be pressed, as long as it is gone.
    other = stand.get_by_role("link", name="Choose another microphone")
    assert other.is_visible()
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert not other.is_visible()


def test_somebody_elsewhere_can_be_taken_over_from(stand: Page) -> None:
    be_elsewhere_too(stand)
    assert said(stand, "advice") == "Ada Fenwick is recording this in booth 1."
    stand.keyboard.press("Space")
    assert asked(stand)[-1] == ["take over"]
    station(stand, behindS=0, queuedBytes=0)
    phase(stand, "held")


def test_a_rest_is_suggested_at_the_next_hold_after_forty_minutes(stand: Page) -> None:
    begin(stand)
    stand.keyboard.press("n")
    hear_on(stand, 2460.0)
    assert not stand.locator("#advice").is_visible()
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert said(stand, "advice").startswith("You have read for forty minutes. Rest your voice")


def test_leaving_is_asked_back_only_while_something_is_unsent(stand: Page) -> None:
    leaves = "() => !dispatchEvent(new Event('beforeunload', {cancelable: true}))"
    assert stand.evaluate(leaves) is False
    begin(stand)
    assert stand.evaluate(leaves) is True
    stand.keyboard.press("Space")
    phase(stand, "held")
    assert stand.evaluate(leaves) is True
    station(stand, behindS=0, queuedBytes=0)
    assert stand.evaluate(leaves) is False


def test_handing_in_waits_for_the_station(stand: Page) -> None:
    be_held(stand)
    station(stand, behindS=3, queuedBytes=9000)
    stand.get_by_role("button", name="Hand in").click()
    phase(stand, "leaving")
    assert said(stand, "advice").startswith("The last three seconds go to the station’s disk.")
    with stand.expect_request("**/stand/hand-in"):
        station(stand, behindS=0, queuedBytes=0)


def test_nothing_moves_but_strip_and_figure_while_rolling(stand: Page) -> None:
    begin(stand)
    stand.keyboard.press("n")
    hear_on(stand, 500.0)
    stand.evaluate(
        """() => {
            window.moved = new Set()
            new MutationObserver(changes => {
                for (const change of changes) {
                    const part = change.target.parentElement ?? change.target
                    const owner = part.closest('sentence-strip, time-left, slot-column, [id]')
                    moved.add(owner.id)
                }
            }).observe(document.body, {subtree: true, childList: true, characterData: true,
                                       attributes: true})
        }"""
    )
    for second in range(501, 530):
        hear(stand, float(second))
    assert set(stand.evaluate("[...moved]")) <= {"strip", "time-left", "slot-column"}
    assert stand.evaluate("document.getAnimations().length") == 0


def test_the_page_is_drawn_at_most_twice_a_second(stand: Page) -> None:
    begin(stand)
    stand.evaluate(
        """() => {
            window.draws = 0
            const strip = document.querySelector('#strip')
            const show = strip.show
            strip.show = function (...given) { draws += 1; return show.apply(this, given) }
        }"""
    )
    # Ten are heard a second.
    stand.evaluate("() => { for (let i = 0; i < 100; i += 1) recorder.hear(20 + i / 10) }")
    assert stand.evaluate("draws") <= 20


def test_a_reader_who_wants_less_motion_has_none(browser: Browser, hour: AtTheStand) -> None:
    context = hour.context(browser, reduced_motion="reduce")
    page = context.new_page()
    sit_down(page, hour)
    begin(page)
    moving = page.evaluate(
        """() => [...document.querySelectorAll('*')].filter(part => {
            const style = getComputedStyle(part)
            return style.animationName !== 'none' || parseFloat(style.transitionDuration) > 0
        }).length"""
    )
    assert moving == 0
    context.close()


def test_without_a_microphone_the_way_out_is_told(browser: Browser, hour: AtTheStand) -> None:
    context = hour.context(browser)
    page = context.new_page()
    page.add_init_script("window.microphoneRefused = 'The browser was told not to listen.'")
    without_sound(page)
    page.goto(f"{hour.address}/stand/reading")
    phase(page, "lost")
    assert said(page, "advice") == "The browser was told not to listen."
    context.close()


def test_practice_is_led_from_word_to_word(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    with practising(tmp_path_factory.mktemp("practice"), "practice") as at:
        context = at.context(browser)
        page = context.new_page()
        sit_down(page, at)
        assert page.get_by_text("Nobody else hears this.").is_visible()
        shown = page.locator("[data-words]:visible")

        def places() -> list[object]:
            return [page.locator(part).bounding_box() for part in ("#say", "#main")]

        steps = [
            ("", "opening", "Press the large control"),
            ("Space", "opening", "Read them to the end. Then press “New article”"),
            ("n", "page-0", "Read this page. In its second sentence slip, stop,"),
            ("a", "page-0", "Read that sentence from its start, and on"),
            ("Space", "page-1", "Turn your page"),
            ("Space", "page-1", "Read this page. At its end press “Closing words”"),
            ("c", "closing", "Read them to the end, then press “Hold”."),
        ]
        for second, (key, words, sentence) in enumerate(steps):
            if key:
                page.keyboard.press(key)
            page.locator("#more", has_text=sentence).wait_for()
            hear(page, 5.0 * (second + 1))
            assert shown.get_attribute("data-words") == words
            if key == "n":
                # Words stay where they are read while something is said, and after.
                page.locator("#advice", has_text="New article, marked.").wait_for()
                before = places()
                hear_on(page, 5.0 * (second + 1))
                assert not page.locator("#advice").is_visible()
                assert places() == before
            if key == "a":
                assert places() == before
        page.keyboard.press("Space")
        page.locator("#more", has_text="That is all. Press “See how it went”.").wait_for()
        assert page.get_by_role("button", name="See how it went").is_visible()
        assert shown.count() == 0
        context.close()


def test_trying_it_out_asks_for_nothing_but_a_voice(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    with practising(tmp_path_factory.mktemp("try-out"), "try-out") as at:
        context = at.context(browser)
        page = context.new_page()
        sit_down(page, at)
        assert said(page, "more").startswith("Say whatever you like")
        begin(page)
        assert said(page, "more").startswith("Press “Hold”")
        page.keyboard.press("Space")
        phase(page, "held")
        # There is no page to turn, and nothing to read on.
        assert said(page, "state") == "Held."
        assert said(page, "more") == "Press “See how it went”, or “Go on” to say more."
        for control in ("Go on", "See how it went", "Hear it"):
            assert page.get_by_role("button", name=control).is_visible()
        assert not page.locator("#article").is_visible()
        assert not page.locator("#twice").is_visible()
        context.close()
