"""The stand's page: what its script is given, and the words around it."""

from __future__ import annotations

import html
import io
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import soundfile
from starlette.testclient import TestClient

from quietleaf.errors import Invalid
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import create_reading
from quietleaf.storage.reading_places import folder_of
from quietleaf.storage.tokens import Token, sha256_of
from quietleaf.units import Window
from quietleaf.web import stand_texts
from quietleaf.web.app import make_app
from quietleaf.web.stand_pages import minutes_of
from quietleaf.work.see_stand import SeenStand, see_stand
from quietleaf.work.tools import Tools
from tests.browser.standing import HOUR, REQUEST
from tests.finished import NOW, example_station
from tests.readings import noise


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        for facts in (HOUR, REQUEST):
            create_reading(tmp_path, facts, NOW, facts.readers[0])
        yield made


def client(tools: Tools, reading: str | None) -> TestClient:
    """Give a browser whose reader sits down before this reading."""
    sitting = Token(
        sha256=sha256_of("secret"),
        purpose="sitting",
        made_at=NOW,
        booth="booth-2",
        reader="Tomas Vale",
        reading=reading,
    )
    tools.database.add_token(sitting)
    return TestClient(
        make_app(tools),
        "http://127.0.0.1",
        client=("127.0.0.1", 50_000),
        cookies={"quietleaf_sitting": "secret"},
        follow_redirects=False,
    )


def seen(tools: Tools, place: str = "readings:hour") -> SeenStand:
    return see_stand(place, "Tomas Vale", "booth-2", 150.0, tools)


def test_the_page_has_what_its_script_works_with(tools: Tools) -> None:
    answer = client(tools, "readings:hour").get("/stand/reading")
    assert answer.status_code == 200
    found = re.search(r'data-facts="([^"]*)"', answer.text)
    assert found is not None
    facts = json.loads(html.unescape(found[1]))
    assert facts["window"] == {"shortestS": 3360.0, "longestS": 3480.0}
    assert facts["warningsMin"] == [5.0, 2.0, 1.0]
    assert (facts["restAfterMin"], facts["paceWpm"]) == (40.0, 150.0)
    # "This is the Marrowby Reading Service. The Courier Hour is an hour with ..." counted by hand.
    assert facts["openingWords"] == 31
    assert facts["place"] == "readings:hour"


def test_the_page_asks_for_what_was_chosen_first(tools: Tools) -> None:
    answer = client(tools, None).get("/stand/reading")
    assert (answer.status_code, answer.headers["location"]) == (303, "/stand")


def test_nobody_reads_who_has_not_come_in(tools: Tools) -> None:
    answer = TestClient(make_app(tools), "http://127.0.0.1").get("/stand/reading")
    assert answer.status_code == 403


def test_a_reading_that_is_gone_is_told(tools: Tools) -> None:
    answer = client(tools, "readings:nothing").get("/stand/reading")
    assert answer.status_code == 404


def test_the_end_of_the_reading_is_heard_by_who_sits_before_it(tools: Tools) -> None:
    folder = folder_of(tools.data, "readings:hour")
    writer = folder.roll(48_000, author="Tomas Vale", at=NOW)
    writer.append(pcm24_of_samples(noise(48_000)))
    folder.seal(writer, origin="a test", author="Tomas Vale", at=NOW)
    browser = client(tools, "readings:hour")
    answer = browser.get("/stand/reading/last")
    assert answer.headers["cache-control"] == "no-store"
    heard, rate_hz = soundfile.read(io.BytesIO(answer.content))
    assert rate_hz == 48_000
    # A step of 16 bits.
    np.testing.assert_allclose(heard, noise(48_000), atol=2**-14)
    browser.cookies.clear()
    assert browser.get("/stand/reading/last").status_code == 403


def test_who_has_chosen_nothing_hears_nothing(tools: Tools) -> None:
    assert client(tools, None).get("/stand/reading/last").status_code == 404


def test_a_reading_with_nothing_in_it_has_no_end(tools: Tools) -> None:
    assert client(tools, "readings:hour").get("/stand/reading/last").status_code == 422


def test_the_head_says_what_when_and_who(tools: Tools) -> None:
    told = stand_texts.head_facts(seen(tools)).replace("\u00a0", " ")
    assert told == (
        "The Marrowby Courier of Wednesday 25 November · airs today at 19:00 · "
        "read by Tomas Vale and Ada Fenwick"
    )
    request = stand_texts.head_facts(seen(tools, "readings:request"))
    assert request.replace("\u00a0", " ") == (
        "Pages sent in by a listener, asked for on Thursday 19 November · read by Joan Abara"
    )


def test_another_day_and_another_year_are_named(tools: Tools) -> None:
    stand = replace(seen(tools), today=date(2026, 11, 24))
    assert "airs tomorrow at 19:00" in stand_texts.head_facts(stand)
    stand = replace(stand, today=date(2027, 1, 2))
    told = stand_texts.head_facts(stand)
    assert "Wednesday 25 November 2026" in told
    assert "airs on Wednesday 25 November at 19:00" in told


def test_a_part_of_a_serial_is_named_by_its_number(tools: Tools) -> None:
    stand = replace(seen(tools), part=9, publication="A Lantern for Tolly Weir")
    assert stand_texts.issue_words(stand) == "A Lantern for Tolly Weir, part 9"


@pytest.mark.parametrize(
    ("shortest_s", "longest_s", "words"),
    [(3360, 3480, "56 to 58 minutes"), (225, 285, "3:45 to 4:45"), (60, 90, "1:00 to 1:30")],
)
def test_a_window_is_named_under_the_column(
    shortest_s: float, longest_s: float, words: str
) -> None:
    assert stand_texts.window_words(Window(shortest_s=shortest_s, longest_s=longest_s)) == words


@pytest.mark.parametrize("text", ["5;2", "0", "-1", "five", "nan", "inf"])
def test_warnings_that_are_no_minutes_are_refused(text: str) -> None:
    with pytest.raises(Invalid, match="Warnings are minutes with commas between"):
        minutes_of(text)
