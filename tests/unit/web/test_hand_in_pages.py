"""Handing in, the receipt and practice without a browser: what is answered, to whom."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from quietleaf.booth.edits import WordsBegun
from quietleaf.booth.reading import HandIn
from quietleaf.planning.station import programme_named
from quietleaf.storage.reading_folder import create_reading
from quietleaf.storage.tokens import Token, sha256_of
from quietleaf.web import coming_pages, practice_pages
from quietleaf.web.app import make_app
from quietleaf.work.hear_reading import hear_reading
from quietleaf.work.plan_programme import change_programme
from quietleaf.work.practice import begin_practice, practice_folder
from quietleaf.work.practice_sitting import practice_of_sitting
from quietleaf.work.tools import Tools
from tests.finished import NOW, example_station, other_reading
from tests.handing_in import READER, add_take, booth_reading, request_of, sit
from tests.waiting import wait_for

FORM = {"content-type": "application/x-www-form-urlencoded"}


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


@pytest.fixture
def client(tools: Tools) -> Iterator[TestClient]:
    """Give a booth's browser, somewhere else in the house."""
    with TestClient(
        make_app(tools, None),
        "http://station.example",
        client=("192.0.2.7", 50_000),
        follow_redirects=False,
    ) as asking:
        yield asking


def seat(client: TestClient, secret: str) -> str:
    """Give the browser a sitting."""
    client.cookies.set(coming_pages.SITTING_COOKIE, secret, "station.example", "/")
    return secret


def post(client: TestClient, path: str, **fields: object) -> tuple[int, str, str]:
    """Send a form; give the status, where it leads, and the page."""
    answer = client.post(path, content=urlencode(fields, doseq=True), headers=FORM)
    return answer.status_code, answer.headers.get("location", ""), answer.text


def test_handing_in_leads_to_the_receipt(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    assert client.get("/stand/hand-in").status_code == 200
    status, location, _ = post(
        client,
        "/stand/hand-in",
        place_page=" 7 ",
        remark="one\r\ntwo",
        tidied=["The paper is back in the tray", "Something that nobody asked"],
    )
    assert (status, location) == (303, "/stand/receipt")
    assert tools.database.reading("t5").hand_in == HandIn(
        place_page="7", remark="one\ntwo", tidied=("The paper is back in the tray",)
    )
    page = client.get("/stand/receipt")
    assert page.status_code == 200
    assert f"Thank you, {READER}." in page.text
    # Sent twice, or opened again: the receipt.
    assert post(client, "/stand/hand-in")[:2] == (303, "/stand/receipt")
    assert client.get("/stand/hand-in").headers["location"] == "/stand/receipt"


def test_the_next_person_at_the_booth_finds_nothing_open(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    post(client, "/stand/hand-in")
    for path in ("/stand/reading", "/stand/room", "/stand"):
        assert client.get(path).status_code == 403, path
    assert client.post("/stand/pass").status_code == 403
    assert client.get("/stand/receipt").status_code == 200
    assert post(client, "/stand/leave")[0] == 303
    assert client.get("/stand/receipt").status_code == 403


def test_the_verdict_comes_as_json(tools: Tools, client: TestClient) -> None:
    booth_reading(tools, seconds=3.0)
    programme = programme_named(tools.database.load_station(), "courier-hour")
    change_programme(replace(programme, opening_words="", closing_words=""), tools)
    seat(client, sit(tools, "readings:t5"))
    post(client, "/stand/hand-in")

    def told() -> dict[str, object] | None:
        answer = client.get("/stand/receipt/verdict").json()
        assert set(answer) == {"done", "over", "sentence", "reasons"}
        assert 0.0 <= answer["done"] <= 1.0
        return answer if answer["over"] else None

    assert wait_for(told)["sentence"] == (
        "It was heard well: nothing was found that asks for another ear."
    )


def test_the_copy_comes_as_json(tools: Tools, client: TestClient) -> None:
    add_take(booth_reading(tools), 0.5, seal=False)
    seat(client, sit(tools, "readings:t5"))
    assert client.get("/stand/hand-in/copy").json() == {
        "takes": 1,
        "heldS": 1.5,
        "openTakes": [2],
        "sentence": "The station has 1\N{NO-BREAK SPACE}second. Take 2 has not come to its end "
        "there yet.",
    }


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"unsent_s": "75.2"}, "about 1 min 15 of it are on their way from this computer"),
        ({}, "Take 2 has not come to its end yet"),
    ],
)
def test_a_refusal_keeps_what_was_typed(
    tools: Tools, client: TestClient, fields: dict[str, str], told: str
) -> None:
    add_take(booth_reading(tools, "long-shelf", part=9), seal=False)
    seat(client, sit(tools, "readings:t5"))
    typed = "“Zoë” <i>& 'so' 👩‍🦯"
    tidy = "The paper is back in the tray"
    status, _, page = post(
        client, "/stand/hand-in", remark=typed, recap=typed, tidied=tidy, **fields
    )
    assert status == 409
    assert told in page
    assert page.count("“Zoë” &lt;i&gt;&amp; &#39;so&#39; 👩‍🦯</textarea>") == 2
    assert f'value="{tidy}" checked' in page
    assert ("Hand in what the station has" in page) is (not fields)


