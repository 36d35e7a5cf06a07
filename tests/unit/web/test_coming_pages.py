"""Coming in without a browser: cookies, refusals, forms from elsewhere, what each page says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from quietleaf.planning.station import Station, assignment_named
from quietleaf.storage.database import FILE
from quietleaf.storage.tokens import new_secret, sha256_of
from quietleaf.web.app import make_app
from quietleaf.web.coming_pages import BOOTH_COOKIE, SITTING_COOKIE
from quietleaf.work.enrol_booth import make_enrolment
from quietleaf.work.messages import see_message
from quietleaf.work.open_reading import open_reading
from quietleaf.work.personal_links import make_link, revoke_link
from quietleaf.work.sit_down import sitting_of
from quietleaf.work.tools import Tools
from tests.coming import Clock, coming_station, enrolled, handed_in, record, sat
from tests.unit.web.test_pages import FORBIDDEN, text_of

HOUR = "courier-hour-2026-11-25"
SHELF = "long-shelf-2026-11-25"


@pytest.fixture
def clock() -> Clock:
    made = Clock()
    made.move(hours=-5)
    return made


@pytest.fixture
def tools(tmp_path: Path, clock: Clock) -> Iterator[Tools]:
    with coming_station(tmp_path, clock) as made:
        yield made


def browser(tools: Tools, scheme: str = "http", peer: str = "192.168.1.20") -> TestClient:
    """Ask from a booth at another machine: nothing of this needs the desk's own."""
    return TestClient(
        make_app(tools, hosts=None),
        f"{scheme}://studio.lan",
        follow_redirects=False,
        client=(peer, 40_000),
    )


def desk(tools: Tools) -> TestClient:
    return TestClient(
        make_app(tools), "http://127.0.0.1", follow_redirects=False, client=("127.0.0.1", 40_000)
    )


@pytest.fixture
def client(tools: Tools) -> TestClient:
    """Give the browser of a booth."""
    made = browser(tools)
    made.cookies.set(BOOTH_COOKIE, enrolled(tools), domain="studio.lan")
    return made


def sit(client: TestClient, name: str = "Tomas Vale") -> Response:
    answer = client.post("/booth/name", data={"name": name})
    assert answer.headers["location"] == "/stand"
    return answer


def plan(tools: Tools, key: str, **to: object) -> None:
    def changed(station: Station) -> Station:
        return replace(
            station,
            assignments=tuple(
                replace(each, **to) if each.key == key else each  # type: ignore[arg-type]
                for each in station.assignments
            ),
        )

    tools.database.change_station(changed)


def flags(answer: Response) -> set[str]:
    return {part.strip().lower() for part in answer.headers["set-cookie"].split(";")[1:]}


# Coming in at a booth.


def test_a_browser_becomes_a_booth_and_its_cookie_is_read_by_no_script(tools: Tools) -> None:
    client = browser(tools)
    address = f"/booth/enrol/{make_enrolment('booth-1', tools)}"
    assert "Make this browser Booth 1?" in text_of(client.get(address).text)
    answer = client.post(address)
    assert answer.headers["location"] == "/booth"
    assert answer.headers["set-cookie"].startswith(f"{BOOTH_COOKIE}=")
    assert flags(answer) == {"httponly", "max-age=34560000", "path=/", "samesite=strict"}
    assert "Who is reading?" in text_of(client.get("/booth").text)
    assert client.post(address).status_code == 403


def test_under_tls_a_cookie_goes_by_tls_alone(tools: Tools) -> None:
    client = browser(tools, "https")
    answer = client.post(f"/booth/enrol/{make_enrolment('booth-1', tools)}")
    assert "secure" in flags(answer)
    assert {"httponly", "samesite=strict", "secure"} <= flags(sit(client))


def test_the_sitting_ends_with_the_browser(client: TestClient) -> None:
    assert flags(sit(client)) == {"httponly", "path=/", "samesite=strict"}


def test_a_browser_that_is_no_booth_says_how_one_comes_in(tools: Tools) -> None:
    client = browser(tools)
    page = client.get("/booth")
    assert page.status_code == 200
    assert "ask the desk to make this browser a booth" in text_of(page.text)
    assert client.post("/booth/name", data={"name": "Tomas Vale"}).status_code == 403


