"""The room check in a real browser: a known sound as the microphone, and every trouble with one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.booth.edits import RoomChecked
from tests import helpers
from tests.browser.microphone import RATE_HZ, SCALE, microphone_flags, write_microphone
from tests.browser.serving import served
from tests.browser.standing import AtTheStand, at_the_stand, practising
from tests.voices import RATE_HZ as VOICE_RATE_HZ
from tests.voices import Made

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

LOOKS: list[dict[str, Any]] = [
    {"color_scheme": "light"},
    {"color_scheme": "dark", "reduced_motion": "reduce"},
    {"color_scheme": "dark", "forced_colors": "active"},
]
WIDTHS = ((1280, 1), (640, 2), (320, 4))
"""WCAG 2.2: 640 is 1280 at 200 % (1.4.4), 320 is 1280 at 400 % (1.4.10)."""
STEPS = (
    "allow",
    "trouble",
    "ready",
    "sentence",
    "still",
    "playing",
    "plosives",
    "measuring",
    "result",
)
# A voice until 5.5 s; quiet until 14 s, with room for a slow machine; then a voice again.
READ_S, AGAIN_S, READ_AGAIN_S = 6.2, 14.0, 19.0


def voice(seconds: float) -> NDArray[np.float64]:
    """Make a voice at the microphone's rate."""
    made = Made(seed=5, room_dbov=-90.0)
    made.speech(seconds)
    sound = made.samples()
    at = np.arange(round(seconds * RATE_HZ)) * (VOICE_RATE_HZ / RATE_HZ)
    return np.asarray(np.interp(at, np.arange(sound.size), sound))


def reader(hum_dbov: float | None) -> NDArray[np.int32]:
    """Make what the microphone hears of a reader who does as the page says, hum of 50 Hz in it."""
    sound = np.random.default_rng(2).normal(size=30 * RATE_HZ) * 10 ** (-75 / 20)
    for start_s, stop_s in ((0.5, 5.5), (AGAIN_S, AGAIN_S + 4.5)):
        said = voice(stop_s - start_s)
        sound[round(start_s * RATE_HZ) :][: said.size] += said
    if hum_dbov is not None:
        time_s = np.arange(sound.size) / RATE_HZ
        hum = sum(np.sin(2 * np.pi * 50.0 * k * time_s) / k for k in (1, 2, 3, 4, 5, 6))
        sound += hum / np.sqrt(np.mean(hum**2)) * 10 ** (hum_dbov / 20)
    return np.rint(sound * SCALE).astype(np.int32)


@contextmanager
def browser_with(browser: Browser, folder: Path, *flags: str) -> Iterator[Browser]:
    """Run another browser with flags of its own."""
    with helpers.running_browser(folder / "profile", flags=flags) as (_, address):
        connected = browser.browser_type.connect_over_cdp(address)
        yield connected
        connected.close()


@pytest.fixture
def at(tmp_path: Path) -> Iterator[AtTheStand]:
    """Open a reading at the stand."""
    with at_the_stand(tmp_path / "station") as opened:
        yield opened


def until(page: Page, holds: str) -> None:
    """Wait until an expression holds; Playwright's own way needs what the pages' policy forbids."""
    page.evaluate(
        f"() => {{ const holds = () => {holds}"
        """
            return new Promise((done, late) => {
                const end = performance.now() + 50_000
                const look = () => {
                    if (holds()) done()
                    else if (performance.now() > end) late(new Error('it never held'))
                    else setTimeout(look, 20)
                }
                look()
            })
        }"""
    )


def until_step(page: Page, step: str) -> None:
    """Wait until the page shows a step."""
    until(page, f"!document.querySelector('[data-step={step}]').hidden")


def heading(page: Page) -> str:
    """Give the text of what has the focus."""
    words: str = page.evaluate("document.activeElement.textContent")
    return words


