"""What a reader meets of a reading that came back: today, at the stand, and afterwards."""

from __future__ import annotations

import html
import io
import json
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
import soundfile
from starlette.testclient import TestClient

from quietleaf.booth.edits import StateSet
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.web import sent_back_texts
from quietleaf.web.app import make_app
from quietleaf.work.sent_back import Asked, SentBack
from quietleaf.work.sit_down import new_sitting
from quietleaf.work.tools import Tools
from tests.coming import Clock, coming_station
from tests.returned import READER, returned

ONE = SentBack(
    number=4,
    asked=(Asked(remark="text", note="the price."),),
    start=(1, 0),
    stop=(1, 9),
    at_s=760.4,
    length_s=7.6,
    sentences=1,
    is_read=False,
)


@pytest.fixture(scope="module")
def tools(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tools]:
    clock = Clock()
    clock.move(hours=-5)
    with coming_station(tmp_path_factory.mktemp("station"), clock) as made:
        yield made


@pytest.fixture(scope="module")
def folder(tools: Tools) -> ReadingFolder:
    return returned(tools, (3, "the price"), note="A fine reading otherwise.")


def client(tools: Tools, reading: str | None = None) -> TestClient:
    secret = new_sitting(READER, tools, booth="booth-1", reading=reading)
    return TestClient(
        make_app(tools),
        "http://127.0.0.1",
        client=("127.0.0.1", 50_000),
        cookies={"quietleaf_sitting": secret},
        follow_redirects=False,
    )


def test_it_stands_among_what_is_read_today(tools: Tools, folder: ReadingFolder) -> None:
    assert folder.state == "returned"
    text = html.unescape(client(tools).get("/stand").text)
    assert "Please read this again" in text
    assert "One sentence to read again, at 0:10: the price." in text
    assert "A fine reading otherwise." in text
    assert "Read it again" in text
    assert "Opening words" not in text


def test_the_stand_knows_what_was_sent_back_and_has_no_clock(
    tools: Tools, folder: ReadingFolder
) -> None:
    place = f"readings:{folder.facts.reading_id}"
    text = client(tools, place).get("/stand/reading").text
    found = re.search(r'data-facts="([^"]*)"', text)
    assert found is not None
    facts = json.loads(html.unescape(found[1]))
    assert facts["sentBack"] == [{"number": 5, "read": False}]
    assert facts["sentBackUnit"] == "sentence"
    assert facts["window"] is None
    assert "time-left" not in text
    assert "the price" in text


def test_it_is_heard_with_what_comes_before_and_after(tools: Tools, folder: ReadingFolder) -> None:
    stand = client(tools, f"readings:{folder.facts.reading_id}")
    before = stand.get("/stand/reading/before?number=5")
    assert before.headers["cache-control"] == "no-store"
    sound, rate = soundfile.read(io.BytesIO(before.content))
    assert sound.size == 3 * rate
    around, _ = soundfile.read(io.BytesIO(stand.get("/stand/reading/in-place?number=5").content))
    # 2.4 s of speech, its pauses, and 3 s on both sides.
    assert 8.5 < around.size / rate < 9.5
    assert (around[: sound.size] == sound).all()


@pytest.mark.parametrize(
    ("number", "status"),
    [("", 422), ("x", 422), ("-5", 422), ("²", 422), ("9" * 12, 422), ("6", 404)],
)
def test_what_was_not_sent_back_is_refused(
    tools: Tools, folder: ReadingFolder, number: str, status: int
) -> None:
    stand = client(tools, f"readings:{folder.facts.reading_id}")
    for way in ("before", "in-place"):
        answer = stand.get(f"/stand/reading/{way}", params={"number": number})
        assert answer.status_code == status


def test_nobody_hears_it_who_has_not_come_in_or_chosen(tools: Tools) -> None:
    nobody = TestClient(make_app(tools), "http://127.0.0.1")
    assert nobody.get("/stand/reading/before?number=5").status_code == 403
    assert client(tools).get("/stand/reading/in-place?number=5").status_code == 404


def test_it_is_told_what_became_of_it(tools: Tools, folder: ReadingFolder) -> None:
    told = []
    for state in ("handed in", "cleared", "placed", "aired"):
        folder.append(StateSet(state=state, note=""), author="Desk", at=tools.clock())
        tools.database.index_reading(reading_row(folder))
        today = html.unescape(client(tools).get("/stand").text)
        before = html.unescape(client(tools).get("/stand/before").text)
        found = re.search(r"The Marrowby Courier of Wednesday 25 November\. ([^<]*)</p>", today)
        assert found is not None
        assert found[1] in before
        told.append(found[1])
    assert [sentence.split(".")[0] for sentence in told] == [
        "It is handed in again and safe",
        "It has been heard and is cleared",
        "It has been heard and is cleared",
        "It was on the air on Wednesday 25 November at 19:00",
    ]
    assert all(sentence.endswith("Thank you.") for sentence in told)


def test_the_words_fit_what_there_is() -> None:
    two = replace(ONE, at_s=3725.0, sentences=2, asked=(Asked(remark="sound", note=""),))
    say = sent_back_texts.to_read_again
    assert say((ONE,)) == "One sentence to read again, at 12:40: the price."
    assert say((two,)) == "Two sentences to read again, at 1:02:05: a noise in it."
    assert say((ONE, ONE)) == "Two sentences to read again:"
    assert say((ONE, two)) == "Two places to read again:"
    assert say((replace(ONE, is_read=True), two)).startswith("Two sentences to read again, at")
    assert say((replace(ONE, is_read=True),)).startswith("You have read again all")
    assert sent_back_texts.item(two, alike=False) == "two sentences, at 1:02:05: a noise in it"
    assert sent_back_texts.about_long(ONE) == "One sentence, about 8 seconds."
    twice = replace(ONE, asked=(*ONE.asked, *ONE.asked, Asked(remark="performance", note="")))
    assert sent_back_texts.what(twice) == "the price; how it is read"