def test_names_of_today_stand_first_with_what_they_read(client: TestClient) -> None:
    text = text_of(client.get("/booth").text)
    assert text.index("They read today") < text.index("Tomas Vale The Courier Hour")


def test_many_names_are_found_in_a_list(client: TestClient, tools: Tools) -> None:
    more = tuple(f"Reader {number}" for number in range(40))
    tools.database.change_station(
        lambda station: replace(station, readers=(*station.readers, *more))
    )
    page = client.get("/booth").text
    assert page.count("<option>") == 40
    assert page.count("<button") == 7  # six who read today, and the list's own
    assert client.post("/booth/name", data={"name": "Reader 7"}).status_code == 303


def test_a_name_that_is_not_on_the_list_is_said_there(client: TestClient) -> None:
    page = client.post("/booth/name", data={"name": ""})
    assert page.status_code == 422
    assert 'role="alert"' in page.text
    assert "none was chosen" in text_of(page.text)


def test_a_name_opens_only_that(client: TestClient, tools: Tools) -> None:
    sit(client)
    text = text_of(client.get("/stand").text)
    assert "Tomas Vale · Booth 1" in text
    assert "The Courier Hour" in text
    assert "Imke Rowan" not in text
    for path, more in (
        ("/stand/choose", {}),
        ("/stand/paper", {"answer": "yes", "issue": "2026-11-25"}),
        ("/stand/paper", {"answer": "read", "says": "2026-11-24"}),
        ("/stand/paper", {"answer": "ask"}),
        ("/stand/paper-missing", {}),
    ):
        answer = client.post(path, data={"assignment": SHELF, **more})
        assert answer.status_code == 403
        assert "not planned for Tomas Vale" in text_of(answer.text)
    assert client.get("/stand/paper", params={"assignment": SHELF}).status_code == 403
    assert tools.database.readings() == ()
    assert tools.database.messages() == ()


def test_the_next_reader_starts_with_their_own(client: TestClient, tools: Tools) -> None:
    before = client.cookies
    sit(client)
    first = before.get(SITTING_COOKIE)
    sit(client, "Ada Fenwick")
    assert "Marrowby in Five" in text_of(client.get("/stand").text)
    other = browser(tools)
    other.cookies.set(SITTING_COOKIE, first or "", domain="studio.lan")
    assert other.get("/stand").status_code == 403


@pytest.mark.parametrize("path", ["/stand", f"/stand/paper?assignment={HOUR}", "/stand/before"])
def test_without_a_sitting_a_booth_leads_to_the_names_and_home_says_how(
    client: TestClient, tools: Tools, path: str
) -> None:
    assert client.get(path).headers["location"] == "/booth"
    answer = browser(tools).get(path)
    assert answer.status_code == 403
    assert "open the personal link that the desk sent you" in text_of(answer.text)


@pytest.mark.parametrize("secret", ["guessed", "A" * 43, "a.b~c", "a" * 5000])
def test_a_guess_lets_nobody_in(tools: Tools, secret: str) -> None:
    client = browser(tools)
    client.cookies.set(SITTING_COOKIE, secret, domain="studio.lan")
    client.cookies.set(BOOTH_COOKIE, secret, domain="studio.lan")
    assert client.get("/stand").status_code == 403
    assert "no booth yet" in text_of(client.get("/booth").text)
    for path in (f"/link/{secret}", f"/booth/enrol/{secret}"):
        assert client.get(path).status_code == 404
        assert client.post(path).status_code in (404, 405)


# From home.


def test_a_link_lets_its_reader_in_from_home(tools: Tools) -> None:
    client = browser(tools, "https", "203.0.113.9")
    address = f"/link/{make_link('Ada Fenwick', 14, tools)}"
    greeting = client.get(address)
    assert "Welcome, Ada Fenwick" in text_of(greeting.text)
    assert "set-cookie" not in greeting.headers  # whoever only looks at it changes nothing
    answer = client.post(address)
    assert answer.headers["location"] == "/stand"
    assert {"httponly", "samesite=strict", "secure"} <= flags(answer)
    assert "Marrowby in Five" in text_of(client.get("/stand").text)
    assert client.get("/plan/readers/Ada%20Fenwick/link").status_code == 403