def press(page: Page, name: str) -> None:
    """Tab to a button and press it by key."""
    for _ in range(20):
        page.keyboard.press("Tab")
        if heading(page).strip() == name:
            page.keyboard.press("Enter")
            return
    raise AssertionError(f"no Tab reaches {name!r}")


def heard_for(page: Page, seconds: float) -> None:
    """Wait until the microphone that the page opened last has given so much."""
    until(page, f"performance.now() - window.openedAt > {1000 * seconds}")


def watch_opening(page: Page) -> None:
    """Note when the page opens a microphone: what the file plays begins then."""
    page.add_init_script(
        """{
            const media = navigator.mediaDevices
            const ask = media.getUserMedia.bind(media)
            media.getUserMedia = async (wanted) => {
                const stream = await ask(wanted)
                window.openedAt = performance.now()
                window.lastTrack = stream.getAudioTracks()[0]
                return stream
            }
        }"""
    )


def do_check(page: Page) -> None:
    """Do as the page says, by keyboard, as the file speaks."""
    press(page, "Begin the room check")
    until_step(page, "sentence")
    assert heading(page) == "Read this aloud, as you will read today"
    heard_for(page, READ_S)
    press(page, "I have read it")
    until_step(page, "still")
    assert heading(page) == "Now keep still"
    until(page, "document.getElementById('left').textContent === 'One second more.'")
    until_step(page, "plosives")
    heard_for(page, READ_AGAIN_S)
    press(page, "I have read it")
    until_step(page, "result")


def axe(page: Page) -> list[tuple[str, str]]:
    """Give what axe finds."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [(rule["id"], node["html"]) for rule in found for node in rule["nodes"]]


def checks_of(at: AtTheStand) -> list[RoomChecked]:
    """Give the room checks in the reading's ledger."""
    happened = [edit.what for edit in at.folder.reload().ledger()]
    return [what for what in happened if isinstance(what, RoomChecked)]


def test_a_reader_checks_a_humming_room_by_keyboard_alone(
    browser: Browser, at: AtTheStand, tmp_path: Path
) -> None:
    sound = reader(hum_dbov=-50.0)
    path = tmp_path / "microphone.wav"
    write_microphone(path, np.zeros_like(sound), sound)
    with browser_with(browser, tmp_path, *microphone_flags(path)) as hearing:
        page = at.context(hearing).new_page()
        watch_opening(page)
        page.goto(at.address + "/stand/room")
        until(
            page,
            "['allow', 'ready'].some(step => "
            "!document.querySelector(`[data-step=${step}]`).hidden)",
        )
        if page.locator("[data-step=allow]").is_visible():
            press(page, "Switch the microphone on")
        until_step(page, "ready")
        do_check(page)
        assert heading(page) == "You can read like this. Something would make it better."
        (advice,) = page.locator("#advice li").all_inner_texts()
        assert advice.startswith("There is hum of the mains (50.0 Hz).")
        page.locator("summary").click()
        rows = page.locator("#measures tr").all_inner_texts()
        assert rows[0].startswith("Microphone\ton the right side; the other is empty")

        (kept,) = checks_of(at)
        assert kept.file == "room/0001.wav"
        tone, rate_hz = soundfile.read(at.folder.path / kept.file, dtype="int32")
        assert rate_hz == RATE_HZ
        # As long as the still seconds were, and what was fed, to the last bit, from the right side.
        assert 4.5 < tone.size / rate_hz < 7.0
        fed = sound.astype("<i4")
        assert (np.ascontiguousarray(tone >> 8)).tobytes() in fed.tobytes()
        assert kept.facts["side"] == "right"
        assert kept.facts["advice"] == ["hum"]
        assert kept.facts["hum"]["frequency_hz"] == pytest.approx(50.0, abs=0.1)
        # Five seconds are too few for the sentence that was to be read: no pace is made of them.
        assert at.tools.database.pace("Tomas Vale") is None

        # The next time it can go by this, and the page knows the microphone and its side.
        page.goto(at.address + "/stand/room")
        until_step(page, "ready")
        side = page.evaluate("JSON.parse(localStorage.getItem('quietleaf:microphone')).side")
        assert side == "right"
        press(page, "The same as last time: go on")
        page.wait_for_url("**/stand/reading")
        assert "as_before" in checks_of(at)[-1].facts