@pytest.mark.parametrize("odd", ["nan", "inf", "-3", "much", ""])
def test_nonsense_about_what_is_unsent_counts_as_nothing(
    tools: Tools, client: TestClient, odd: str
) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    assert post(client, "/stand/hand-in", unsent_s=odd)[0] == 303


def test_a_field_that_is_too_long_is_refused_at_the_field(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    status, _, page = post(client, "/stand/hand-in", place_page="x" * 41, remark="kept")
    assert status == 422
    assert 'aria-describedby="place_page-refusal" aria-invalid="true" autofocus' in page
    assert "at most 40 letters; 41 came" in page
    assert "kept</textarea>" in page
    assert tools.database.reading("t5").state == "in the booth"


def test_closing_words_that_were_not_marked_are_asked_for(tools: Tools, client: TestClient) -> None:
    folder = create_reading(tools.data, other_reading("courier-hour", "t5"), NOW, READER)
    add_take(folder)
    seat(client, sit(tools, "readings:t5"))
    page = client.get("/stand/hand-in").text
    assert "The closing words were not marked." in page
    assert "The next paper is read here at seven." in page
    folder.append(WordsBegun(which="closing", take=1, sample=0), author=READER, at=NOW)
    assert "You have read the closing words." in client.get("/stand/hand-in").text


def test_only_a_serial_asks_for_a_recap(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    assert 'name="recap"' not in client.get("/stand/hand-in").text


def test_whoever_has_chosen_nothing_chooses_first(tools: Tools, client: TestClient) -> None:
    seat(client, sit(tools, None))
    assert client.get("/stand/hand-in").headers["location"] == "/stand"
    assert post(client, "/stand/hand-in")[:2] == (303, "/stand")


def test_nobody_sees_a_receipt_that_is_not_theirs(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    secret = seat(client, sit(tools, "readings:t5"))
    post(client, "/stand/hand-in")
    client.cookies.clear()
    for path in ("/stand/receipt", "/stand/receipt?reading=t5", "/stand/receipt/verdict"):
        assert client.get(path).status_code == 403
    seat(client, sit(tools, None, reader="Ada Fenwick"))
    assert client.get("/stand/receipt?reading=t5").status_code == 403
    client.cookies.clear()
    seat(client, secret)
    assert client.get("/stand/receipt?reading=t5").status_code == 200


def test_what_was_typed_is_never_markup(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    post(client, "/stand/hand-in", remark="<script>alert(1)</script>{{ 7*7 }}")
    page = client.get("/stand/receipt").text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;{{ 7*7 }}" in page


def test_a_form_of_another_site_hands_nothing_in(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    for path in ("/stand/hand-in", "/practice/begin", "/practice/leave", "/practice/here"):
        answer = client.post(path, headers={"origin": "http://elsewhere.example"})
        assert answer.status_code == 403
    assert tools.database.reading("t5").state == "in the booth"


def test_practice_begins_for_anybody_and_ends_in_nothing(tools: Tools, client: TestClient) -> None:
    page = client.get("/practice").text
    assert "A first visit: a practice reading" in page
    assert "Try it with your own voice" in page
    status, location, _ = post(client, "/practice/begin", kind="try-out")
    assert (status, location) == (303, "/stand/room")
    place = practice_of_sitting(client.cookies[coming_pages.SITTING_COOKIE], tools)
    assert place is not None
    folder = practice_folder(place, tools)
    assert "Nothing has been recorded yet." in client.get("/practice/feedback").text
    add_take(folder, 2.0)
    hear_reading(folder.reload())
    assert "You read for 2\N{NO-BREAK SPACE}seconds." in client.get("/practice/feedback").text
    assert client.get("/practice/verdict").json()["over"] is True
    assert client.get("/practice/copy").json()["openTakes"] == []
    sound = client.get("/practice/sound")
    assert (sound.headers["content-type"], sound.content[:4]) == ("audio/wav", b"RIFF")
    assert client.get("/stand/hand-in").headers["location"] == "/practice/feedback"
    assert post(client, "/practice/leave")[:2] == (303, "/practice/gone")
    assert not folder.path.exists()
    assert coming_pages.SITTING_COOKIE not in client.cookies
    assert client.get("/practice/feedback").headers["location"] == "/practice/gone"
    assert client.get("/practice/sound").status_code == 403
    assert post(client, "/practice/leave")[:2] == (303, "/practice/gone")


def test_the_sittings_cookie_is_the_pages_own(client: TestClient) -> None:
    answer = client.post("/practice/begin", content="kind=practice", headers=FORM)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "path=/" in cookie
    assert "secure" not in cookie
    safe = TestClient(client.app, "https://station.example", follow_redirects=False)
    answer = safe.post("/practice/begin", content="kind=practice", headers=FORM)
    assert "secure" in answer.headers["set-cookie"].lower()


def test_a_practice_of_no_kind_is_not_begun(tools: Tools, client: TestClient) -> None:
    assert post(client, "/practice/begin", kind="hour")[:2] == (303, "/practice")
    assert not (tools.data / "practice").exists()


def test_a_reader_who_practised_comes_back(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    before = seat(client, sit(tools, "readings:t5"))
    post(client, "/practice/begin", kind="practice")
    assert client.cookies[coming_pages.SITTING_COOKIE] != before
    assert post(client, "/practice/leave")[:2] == (303, "/stand")
    assert client.cookies[coming_pages.SITTING_COOKIE] == before
    assert client.get("/stand/hand-in").status_code == 200


def test_too_many_are_asked_to_come_back(
    tools: Tools, client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("quietleaf.work.practice.MOST_AT_ONCE", 1)
    begin_practice("try-out", tools)
    status, _, page = post(client, "/practice/begin", kind="practice")
    assert status == 503
    assert "Please come back in a while." in page


def test_a_left_page_is_waited_for_then_deleted(
    tools: Tools, client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    post(client, "/practice/begin", kind="try-out")
    place = practice_of_sitting(client.cookies[coming_pages.SITTING_COOKIE], tools)
    assert place is not None
    path = practice_folder(place, tools).path
    # The next page comes in time.
    assert post(client, "/practice/leave", beacon="yes")[0] == 204
    assert post(client, "/practice/here")[0] == 204
    assert path.exists()
    assert client.app.state.leaving == {}  # type: ignore[attr-defined]
    # Nobody comes.
    monkeypatch.setattr(practice_pages, "GRACE_S", 0.0)
    assert post(client, "/practice/leave", beacon="yes")[0] == 204
    wait_for(lambda: not path.exists())
    assert post(client, "/practice/leave", beacon="yes")[0] == 204


def test_the_first_page_sweeps(tools: Tools, client: TestClient) -> None:
    folder = begin_practice("try-out", tools)
    secret = sit(tools, f"practice:{folder.facts.reading_id}")
    tools.database.end_token(sha256_of(secret), NOW)
    client.get("/practice")
    assert not folder.path.exists()


def test_afterwards_a_booth_leads_to_its_names(tools: Tools, client: TestClient) -> None:
    assert "/booth" not in client.get("/practice/gone").text
    tools.database.add_token(
        Token(sha256=sha256_of("b"), purpose="booth", made_at=NOW, booth="booth-1")
    )
    client.cookies.set(coming_pages.BOOTH_COOKIE, "b")
    assert 'href="/booth"' in client.get("/practice/gone").text


def test_a_handed_in_reading_shows_its_receipt_instead_of_the_form(
    tools: Tools, client: TestClient
) -> None:
    from quietleaf.work.hand_in import hand_in

    folder = booth_reading(tools)
    hand_in(request_of(folder), tools)
    seat(client, sit(tools, "readings:t5"))
    answer = client.get("/stand/hand-in")
    assert answer.headers["location"] == "/stand/receipt?reading=t5"


def test_a_reading_that_is_far_too_short_is_asked_about(tools: Tools, client: TestClient) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    page = client.get("/stand/hand-in").text
    assert "Is it meant to be this short?" in page
    assert "Hand it in all the same" in page


def test_the_receipt_says_what_happens_now_and_folds_its_checksums(
    tools: Tools, client: TestClient
) -> None:
    booth_reading(tools)
    seat(client, sit(tools, "readings:t5"))
    post(client, "/stand/hand-in")
    page = client.get("/stand/receipt").text
    assert "The desk puts it on air." in page  # a daily goes out without review
    folded = page.index("<details>")
    assert folded < page.index('class="sum"') < page.index("</details>", folded)