def test_an_expired_and_a_revoked_link_say_so_kindly(tools: Tools, clock: Clock) -> None:
    client = browser(tools)
    old, closed = (make_link("Ada Fenwick", 1, tools) for _ in range(2))
    revoke_link("Ada Fenwick", sha256_of(closed), tools)
    clock.move(days=2)
    for secret, words in ((old, "was good until"), (closed, "has closed this personal link")):
        for answer in (client.get(f"/link/{secret}"), client.post(f"/link/{secret}")):
            assert answer.status_code == 403
            assert words in text_of(answer.text)
            assert "set-cookie" not in answer.headers


def test_leaving_ends_it_and_says_goodbye_at_home(client: TestClient, tools: Tools) -> None:
    sit(client)
    secret = client.cookies.get(SITTING_COOKIE)
    answer = client.post("/stand/leave")
    assert answer.headers["location"] == "/booth"
    assert client.cookies.get(SITTING_COOKIE) is None
    with pytest.raises(Exception, match="come in"):
        sitting_of(secret, tools)
    at_home = browser(tools)
    at_home.post(f"/link/{make_link('Ada Fenwick', 14, tools)}")
    # After a hand-in the sitting has ended already: leaving still leads out.
    for _ in range(2):
        assert at_home.post("/stand/leave").headers["location"] == "/stand/left"
    assert "Goodbye, and thank you" in text_of(at_home.get("/stand/left").text)


# Forms from elsewhere.


@pytest.mark.parametrize(
    "path",
    [
        "/booth/name",
        "/booth/enrol/x",
        "/link/x",
        "/stand/choose",
        "/stand/paper",
        "/stand/paper-missing",
        "/stand/take",
        "/stand/pass",
        "/stand/help",
        "/stand/leave",
    ],
)
def test_a_form_of_another_site_does_nothing(client: TestClient, tools: Tools, path: str) -> None:
    sit(client)
    for origin in ("https://elsewhere.example", "null", "http://studio.lan:8080"):
        answer = client.post(path, data={"assignment": HOUR}, headers={"origin": origin})
        assert answer.status_code == 403
    assert client.get("/stand").status_code == 200  # nobody was put out by it
    assert tools.database.messages() == ()


@pytest.mark.parametrize(
    "path",
    [
        "/plan/booths/booth-1/enrol",
        "/plan/booths/booth-1/enrol/end",
        "/plan/readers/Ada%20Fenwick/link",
        f"/plan/readers/Ada%20Fenwick/link/{'0' * 64}/revoke",
    ],
)
def test_the_desks_side_answers_at_the_desk_alone(
    client: TestClient, tools: Tools, path: str
) -> None:
    assert client.post(path, data={"days": "14"}).status_code == 403
    other = {"origin": "https://elsewhere.example"}
    assert desk(tools).post(path, data={"days": "14"}, headers=other).status_code == 403


# The way to the first word.


def test_from_a_name_to_the_room_in_three_steps(client: TestClient, tools: Tools) -> None:
    sit(client)
    before = client.cookies.get(SITTING_COOKIE)
    text = text_of(client.get("/stand").text)
    assert "Today you read this The Courier Hour" in text
    assert "The Marrowby Courier of Wednesday 25 November · on the air today at 19:00" in text
    assert "56 to 58 minutes to read: about 8,600 words." in text
    assert "The reader is Tomas Vale" in text
    answer = client.post("/stand/choose", data={"assignment": HOUR})
    asked = client.get(answer.headers["location"])
    assert "Does your paper say Wednesday 25 November?" in text_of(asked.text)
    answer = client.post(
        "/stand/paper", data={"assignment": HOUR, "issue": "2026-11-25", "answer": "yes"}
    )
    assert answer.headers["location"] == "/stand/room"
    (row,) = tools.database.readings()
    sitting = sitting_of(client.cookies.get(SITTING_COOKIE), tools)
    assert sitting.reading == f"readings:{row.reading_id}"
    assert client.cookies.get(SITTING_COOKIE) != before
    given = client.post("/stand/pass").json()
    assert given["reading"] == sitting.reading
    assert given["wire"] == "ws://studio.lan/stand/wire"
    assert tools.database.token(sha256_of(given["pass"])).reading == sitting.reading