def test_a_quiet_room_is_good_and_leads_to_the_reading(
    browser: Browser, at: AtTheStand, tmp_path: Path
) -> None:
    path = tmp_path / "microphone.wav"
    sound = reader(hum_dbov=None)
    write_microphone(path, sound, sound)
    with browser_with(browser, tmp_path, *microphone_flags(path)) as hearing:
        context = at.context(hearing, viewport={"width": 1280, "height": 800})
        page = context.new_page()
        watch_opening(page)
        page.goto(at.address + "/stand/room")
        until(page, "document.querySelector('[data-step=waiting]').hidden")
        if page.locator("[data-step=allow]").is_visible():
            press(page, "Switch the microphone on")
        until_step(page, "ready")
        page.get_by_label("I wear headphones").check()
        do_check(page)
        assert checks_of(at)[-1].facts["leak"] is None
        assert checks_of(at)[-1].facts["advice"] == []
        assert heading(page) == "All is well. You can read."
        assert checks_of(at)[-1].facts["channels"] == 1
        press(page, "Go on to the reading")
        page.wait_for_url("**/stand/reading")
        # The microphone that was checked is found again there, though ids may be new by then.
        until(page, "document.getElementById('stand').dataset.phase === 'held'")
        page.keyboard.press("Space")
        until(page, "document.getElementById('state').textContent === 'You are being recorded.'")


def test_what_should_be_put_right_stands_before_going_on_as_it_is(
    browser: Browser, at: AtTheStand, tmp_path: Path
) -> None:
    path = tmp_path / "microphone.wav"
    # Nothing but its own noise: a microphone that hears nobody.
    write_microphone(path, np.random.default_rng(3).integers(-6000, 6000, 30 * RATE_HZ, np.int32))
    with browser_with(browser, tmp_path, *microphone_flags(path)) as hearing:
        page = at.context(hearing).new_page()
        page.goto(at.address + "/stand/room")
        until(page, "document.querySelector('[data-step=waiting]').hidden")
        if page.locator("[data-step=allow]").is_visible():
            press(page, "Switch the microphone on")
        until_step(page, "ready")
        box = page.get_by_label("I wear headphones").bounding_box()
        assert box is not None
        # WCAG 2.2, 2.5.5; 24 would do for 2.5.8.
        assert min(box["width"], box["height"]) >= 44
        press(page, "Begin the room check")
        until_step(page, "sentence")
        press(page, "I have read it")
        until_step(page, "plosives")
        press(page, "I have read it")
        until_step(page, "result")
        assert heading(page) == "Put this right before you read, if you can."
        (advice,) = page.locator("#advice li").all_inner_texts()
        assert advice.startswith("No voice stood out from the five still seconds.")
        page.keyboard.press("Tab")
        assert heading(page) == "Do it again"
        page.keyboard.press("Tab")
        assert heading(page) == "Read with it as it is"
        page.keyboard.press("Enter")
        page.wait_for_url("**/stand/reading")


