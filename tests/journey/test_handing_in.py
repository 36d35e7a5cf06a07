"""From the wire to the receipt, and from the wire into nothing: a served station, no browser."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener

import pytest
from websockets.exceptions import ConnectionClosed

from quietleaf.booth.replay import takes
from quietleaf.storage.reading_folder import create_reading
from quietleaf.storage.reading_places import folder_of
from quietleaf.work.practice_sitting import practice_of_sitting
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.finished import NOW, example_station, other_reading
from tests.handing_in import READER, sit
from tests.signals import speech_like
from tests.stand_client import Journal, Stand
from tests.waiting import wait_for


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


@pytest.fixture
def station(tools: Tools) -> Iterator[str]:
    """Serve that station."""
    with served(tools) as address:
        yield address


class Browser:
    """As much of a browser as forms and cookies need."""

    def __init__(self, address: str, sitting: str = "") -> None:
        self.address = address
        self.jar = CookieJar()
        self._opener: OpenerDirector = build_opener(HTTPCookieProcessor(self.jar))
        if sitting:
            self._opener.addheaders.append(("Cookie", f"quietleaf_sitting={sitting}"))

    def get(self, path: str) -> str:
        """Open a page."""
        with self._opener.open(f"{self.address}{path}") as answer:
            text: str = answer.read().decode()
        return text

    def post(self, path: str, **fields: str) -> tuple[int, str]:
        """Send a form and follow where it leads; give the status and the page."""
        asked = Request(f"{self.address}{path}", urlencode(fields).encode())
        try:
            with self._opener.open(asked) as answer:
                return answer.status, answer.read().decode()
        except HTTPError as refused:
            return refused.code, refused.read().decode()

    def cookie(self, name: str) -> str:
        """Give a cookie's value; empty where there is none."""
        return next((one.value or "" for one in self.jar if one.name == name), "")


def test_a_reading_comes_by_the_wire_and_is_handed_in(tools: Tools, station: str) -> None:
    folder = create_reading(tools.data, other_reading("courier-hour", "t5"), NOW, READER)
    browser = Browser(station, sit(tools, "readings:t5"))
    given = json.loads(browser.post("/stand/pass")[1])
    journal = Journal()
    stand = Stand(station, given["pass"], journal)
    journal.roll()
    journal.sound(speech_like(1, 3.0))
    journal.words()
    assert stand.send()
    # Still rolling: it is said how far the station is.
    status, page = browser.post("/stand/hand-in", remark="A door banged.")
    assert status == 409
    assert "Take 1 has not come to its end yet: the station has 3 seconds of it." in page
    assert "A door banged.</textarea>" in page
    journal.seal()
    assert stand.send()
    status, page = browser.post("/stand/hand-in", remark="A door banged.")
    assert status == 200
    assert "Your reading is safe on the station’s disk." in page
    (take,) = takes(folder.reload().standing).values()
    assert take.sha256[:8] in page

    def told() -> dict[str, object] | None:
        answer: dict[str, object] = json.loads(browser.get("/stand/receipt/verdict"))
        return answer if answer["over"] else None

    assert "heard" in str(wait_for(told)["sentence"])
    # What comes afterwards is nobody's surprise: it goes aside, and the reading stays.
    before = folder.reload().revision
    journal.roll()
    journal.sound(speech_like(2, 1.0))
    journal.seal()
    stand.send()
    assert wait_for(lambda: folder.reload().revision >= before)
    assert folder.state == "handed in"
    assert len(folder.takes()) == 1
    kinds = sorted(message.kind for message in tools.database.messages())
    assert kinds == ["late-sound", "remark"]


def test_a_practice_comes_by_the_wire_and_leaves_nothing(tools: Tools, station: str) -> None:
    browser = Browser(station)
    # The page it leads to asks for a microphone, which nobody has here.
    browser.post("/practice/begin", kind="practice")
    place = practice_of_sitting(browser.cookie("quietleaf_sitting"), tools)
    assert place is not None
    folder = folder_of(tools.data, place)
    given = json.loads(browser.post("/stand/pass")[1])
    assert given["reading"] == place
    journal = Journal()
    stand = Stand(station, given["pass"], journal)
    for seed in (1, 2):
        journal.roll()
        journal.sound(speech_like(seed, 2.0))
        journal.seal()
    assert stand.send()
    assert "You held once and went on." in browser.get("/practice/feedback")
    journal.roll()
    journal.sound(speech_like(3, 1.0))
    with stand.line() as line:
        stand.pour(line)
        assert "It is deleted" in browser.post("/practice/leave")[1]
        # What its open line still brings lands in no folder, and its end is refused: at once, it
        # may be, so that the line is closed while it is still being sent.
        journal.sound(speech_like(4, 1.0))
        journal.seal()
        with suppress(ConnectionClosed):
            stand.pour(line)
        assert stand.hear_until(line, "refused")["sentence"]
    # Nor by a new line.
    assert not stand.send()
    assert stand.told[-1]["kind"] == "refused"
    assert not folder.path.exists()
    left = [path for path in (tools.data / "practice").rglob("*") if not path.is_dir()]
    assert left == []
    assert tools.database.readings() == ()
    assert tools.database.messages() == ()