def test_what_was_begun_is_gone_on_with_in_one_step(client: TestClient, tools: Tools) -> None:
    record(open_reading(HOUR, sat(tools, "Tomas Vale"), tools).folder, tools, 2.0)
    sit(client)
    text = text_of(client.get("/stand").text)
    assert "You have 2 seconds of it already." in text
    assert "Go on reading" in text
    answer = client.post("/stand/choose", data={"assignment": HOUR})
    assert answer.headers["location"] == "/stand/room"


def test_what_was_handed_in_is_not_opened_again(client: TestClient, tools: Tools) -> None:
    handed_in(tools, HOUR, "Tomas Vale")
    sit(client)
    assert "Nothing is planned for you today" in text_of(client.get("/stand").text)
    answer = client.post(
        "/stand/paper", data={"assignment": HOUR, "issue": "2026-11-25", "answer": "yes"}
    )
    assert answer.status_code == 409
    assert "handed this one in already" in text_of(answer.text)


def test_a_paper_that_differs_is_settled_before_reading(client: TestClient, tools: Tools) -> None:
    sit(client)
    asked = client.get("/stand/paper", params={"assignment": HOUR, "other": "1"})
    assert "Tuesday 24 November" in text_of(asked.text)
    answer = client.post(
        "/stand/paper", data={"assignment": HOUR, "answer": "says", "says": "2026-11-24"}
    )
    differs = text_of(client.get(answer.headers["location"]).text)
    assert "Your paper says Tuesday 24 November" in differs
    assert "the issue of Wednesday 25 November is planned" in differs
    for words in ("Look at the paper again", "Read this issue", "Ask the desk"):
        assert words in differs
    assert tools.database.readings() == ()
    answer = client.post(
        "/stand/paper", data={"assignment": HOUR, "answer": "read", "says": "2026-11-24"}
    )
    assert answer.headers["location"] == "/stand/room"
    (row,) = tools.database.readings()
    assert row.issue_date.isoformat() == "2026-11-24"
    assert [message.kind for message in tools.database.messages()] == ["issue-differs"]


def test_a_paper_that_says_what_is_planned_after_all_is_read(
    client: TestClient, tools: Tools
) -> None:
    sit(client)
    answer = client.post(
        "/stand/paper",
        data={
            "assignment": HOUR,
            "answer": "says",
            "says": "other",
            "other_day": "25",
            "other_month": "11",
        },
    )
    assert answer.headers["location"] == "/stand/room"
    assert tools.database.messages() == ()


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"says": "other"},
        {"says": "other", "other_day": "31", "other_month": "2"},
        {"says": "other", "other_day": "x", "other_month": "13"},
        {"says": "yesterday"},
        {"says": "1999-01-01"},
    ],
)
def test_a_date_that_cannot_be_is_said_at_the_dates(
    client: TestClient, given: dict[str, str]
) -> None:
    sit(client)
    answer = client.post("/stand/paper", data={"assignment": HOUR, "answer": "says", **given})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert "What does your paper say?" in text_of(answer.text)
    assert ("February has no day 31." in text_of(answer.text)) == (given.get("other_day") == "31")
    for name in ("other_day", "other_month"):
        if given.get(name, "").isdigit() and given[name] != "13":
            assert f'<option value="{given[name]}" selected>' in answer.text.replace(
                "<option selected>31", '<option value="31" selected>'
            )


def test_another_date_is_taken_in_the_year_nearest_to_now(
    client: TestClient, clock: Clock, tools: Tools
) -> None:
    clock.move(days=38)  # 2 January 2027
    plan(tools, HOUR, air_date=clock().date(), issue_date=clock().date())
    sit(client)
    answer = client.post(
        "/stand/paper",
        data={"assignment": HOUR, "answer": "says", "other_day": "24", "other_month": "12"},
    )
    assert answer.headers["location"].endswith("says=2026-12-24")


def test_when_the_desk_changed_the_issue_meanwhile_it_is_asked_anew(
    client: TestClient, tools: Tools
) -> None:
    sit(client)
    plan(tools, HOUR, issue_date=clock_day(24))
    answer = client.post(
        "/stand/paper", data={"assignment": HOUR, "issue": "2026-11-25", "answer": "yes"}
    )
    assert answer.headers["location"].startswith("/stand/paper?")
    assert tools.database.readings() == ()
    asked = text_of(client.get(answer.headers["location"]).text)
    assert "Does your paper say Tuesday 24 November?" in asked