def test_a_microphone_that_goes_away_or_is_muted_is_told(
    browser: Browser, at: AtTheStand, tmp_path: Path
) -> None:
    path = tmp_path / "microphone.wav"
    sound = reader(hum_dbov=None)
    write_microphone(path, sound)
    with browser_with(browser, tmp_path, *microphone_flags(path)) as hearing:
        page = at.context(hearing).new_page()
        watch_opening(page)
        page.goto(at.address + "/stand/room")
        until(page, "document.querySelector('[data-step=waiting]').hidden")
        if page.locator("[data-step=allow]").is_visible():
            press(page, "Switch the microphone on")
        for event, told in (
            ("ended", "The microphone went away."),
            ("mute", "The microphone is switched off."),
        ):
            until_step(page, "ready")
            press(page, "Begin the room check")
            until_step(page, "sentence")
            page.evaluate(f"window.lastTrack.dispatchEvent(new Event('{event}'))")
            until_step(page, "trouble")
            assert page.locator("#trouble").inner_text().startswith(told)
            assert heading(page) == "The microphone cannot be used yet"
            assert page.evaluate("window.lastTrack.readyState") == "ended"
            press(page, "Try again")
        # A list that has it no more says the same, though the track itself says nothing.
        until_step(page, "ready")
        press(page, "Begin the room check")
        until_step(page, "sentence")
        page.evaluate("navigator.mediaDevices.enumerateDevices = async () => []")
        until_step(page, "trouble")
        assert page.locator("#trouble").inner_text().startswith("The microphone went away.")


def test_another_microphone_is_never_taken_silently(
    browser: Browser, at: AtTheStand, tmp_path: Path
) -> None:
    path = tmp_path / "microphone.wav"
    write_microphone(path, reader(hum_dbov=None))
    with browser_with(browser, tmp_path, *microphone_flags(path)) as hearing:
        page = at.context(hearing).new_page()
        page.add_init_script(
            "localStorage.setItem('quietleaf:microphone', "
            """'{"deviceId": "away", "label": "The good one"}')"""
        )
        page.goto(at.address + "/stand/room")
        until(page, "document.querySelector('[data-step=waiting]').hidden")
        if page.locator("[data-step=allow]").is_visible():
            press(page, "Switch the microphone on")
        until_step(page, "trouble")
        assert "chosen for this booth is not there" in page.locator("#trouble").inner_text()
        # And where the list of devices would not tell, the browser does.
        fault = page.evaluate(
            """async () => {
                const { openMicrophone } = await import('/static/scripts/audio/microphone.js')
                return openMicrophone().then(() => 'opened', (fault) => fault.code)
            }"""
        )
        assert fault == "not-there"
        # Settings that come back changed are refused too.
        fault = page.evaluate(
            """async () => {
                const settings = MediaStreamTrack.prototype.getSettings
                MediaStreamTrack.prototype.getSettings = function () {
                    return { ...settings.call(this), echoCancellation: true }
                }
                const { openMicrophone } = await import('/static/scripts/audio/microphone.js')
                return openMicrophone(null).then(() => 'opened', (fault) => fault.code)
            }"""
        )
        assert fault == "altered"


@pytest.mark.parametrize(
    ("flags", "told"),
    [
        (
            ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream=deny"),
            "The browser does not let this page hear.",
        ),
        # A machine for tests has no sound card.
        ((), "No microphone is plugged into this computer."),
    ],
    ids=["refused", "none"],
)
def test_no_permission_and_no_microphone_are_told(
    browser: Browser, at: AtTheStand, tmp_path: Path, flags: tuple[str, ...], told: str
) -> None:
    with browser_with(browser, tmp_path, *flags) as deaf:
        page = at.context(deaf).new_page()
        if not flags:
            page.add_init_script(
                "if (navigator.mediaDevices) "
                "navigator.mediaDevices.enumerateDevices = async () => []"
            )
        page.goto(at.address + "/stand/room")
        until(page, "document.querySelector('[data-step=waiting]').hidden")
        if page.locator("[data-step=allow]").is_visible():
            press(page, "Switch the microphone on")
        until_step(page, "trouble")
        assert page.locator("#trouble").inner_text().startswith(told)
        # One can go on to read all the same, and that is kept.
        press(page, "Go on without a room check")
        page.wait_for_url("**/stand/reading")
        assert [what.facts for what in checks_of(at)] == [{"passed_over": True}]


