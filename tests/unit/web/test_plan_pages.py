"""The desk's plan without a browser: what a form keeps, and what it refuses at which field."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from quietleaf.planning.message import Message
from quietleaf.planning.station import Station, assignment_named, programme_named
from quietleaf.storage.database import Database, database_url
from quietleaf.web.app import make_app
from quietleaf.web.plan_forms import values_of_programme
from quietleaf.web.rendering import ON_A_PAGE
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station

FORBIDDEN = re.compile(r"\b(error|invalid|buffer|session|exception|traceback)\b", re.IGNORECASE)

PROGRAMME = {
    "title": "The Harbour Page",
    "publication": "The Marrowby Courier",
    "weekdays": ["0", "3"],
    "air_times": "9:30, 21:00",
    "slot": "30",
    "shortest": "27",
    "longest": "28:30",
    "review": "whole",
    "other_reviewer": "yes",
    "opening": "This is {programme} of {issue_date}, read by {reader}.",
    "closing": "That was {programme}.",
}
ASSIGNMENT = {
    "programme": "courier-hour",
    "issue_date": "2026-11-26",
    "air_date": "2026-11-26",
    "reader": "Ada Fenwick",
    "second_reader": "Tomas Vale",
    "booth": "booth-2",
    "reads_day": "2026-11-26",
    "reads_time": "10:15",
    "part": "",
}
STATION_FORM = {
    "name": "Fenmouth Talking Pages",
    "place": "Fenmouth",
    "zone": "Europe/Paris",
    "originator": "Fenmouth",
}
PUBLICATION = {
    "title": "The Fenmouth Sheet",
    "kind": "magazine",
    "appears": "weekly",
    "year": "",
}


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path)
    with made.database:
        yield made


@pytest.fixture
def client(tools: Tools) -> TestClient:
    """Give the desk."""
    return desk(tools)


def desk(tools: Tools) -> TestClient:
    """Ask a station from its own machine."""
    return TestClient(
        make_app(tools), "http://127.0.0.1", client=("127.0.0.1", 50_000), follow_redirects=False
    )


def send(client: TestClient, address: str, form: Mapping[str, object]) -> Any:
    """Send a form."""
    return client.post(
        address,
        content=urlencode(form, doseq=True),
        headers={
            "content-type": "application/x-www-form-urlencoded",
            "origin": "http://127.0.0.1",
        },
    )


def planned(tools: Tools) -> Station:
    """Give the plan as it is kept."""
    return tools.database.load_station()


def refusal_at(page: str, name: str) -> str:
    """Give the sentence at a field, which the field itself points at and which has the focus."""
    tag = re.search(rf'<(?:input|select|textarea) id="{name}"[^>]*>', page)
    assert tag is not None
    assert 'aria-invalid="true"' in tag[0]
    assert "autofocus" in tag[0]
    assert re.search(rf'aria-describedby="{name}-refusal[ "]', tag[0])
    said = re.search(rf'id="{name}-refusal" role="alert">([^<]+)<', page)
    assert said is not None
    assert not FORBIDDEN.search(said[1])
    return html.unescape(said[1])


def test_the_overview_leads_to_everything_that_is_planned(client: TestClient) -> None:
    page = client.get("/plan")
    assert page.status_code == 200
    for address in (
        "/plan/programmes/courier-hour",
        "/plan/readers/Ada%20Fenwick",
        "/plan/booths/booth-1",
        "/plan/publications/marrowby-courier",
        "/plan/assignments/courier-hour-2026-11-25",
        "/plan/assignments/new",
        "/plan/station/own",
    ):
        assert f'href="{address}"' in page.text
        assert client.get(address).status_code == 200
    assert "Monday to Friday at 18:00, five minutes" in page.text


def test_long_lists_of_the_plan_come_in_pages_of_their_own(
    client: TestClient, tools: Tools
) -> None:
    names = tuple(f"Reader {number:03}" for number in range(2 * ON_A_PAGE + 1))
    tools.database.change_station(lambda of: replace(of, readers=names, assignments=()))
    first = client.get("/plan").text
    assert first.count('href="/plan/readers/Reader') == ON_A_PAGE
    assert 'href="/plan?readers=2#readers"' in first
    last = client.get("/plan?readers=3").text
    assert last.count('href="/plan/readers/Reader') == 1
    assert "Page 3 of 3; 101 in all" in last
    assert 'href="/plan/programmes/courier-hour"' in last  # the other lists are as they were


@pytest.mark.parametrize("page", ["0", "-1", "99", "x", "9" * 40, "²"])
def test_a_page_that_is_not_there_gives_one_that_is(client: TestClient, page: str) -> None:
    assert client.get("/plan", params={"page": page}).status_code == 200


def test_a_programme_is_kept_as_it_was_typed(client: TestClient, tools: Tools) -> None:
    kept = send(client, "/plan/programmes/new", PROGRAMME)
    assert (kept.status_code, kept.headers["location"]) == (
        303,
        "/plan/programmes/the-harbour-page?done=kept",
    )
    programme = programme_named(planned(tools), "the-harbour-page")
    assert programme.weekdays == (0, 3)
    assert [f"{at:%H:%M}" for at in programme.air_times] == ["09:30", "21:00"]
    assert programme.slot_s == 1800.0
    assert str(programme.window) == "27:00 to 28:30"
    assert (programme.review, programme.other_reviewer) == ("whole", True)
    assert "It is kept." in client.get(kept.headers["location"]).text


def test_a_new_programme_is_reviewed_as_usual(client: TestClient) -> None:
    page = client.get("/plan/programmes/new").text
    assert '<option value="things to hear" selected>' in page


def test_a_refused_review_is_chosen_again(client: TestClient) -> None:
    told = send(client, "/plan/programmes/courier-hour", {**PROGRAMME, "review": "half"})
    choices = told.text.partition('<select id="review"')[2].partition("</select>")[0]
    first = choices.partition("<option")[2].partition("</option>")[0]
    assert first == ' value="">Choose one'
    assert "selected" not in choices


def test_a_page_kept_again_changes_nothing(client: TestClient, tools: Tools) -> None:
    before = planned(tools)
    for programme in before.programmes:
        page = client.get(f"/plan/programmes/{programme.key}").text
        assert html.escape(programme.opening_words, quote=False) in page.replace("&#39;", "'")
        form: dict[str, object] = dict(values_of_programme(programme))
        form["weekdays"] = str(form["weekdays"]).split("\n")
        assert send(client, f"/plan/programmes/{programme.key}", form).status_code == 303
    assert planned(tools) == before


@pytest.mark.parametrize(
    ("form", "change", "name", "words"),
    [
        ("programmes", {"title": ""}, "title", "A title is needed"),
        ("programmes", {"publication": ""}, "publication", "read from a publication"),
        ("programmes", {"publication": "The Moon"}, "publication", "not among"),
        ("programmes", {"review": "half"}, "review", "One of these is needed"),
        ("programmes", {"slot": "half an hour"}, "slot", "A length is minutes"),
        ("programmes", {"slot": "0"}, "slot", "A length is minutes"),
        ("programmes", {"slot": "", "shortest": "", "longest": ""}, "slot", "on the air"),
        ("programmes", {"shortest": "soon"}, "shortest", "A length is minutes"),
        ("programmes", {"shortest": "29"}, "shortest", "lies within the slot"),
        ("programmes", {"longest": ""}, "longest", "belong together"),
        ("programmes", {"air_times": "noon"}, "air_times", "like 19:00"),
        ("programmes", {"air_times": "24:00"}, "air_times", "like 19:00"),
        ("programmes", {"air_times": "9:00 9:00"}, "air_times", "2 times"),
        ("programmes", {"weekdays": []}, "air_times", "no weekdays"),
        ("programmes", {"opening": "Read by {redaer}."}, "opening", "{redaer}"),
        ("programmes", {"closing": "That was {programme."}, "closing", "stands alone"),
        ("programmes", {"closing": "Part {part}."}, "closing", "for a serial"),
        ("publications", {"title": ""}, "title", "A title is needed"),
        ("publications", {"title": "The Marrowby Courier"}, "title", "2 times"),
        ("publications", {"kind": "stone"}, "kind", "One of these"),
        ("publications", {"appears": ""}, "appears", "One of these"),
        ("publications", {"year": "soon"}, "year", "four figures"),
        ("readers", {"name": ""}, "name", "A name is needed"),
        ("readers", {"name": "Ada/Fenwick"}, "name", "without a slash"),
        ("readers", {"name": "Ada Fenwick"}, "name", "2 times"),
        ("booths", {"name": ""}, "name", "A name is needed"),
        ("booths", {"name": "Booth 1"}, "name", "2 times"),
        ("assignments", {"programme": ""}, "programme", "Choose one"),
        ("assignments", {"programme": "moon"}, "programme", "'moon'"),
        ("assignments", {"issue_date": ""}, "issue_date", "is needed"),
        ("assignments", {"issue_date": "2026-11-31"}, "issue_date", "between 1970 and 2199"),
        ("assignments", {"issue_date": "0001-01-01"}, "issue_date", "between 1970 and 2199"),
        ("assignments", {"air_date": "soon"}, "air_date", "between 1970 and 2199"),
        ("assignments", {"air_date": "2026-11-29"}, "air_date", "not on the air"),
        ("assignments", {"air_date": "2026-11-25"}, "air_date", "Keep one"),
        ("assignments", {"reader": "The Moon"}, "reader", "not among"),
        ("assignments", {"second_reader": "Ada Fenwick"}, "second_reader", "different"),
        ("assignments", {"booth": "moon"}, "booth", "not among"),
        ("assignments", {"reads_time": ""}, "reads_time", "belong together"),
        ("assignments", {"reads_day": ""}, "reads_day", "belong together"),
        ("assignments", {"reads_time": "late"}, "reads_time", "like 19:00"),
        ("assignments", {"part": "two"}, "part", "whole number"),
        ("assignments", {"part": "2"}, "part", "no serial"),
        ("station", {"name": ""}, "name", "A name is needed"),
        ("station", {"zone": ""}, "zone", "A time zone is needed"),
        ("station", {"zone": "Atlantis"}, "zone", "Atlantis"),
        ("station", {"originator": "Ä"}, "originator", "ASCII"),
        ("station/own", {"name": ""}, "name", "A name is needed"),
        ("station/own", {"zone": "../etc"}, "zone", "../etc"),
        ("station/own", {"originator": "o" * 33}, "originator", "32"),
    ],
)
def test_what_does_not_hold_is_said_at_its_field_and_nothing_typed_is_lost(
    client: TestClient,
    tools: Tools,
    form: str,
    change: dict[str, object],
    name: str,
    words: str,
) -> None:
    before = planned(tools)
    whole: dict[str, dict[str, object]] = {
        "programmes": dict(PROGRAMME),
        "publications": dict(PUBLICATION),
        "readers": {"name": "Imke Vale"},
        "booths": {"name": "Booth 3"},
        "assignments": dict(ASSIGNMENT),
        "station": {**STATION_FORM, "tidy": "One thing\nAnother"},
        "station/own": dict(STATION_FORM),
    }
    sent = {**whole[form], **change}
    address = f"/plan/{form}" if form.startswith("station") else f"/plan/{form}/new"
    refused = send(client, address, sent)
    assert refused.status_code == 422
    assert words in refusal_at(refused.text, name)
    assert planned(tools) == before
    for field, value in sent.items():
        if field in ("weekdays",):
            days = re.findall(r'name="weekdays" value="(\d)" checked', refused.text)
            assert days == value
        elif (field, value) in (change or {}).items() and f'<select id="{field}"' in refused.text:
            continue  # what is not among the choices was not typed
        elif f'<select id="{field}"' in refused.text:
            if value:
                assert f'<option value="{value}" selected>' in refused.text
        else:
            assert html.escape(str(value)) in refused.text.replace("&#34;", "&quot;").replace(
                "&#39;", "&#x27;"
            )


def test_what_belongs_to_no_field_is_said_at_the_top(client: TestClient, tools: Tools) -> None:
    # The hour is assigned for a Wednesday, on which it would not air any more.
    before = planned(tools)
    form: dict[str, object] = dict(
        values_of_programme(programme_named(before, "courier-hour")), weekdays="0"
    )
    refused = send(client, "/plan/programmes/courier-hour", form)
    assert refused.status_code == 422
    (said,) = re.findall(r'role="alert" tabindex="-1" autofocus><p>([^<]+)<', refused.text)
    assert "not on the air on that weekday" in said
    assert planned(tools) == before


def test_every_field_that_does_not_hold_has_its_sentence(client: TestClient) -> None:
    refused = send(
        client,
        "/plan/programmes/new",
        {**PROGRAMME, "title": "", "opening": "{x}", "closing": "{y}", "slot": "z"},
    )
    assert re.findall(r'id="(\w+)-refusal"', refused.text) == [
        "title",
        "slot",
        "opening",
        "closing",
    ]
    assert refused.text.count("autofocus") == 1


def test_the_preview_fills_the_blanks_and_keeps_nothing(client: TestClient, tools: Tools) -> None:
    before = planned(tools)
    page = send(client, "/plan/programmes/new", {**PROGRAMME, "do": "preview"})
    assert page.status_code == 200
    assert (
        "This is <u>The Harbour Page</u> of <u>Wednesday 25 November 2026</u>, "
        "read by <u>Ada Fenwick</u>." in page.text
    )
    assert html.escape(PROGRAMME["opening"][:7]) in page.text  # type: ignore[arg-type]
    assert planned(tools) == before
    refused = send(
        client, "/plan/programmes/new", {**PROGRAMME, "opening": "{moon}", "do": "preview"}
    )
    assert refused.status_code == 422
    assert "{moon}" in refusal_at(refused.text, "opening")


def test_what_is_typed_is_shown_as_text(client: TestClient) -> None:
    nasty = "<script>alert(1)</script>"
    page = send(client, "/plan/programmes/new", {**PROGRAMME, "opening": nasty, "do": "preview"})
    assert nasty not in page.text
    assert html.escape(nasty) in page.text


def test_an_assignment_is_kept_in_the_stations_own_time(client: TestClient, tools: Tools) -> None:
    # In July London's clocks are an hour ahead of UTC.
    form = {**ASSIGNMENT, "issue_date": "2027-07-14", "air_date": "2027-07-14"}
    kept = send(client, "/plan/assignments/new", {**form, "reads_day": "2027-07-14"})
    assert kept.headers["location"] == "/plan/assignments/courier-hour-2027-07-14?done=kept"
    assignment = assignment_named(planned(tools), "courier-hour-2027-07-14")
    assert assignment.reads_at == datetime(2027, 7, 14, 9, 15, tzinfo=UTC)
    assert assignment.readers == ("Ada Fenwick", "Tomas Vale")
    page = client.get("/plan/assignments/courier-hour-2027-07-14").text
    assert 'value="10:15"' in page


def test_a_hole_leads_to_an_assignment_that_is_drawn_up(client: TestClient) -> None:
    board = client.get("/").text
    (link,) = re.findall(r'href="(/plan/assignments/new[^"]+=2026-11-25)"', board)
    page = client.get(html.unescape(link)).text
    assert '<option value="field-and-lane" selected>' in page
    assert page.count('value="2026-11-25"') == 2


@pytest.mark.parametrize("query", ["?programme=moon&air=2026-11-25", "?air=soon", "?programme=x"])
def test_what_an_address_asks_for_and_is_not_there_is_left_out(
    client: TestClient, query: str
) -> None:
    assert client.get(f"/plan/assignments/new{query}").status_code == 200


def test_a_thing_is_removed_and_one_on_which_something_hangs_stays(
    client: TestClient, tools: Tools
) -> None:
    send(client, "/plan/readers/new", {"name": "Élodie O’Hara"})
    name = "/plan/readers/%C3%89lodie%20O%E2%80%99Hara"
    assert client.get(name).status_code == 200
    gone = send(client, f"{name}/remove", {})
    assert (gone.status_code, gone.headers["location"]) == (303, "/plan?done=removed")
    assert client.get(name).status_code == 404
    stays = send(client, "/plan/programmes/courier-hour/remove", {})
    assert stays.status_code == 422
    assert "The Courier Hour stays, since it has one assignment." in stays.text
    assert programme_named(planned(tools), "courier-hour").title == "The Courier Hour"


def test_a_form_from_another_site_does_nothing(client: TestClient, tools: Tools) -> None:
    before = planned(tools)
    for address in (
        "/plan/readers/new",
        "/plan/readers/Ada%20Fenwick/remove",
        "/plan/station",
        "/plan/station/own",
        "/message/m/seen",
    ):
        sent = client.post(
            address,
            content=urlencode({**STATION_FORM, "name": "X"}),
            headers={"origin": "http://elsewhere.example"},
        )
        assert sent.status_code == 403, address
    assert planned(tools) == before


@pytest.mark.parametrize("path", ["/plan", "/plan/station/own", "/day/today/board"])
def test_the_plan_is_for_the_desk_alone(tools: Tools, path: str) -> None:
    outside = TestClient(make_app(tools, None), "http://192.0.2.7", client=("192.0.2.9", 50_000))
    assert outside.get(path).status_code == 403


def test_without_a_station_one_can_begin_ones_own_or_try_ones_voice(tmp_path: Path) -> None:
    with Database(database_url(tmp_path)) as database:
        tools = Tools(data=tmp_path, database=database, clock=lambda: NOW)
        client = desk(tools)
        first = client.get("/")
        assert first.status_code == 404
        for address in ("/plan/station/own", "/practice"):
            assert f'href="{address}"' in first.text
        assert client.get("/plan/station").headers["location"] == "/plan/station/own"
        assert client.get("/plan/station/own").status_code == 200
        begun = send(client, "/plan/station/own", dict(STATION_FORM))
        assert begun.headers["location"] == "/plan?done=begun"
        assert "Your station is here." in client.get("/plan?done=begun").text
        assert planned(tools).name == "Fenmouth Talking Pages"


def test_the_example_is_thrown_away_and_nothing_is_destroyed(
    client: TestClient, tools: Tools
) -> None:
    bring_reading(tools)
    assert send(client, "/plan/station/own", dict(STATION_FORM)).status_code == 303
    assert planned(tools).programmes == ()
    assert list(tools.data.glob("put-away/*/readings/marrowby-in-five/*/ledger.jsonl"))
    assert client.get("/").status_code == 200
    assert "station/own" not in client.get("/plan").text
    again = send(client, "/plan/station/own", dict(STATION_FORM))
    assert again.status_code == 422
    assert "its readings stay" in html.unescape(again.text)


def test_the_board_comes_again_only_when_it_has_changed(client: TestClient, tools: Tools) -> None:
    first = client.get("/day/today/board")
    assert first.status_code == 200
    assert first.headers["x-quietleaf-day"] == "2026-11-25"
    known = {"if-none-match": first.headers["etag"]}
    same = client.get("/day/today/board", headers=known)
    assert (same.status_code, same.text) == (304, "")
    tools.database.add_message(help_asked())
    changed = client.get("/day/today/board", headers=known)
    assert changed.status_code == 200
    assert "Booth 2 asks for help." in changed.text
    assert "Ada Fenwick, Marrowby in Five." in changed.text


def test_the_board_of_a_day_that_is_none_is_refused(client: TestClient) -> None:
    assert client.get("/day/yesterday/board").status_code == 422


def test_a_message_is_seen_once_and_leads_back_to_its_day(client: TestClient, tools: Tools) -> None:
    tools.database.add_message(help_asked())
    seen = send(client, "/message/m1/seen", {"day": "2026-11-24"})
    assert (seen.status_code, seen.headers["location"]) == (303, "/day/2026-11-24")
    assert tools.database.message("m1").seen_at == NOW
    assert "asks for help" not in client.get("/").text
    assert send(client, "/message/none/seen", {}).status_code == 404
    assert send(client, "/message/m1/seen", {"day": "//elsewhere"}).status_code == 422


def help_asked() -> Message:
    """Give what Booth 2 asks."""
    return Message(
        message_id="m1",
        kind="help",
        at=NOW,
        booth="booth-2",
        reader="Ada Fenwick",
        assignment_key="marrowby-in-five-2026-11-25",
        reading_id=None,
        text="",
        seen_at=None,
    )


def test_the_days_of_the_plan_are_the_stations_own(tmp_path: Path) -> None:
    # At 23:30 UTC in July it is the next day in London: what aired yesterday comes no more.
    tools = example_station(tmp_path, datetime(2026, 11, 25, 23, 59, tzinfo=UTC))
    with tools.database:
        assert ">Today<" in desk(tools).get("/plan").text
    late = example_station(tmp_path, datetime(2026, 11, 26, 0, 1, tzinfo=UTC))
    with late.database:
        assert ">Today<" not in desk(late).get("/plan").text
    assert date(2026, 11, 25) == NOW.date()