def clock_day(day: int) -> date:
    return Clock().at.date().replace(day=day)


def test_an_issue_read_already_is_said_before_anything(client: TestClient, tools: Tools) -> None:
    handed_in(tools, HOUR, "Tomas Vale")

    def again(station: Station) -> Station:
        hour = assignment_named(station, HOUR)
        more = replace(hour, key="again", air_date=clock_day(26), readers=("Ada Fenwick",))
        return replace(station, assignments=(*station.assignments, more))

    tools.database.change_station(again)
    sit(client, "Ada Fenwick")
    asked = text_of(client.get("/stand/paper", params={"assignment": "again"}).text)
    assert (
        "The issue of Wednesday 25 November has been read for The Courier Hour already, by "
        "Tomas Vale." in asked
    )


def test_a_book_and_loose_pages_are_asked_about_in_their_own_words(client: TestClient) -> None:
    sit(client, "Imke Rowan")
    text = text_of(client.get("/stand/paper", params={"assignment": SHELF}).text)
    assert "Is this the book: A Lantern for Tolly Weir? Part 9, for The Long Shelf." in text
    sit(client, "Joan Abara")
    request = "private-request-2026-11-19"
    text = text_of(client.get("/stand/paper", params={"assignment": request}).text)
    assert "Are these the pages of Thursday 19 November?" in text


# Telling the desk.


def test_a_paper_that_did_not_come_is_told_and_something_else_offered(
    client: TestClient, tools: Tools
) -> None:
    sit(client)
    answer = client.post("/stand/paper-missing", data={"assignment": HOUR})
    page = client.get(answer.headers["location"])
    text = text_of(page.text)
    assert "What else can be read The desk knows that it did not come." in text
    assert "Field and Lane" in text
    assert f'value="{HOUR}"' not in page.text
    (told,) = tools.database.messages(open_only=True)
    assert (told.kind, told.reader, told.booth) == ("paper-missing", "Tomas Vale", "booth-1")
    see_message(told.message_id, tools)
    assert "The desk has seen it." in text_of(client.get(answer.headers["location"]).text)


def test_help_is_asked_for_and_seen(client: TestClient, tools: Tools) -> None:
    sit(client)
    message_id = client.post("/stand/help").json()["messageId"]
    asked = f"/stand/message/{message_id}"
    assert client.get(asked).json() == {"seenAt": None}
    seen = see_message(message_id, tools)
    assert seen.seen_at is not None
    assert client.get(asked).json() == {"seenAt": seen.seen_at.isoformat()}
    by_form = client.post("/stand/help", headers={"accept": "text/html,*/*"})
    assert by_form.headers["location"].startswith("/stand?message=")
    sit(client, "Ada Fenwick")
    assert client.get(asked).status_code == 404


def test_a_walk_in_takes_what_is_short(client: TestClient, tools: Tools) -> None:
    handed_in(tools, HOUR, "Tomas Vale")
    sit(client)
    text = text_of(client.get("/stand").text)
    assert "Nobody reads these yet If you take one, the desk is told. Field and Lane" in text
    wanted = {"programme": "field-and-lane", "air_date": "2026-11-25"}
    answer = client.post("/stand/take", data=wanted)
    asked = text_of(client.get(answer.headers["location"]).text)
    assert "Does your magazine say Wednesday 25 November?" in asked
    assert [message.kind for message in tools.database.messages()] == ["taken"]
    sit(client, "Ada Fenwick")
    assert client.post("/stand/take", data=wanted).status_code == 409
    assert client.post("/stand/take", data={"programme": "hour"}).status_code == 422


def test_earlier_readings_say_what_became_of_them_with_thanks(
    client: TestClient, tools: Tools
) -> None:
    folder = handed_in(tools, HOUR, "Tomas Vale", state="cleared")
    sit(client)
    page = client.get("/stand/before")
    text = text_of(page.text)
    assert "You have handed in one reading, one minute in all" in text
    assert "It is on the air on Wednesday 25 November at 19:00. Thank you." in text
    assert f"/stand/receipt?reading={folder.facts.reading_id}" in page.text


# Secrets.