def test_an_insecure_address_is_told(browser: Browser, tmp_path: Path) -> None:
    # Loopback is always a secure place; the same station under a name of the network is not.
    with (
        at_the_stand(tmp_path / "station") as at,
        served(at.tools, hosts=None) as anywhere,
        browser_with(browser, tmp_path, "--host-resolver-rules=MAP studio.lan 127.0.0.1") as other,
    ):
        address = anywhere.replace("127.0.0.1", "studio.lan")
        context = other.new_context()
        context.add_cookies([{"name": "quietleaf_sitting", "value": at.secret, "url": address}])
        page = context.new_page()
        page.goto(address + "/stand/room")
        until_step(page, "trouble")
        assert "begins with https://" in page.locator("#trouble").inner_text()


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: " ".join(look.values()))
def test_axe_finds_nothing_at_any_step_and_nothing_scrolls_sideways(
    browser: Browser, at: AtTheStand, look: dict[str, Any]
) -> None:
    page = at.context(browser, bypass_csp=True, **look).new_page()
    page.goto(at.address + "/stand/room")
    until(page, "document.querySelector('[data-step=waiting]').hidden")
    page.evaluate(
        """() => {
            document.getElementById('result-title').textContent = 'All is well.'
            document.getElementById('go-on').textContent = 'Go on to the reading.'
            document.getElementById('trouble').textContent = 'Something is missing.'
            document.getElementById('advice').innerHTML = '<li>Come closer.</li>'
            document.getElementById('measures').innerHTML =
                '<tr><th scope="row">Voice over the room</th><td>enough</td><td>52 dB</td></tr>'
            document.getElementById('microphone').innerHTML = '<option>A long name of a device'
            for (const id of ['advice', 'microphones', 'last', 'choose']) {
                document.getElementById(id).hidden = false
            }
            document.querySelector('details').open = true
        }"""
    )
    for width, scale in WIDTHS:
        page.set_viewport_size({"width": width, "height": 800})
        for step in STEPS:
            page.evaluate(
                """(step) => {
                    for (const part of document.querySelectorAll('[data-step]')) {
                        part.hidden = part.dataset.step !== step
                    }
                }""",
                step,
            )
            if scale != 2:
                assert axe(page) == [], step
            wide = page.evaluate(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            assert wide <= 0, (width, step)


def test_a_browser_without_track_processor_is_checked_through_the_audio_graph(
    browser: Browser, at: AtTheStand, tmp_path: Path
) -> None:
    path = tmp_path / "microphone.wav"
    write_microphone(path, reader(hum_dbov=None))
    with browser_with(browser, tmp_path, *microphone_flags(path)) as hearing:
        page = at.context(hearing).new_page()
        page.add_init_script("delete window.MediaStreamTrackProcessor")
        watch_opening(page)
        page.goto(at.address + "/stand/room")
        heard = page.evaluate(
            """async () => {
                const { openMicrophone } = await import('/static/scripts/audio/microphone.js')
                const { Ear } = await import('/static/scripts/audio/ear.js')
                const { track } = await openMicrophone(null)
                const ear = await Ear.open(track)
                await new Promise((done) => {
                    const look = () => {
                        if ((ear.heard()[0]?.length ?? 0) > 44100) done()
                        else setTimeout(look, 50)
                    }
                    look()
                })
                ear.close()
                return [ear.rate, Math.max(...ear.heard()[0]) > 0.05]
            }"""
        )
        assert heard == [RATE_HZ, True]


def test_a_practice_has_the_same_check(browser: Browser, tmp_path: Path) -> None:
    with practising(tmp_path / "station", "try-out") as at:
        page = at.context(browser).new_page()
        page.goto(at.address + "/stand/room")
        until(page, "document.querySelector('[data-step=waiting]').hidden")
        page.get_by_role("button", name="Go on without a room check").click()
        page.wait_for_url("**/stand/reading")
        assert [what.facts for what in checks_of(at)] == [{"passed_over": True}]