def test_no_page_of_a_reader_is_found_by_going_back(client: TestClient) -> None:
    sit(client)
    for path in ("/booth", "/stand", f"/stand/paper?assignment={HOUR}", "/stand/before"):
        assert client.get(path).headers["cache-control"] == "no-store"


def test_the_desk_makes_addresses_that_are_shown_once_and_kept_nowhere(tools: Tools) -> None:
    at_desk = desk(tools)
    for path, made in (
        ("/plan/booths/booth-1/enrol", r"http://127\.0\.0\.1/booth/enrol/([\w-]{43})"),
        ("/plan/readers/Ada%20Fenwick/link", r"http://127\.0\.0\.1/link/([\w-]{43})"),
    ):
        page = at_desk.post(path, data={"days": "14"})
        assert page.headers["cache-control"] == "no-store"
        found = re.search(made, page.text)
        assert found is not None
        assert found[1] not in at_desk.get(path).text
        written = b"".join(file.read_bytes() for file in tools.data.glob(f"{FILE}*"))
        assert sha256_of(found[1]).encode() in written
        assert found[1].encode() not in written


def test_the_desk_sees_ends_and_revokes(client: TestClient, tools: Tools) -> None:
    at_desk = desk(tools)
    page = at_desk.get("/plan/booths/booth-1/enrol")
    assert "A browser has been Booth 1 since Wednesday 25 November, 09:20." in text_of(page.text)
    at_desk.post("/plan/booths/booth-1/enrol/end")
    page = at_desk.get("/plan/booths/booth-1/enrol")
    assert "No browser is Booth 1 yet." in text_of(page.text)
    assert "no booth yet" in text_of(client.get("/booth").text)
    address = "/plan/readers/Ada%20Fenwick/link"
    made = re.search(r"/link/([\w-]{43})", at_desk.post(address, data={"days": "3"}).text)
    assert made is not None
    assert "good until Saturday 28 November" in text_of(at_desk.get(address).text)
    answer = at_desk.post(f"{address}/{sha256_of(made[1])}/revoke")
    assert answer.headers["location"] == address
    assert "revoked" in text_of(at_desk.get(address).text)
    assert client.get(f"/link/{made[1]}").status_code == 403
    assert at_desk.get("/plan/booths/none/enrol").status_code == 404
    assert at_desk.get("/plan/readers/Nobody/link").status_code == 404


@pytest.mark.parametrize("days", ["", "0", "-3", "two", "1.5", "367", "9" * 400, "٣"])
def test_days_that_are_none_are_said_at_the_field(tools: Tools, days: str) -> None:
    page = desk(tools).post("/plan/readers/Ada%20Fenwick/link", data={"days": days})
    assert page.status_code == 422
    assert 'aria-invalid="true"' in page.text
    assert "/link/" not in re.sub(r"/plan/readers/[^\"]*", "", page.text)


def test_no_page_has_words_that_a_screen_never_has(client: TestClient, tools: Tools) -> None:
    pages = [client.get("/booth"), client.get("/stand/left"), browser(tools).get("/stand")]
    sit(client)
    pages += [
        client.get("/stand"),
        client.get(f"/stand/paper?assignment={HOUR}"),
        client.get(f"/stand/paper?assignment={HOUR}&other=1"),
        client.get(f"/stand/paper?assignment={HOUR}&says=2026-11-24"),
        client.get(f"/stand/paper?assignment={HOUR}&says=never"),
        client.get(f"/stand/paper?assignment={SHELF}"),
        client.get("/stand/before"),
        client.get(f"/link/{new_secret()}"),
        desk(tools).get("/plan/booths/booth-1/enrol"),
        desk(tools).get("/plan/readers/Ada%20Fenwick/link"),
    ]
    for page in pages:
        assert not FORBIDDEN.search(text_of(page.text)), page.url


@pytest.mark.parametrize("path", ["/plan/booths/booth-1/enrol", "/plan/readers/Tomas%20Vale/link"])
def test_over_tls_the_desk_hands_out_the_address_that_others_have(tools: Tools, path: str) -> None:
    at_desk = TestClient(
        make_app(tools, outside="https://studio.lan:8443"),
        "http://127.0.0.1",
        client=("127.0.0.1", 40_000),
    )
    page = at_desk.post(path, data={"days": "14"}).text
    assert "https://studio.lan:8443/" in page
    assert "127.0.0.1 and localhost mean this computer" not in page
