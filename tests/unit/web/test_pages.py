"""The pages without a browser: what is answered, and what is refused, in which words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from quietleaf.listening.words_check import PartCheck, WordsCheck, WordsFinding
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import reading_row
from quietleaf.web.app import make_app
from quietleaf.web.guard import FILE_POLICY, PAGE_POLICY
from quietleaf.work.kept_words import keep_words
from quietleaf.work.see_disk import BYTES_AN_HOUR, HOURS_FULL, DiskSeen, see_disk
from quietleaf.work.tools import Tools
from tests.finished import (
    FACTS,
    NOW,
    REPORT,
    REPORT_PAGE,
    bring_reading,
    example_station,
    finish_reading,
    finished_station,
    other_reading,
)

FORBIDDEN = re.compile(r"\b(error|invalid|buffer|session|exception|traceback)\b", re.IGNORECASE)
"""Words that a screen never has."""


@pytest.fixture(scope="module")
def tools(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tools]:
    """Give the example station with one finished reading."""
    made = finished_station(tmp_path_factory.mktemp("station"))
    yield made
    made.database.close()


@pytest.fixture(scope="module")
def client(tools: Tools) -> TestClient:
    """Give somebody who asks that station."""
    return client_of(tools)


def client_of(tools: Tools) -> TestClient:
    """Ask a station; a fault of ours comes as its page."""
    return TestClient(
        make_app(tools),
        "http://127.0.0.1",
        raise_server_exceptions=False,
        client=("127.0.0.1", 50_000),
    )


def text_of(html: str) -> str:
    """Give what a reader sees of a page, roughly."""
    html = re.sub(r"(?s)<head>.*?</head>", " ", html)
    text = re.sub(r"<[^>]+>", " ", html).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(text.split())


def test_today_is_shown_with_its_programmes_in_order_and_the_present_time(
    client: TestClient,
) -> None:
    page = client.get("/")
    assert page.status_code == 200
    text = text_of(page.text)
    places = [
        text.index(words)
        for words in (
            "Wednesday 25 November",
            "12:00 to 12:30 Bread and Butter",
            "13:00 to 14:00 The Long Shelf A Lantern for Tolly Weir · part 9 · Imke Rowan",
            "now, 14:20",
            "16:00 to 17:00 Letters to the Editor",
            "17:00 to 18:00 Field and Lane",
            "Nobody reads this yet.",
            "18:00 to 18:05 Marrowby in Five",
            "Two things to hear Hear them in Marrowby in Five",
        )
    ]
    assert places == sorted(places)
    assert "Invented for the example" in text


def test_an_address_of_a_day_shows_that_day_without_the_present_time(client: TestClient) -> None:
    page = client.get("/day/2026-11-23")
    assert page.status_code == 200
    text = text_of(page.text)
    assert "Monday 23 November" in text
    assert "Three programmes; none was read." in text
    assert "now," not in text
    assert 'href="/day/2026-11-22"' in page.text
    assert 'href="/day/2026-11-24"' in page.text
    assert "To Wednesday 25 November 2026, the nearest day with assignments" in text
    assert 'href="/day/2026-11-25"' in page.text


@pytest.mark.parametrize("day", ["yesterday", "2026-11-31", "20261125", "2026-W48-3", "2026-1-1"])
def test_a_day_that_is_none_is_refused_in_a_sentence(client: TestClient, day: str) -> None:
    page = client.get(f"/day/{day}")
    assert page.status_code == 422
    assert "A day is written like 2026-11-25" in text_of(page.text)


@pytest.mark.parametrize("day", ["0001-01-01", "1969-12-31", "9999-12-31"])
def test_a_day_out_of_reach_is_refused_in_a_sentence(client: TestClient, day: str) -> None:
    page = client.get(f"/day/{day}")
    assert page.status_code == 404
    assert "Days can be looked at from 1970 to 2199" in text_of(page.text)


@pytest.mark.parametrize(
    ("day", "beside"), [("1970-01-02", "1970-01-03"), ("2199-12-31", "2199-12-30")]
)
def test_the_calendar_ends_without_a_link(client: TestClient, day: str, beside: str) -> None:
    page = client.get(f"/day/{day}")
    assert page.status_code == 200
    links = set(re.findall(r'href="/day/([^"]+)"', page.text))
    assert links == {beside, "2026-11-25"}


def test_today_is_the_stations_own_and_not_that_of_utc(tmp_path: Path) -> None:
    # In July London's clocks are an hour ahead: 23:30 UTC is 00:30 of the next day there.
    tools = example_station(tmp_path, datetime(2026, 7, 14, 23, 30, tzinfo=UTC))
    with tools.database:
        text = text_of(client_of(tools).get("/").text)
    assert "Wednesday 15 July" in text
    assert text.index("now, 00:30") < text.index("12:00 to")


def test_after_the_last_programme_the_present_time_stands_at_the_end(tmp_path: Path) -> None:
    tools = example_station(tmp_path, datetime(2026, 11, 25, 22, 0, tzinfo=UTC))
    with tools.database:
        text = text_of(client_of(tools).get("/").text)
    assert text.index("Evening Story") < text.index("now, 22:00")
    assert "Nobody read this." in text
    assert "Was not read" in text


def test_a_reading_is_shown_with_verdict_numbers_things_to_hear_and_files(
    client: TestClient,
) -> None:
    page = client.get("/reading/k3f9")
    assert page.status_code == 200
    text = text_of(page.text)
    for words in (
        "Marrowby in Five",
        "issue of Wednesday 25 November 2026 · read by Ada Fenwick · airs that day at 18:00",
        "Two things to hear before this is cleared.",
        "Not as asked for: True peak.",
        "Read twice at 0:06 to 0:08",
        "Paper at 0:09",
        "Loudness LUFS Came in −31.2 Master −23.0 Asked for −23.0 ± 0.2, kept",
        "True peak dBTP Came in −0.1 Master −0.4 Asked for at most −1.0, not kept",
        "True peak of the MP3 dBTP Came in – not measured Master −1.3",
        "Two, 10 seconds in all.",
        "One note for the record Too loud for the recording at 0:10",
        "Loudness of every 3 seconds.",
        "Master, Broadcast Wave, 1.7 MB",
        "The full report",
        "This is the Marrowby Reading Service. You are listening to Marrowby in Five, from The "
        "Marrowby Courier of Wednesday 25 November 2026. The reader is Ada Fenwick.",
    ):
        assert words in text
    assert (
        '<audio id="player" controls preload="metadata" src="/reading/k3f9/files/marrowby.mp3"'
        in (page.text)
    )
    # A thing to hear from a sentence before; an article from its start.
    assert re.findall(r'data-from="([^"]+)" data-to="([^"]+)" data-at', page.text) == [
        ("4.00", "9.80"),
        ("6.00", "10.50"),
        ("8.00", "12.00"),
    ]
    assert "The ferry 0:05" in text
    assert "Loudness range" not in text  # nothing was asked of it: the report has it
    assert "report.json" not in page.text


def test_what_was_heard_of_the_opening_words_is_said_under_them(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    row = tools.database.reading("k3f9")
    (wave,) = (made for made in row.masters if made.kind == "wave")
    wrong = WordsFinding(
        kind="weekday",
        start_s=6.0,
        end_s=6.5,
        severity="hear",
        expected="Wednesday",
        heard="Tuesday",
    )
    check = WordsCheck(
        opening=PartCheck(state="differs", start_s=0.5, end_s=9.0, findings=(wrong,)),
        closing=PartCheck(state="not checked", why_not="Nobody can listen here."),
    )
    keep_words(tools.data / row.folder, wave.sha256, check)
    page = client_of(tools).get("/reading/k3f9").text
    text = text_of(page)
    assert "Something else was heard than is written." in text
    assert "Opening words at 0:06 Heard “Tuesday”; expected “Wednesday”. Hear it" in text
    assert "Not checked. Nobody can listen here." in text
    assert 'name="finding" value="opening-words"' in page
    tools.database.close()


def test_a_reading_that_is_not_finished_says_so(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        bring_reading(tools, other_reading("courier-hour", "c9"))
        client = client_of(tools)
        board = text_of(client.get("/").text)
        page = client.get("/reading/c9")
    assert "Handed in, not finished yet See it" in board
    assert "handed in, and not finished yet" in page.text
    assert 'src="/reading/c9/sound"' in page.text


def test_two_readings_of_one_slot_are_both_reached(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        bring_reading(tools)
        bring_reading(tools, replace(FACTS, reading_id="z9"))
        board = client_of(tools).get("/")
    assert set(re.findall(r'href="/reading/([^"]+)"', board.text)) == {"k3f9", "z9"}


def test_what_does_not_fit_its_window_says_by_how_much(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    with tools.database:
        folder = bring_reading(tools)
        finish_reading(tools, folder, replace(REPORT, grounds=(), findings=()), misfit_s=-213.0)
        client = client_of(tools)
        assert "Four minutes too short" in text_of(client.get("/").text)
        page = text_of(client.get("/reading/k3f9").text)
    assert "four minutes too short for its window of 3:45 to 4:45" in page
    assert "Nothing was found that needs an ear." in page


@pytest.mark.parametrize(
    ("name", "media_type"),
    [
        ("marrowby.wav", "audio/wav"),
        ("marrowby.mp3", "audio/mpeg"),
        ("plan.json", "application/json; charset=utf-8"),
        ("report.html", "text/html; charset=utf-8"),
    ],
)
def test_a_file_comes_as_it_lies_on_the_disk(
    client: TestClient, tools: Tools, name: str, media_type: str
) -> None:
    stored = masters(tools) / name
    answer = client.get(f"/reading/k3f9/files/{name}")
    assert answer.status_code == 200
    assert answer.content == stored.read_bytes()
    assert answer.headers["content-type"] == media_type
    assert answer.headers["content-disposition"] == f'inline; filename="{name}"'
    assert answer.headers["accept-ranges"] == "bytes"
    assert answer.headers["content-security-policy"] == FILE_POLICY
    kept = client.get(f"/reading/k3f9/files/{name}?keep")
    assert kept.headers["content-disposition"] == f'attachment; filename="{name}"'


def test_a_range_of_a_file_comes_alone(client: TestClient, tools: Tools) -> None:
    stored = (masters(tools) / "marrowby.wav").read_bytes()
    url = "/reading/k3f9/files/marrowby.wav"
    part = client.get(url, headers={"Range": "bytes=100-299"})
    assert part.status_code == 206
    assert part.content == stored[100:300]
    assert part.headers["content-range"] == f"bytes 100-299/{len(stored)}"
    last = client.get(url, headers={"Range": "bytes=-50"})
    assert last.content == stored[-50:]
    beyond = client.get(url, headers={"Range": f"bytes={len(stored)}-"})
    assert beyond.status_code == 416
    assert client.head(url).headers["content-length"] == str(len(stored))


@pytest.mark.parametrize(
    "path",
    [
        "/reading/k3f9/files/made.json",
        "/reading/k3f9/files/..%2fledger.jsonl",
        "/reading/k3f9/files/..%2f..%2f..%2f..%2fquietleaf.sqlite",
        "/reading/k3f9/files/%2e%2e%2fledger.jsonl",
        "/reading/k3f9/files/..%5cledger.jsonl",
        "/reading/k3f9/files/masters%2fmarrowby.wav",
        "/reading/k3f9/files/marrowby.wav%00.html",
        "/reading/k3f9/files/",
        "/reading/k3f9/files/%2fetc%2fpasswd",
        "/reading/..%2f..%2fquietleaf.sqlite",
        "/reading/nobody",
        "/reading/k3f9%27--",
        "/static/..%2f..%2fapp.py",
        "/static/%2e%2e/%2e%2e/app.py",
        "/nothing",
    ],
)
def test_no_address_leads_anywhere_else(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "There is no such page" in answer.text


def test_a_file_that_the_disk_lost_is_said_in_a_sentence(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    with tools.database:
        (masters(tools) / "plan.json").unlink()
        answer = client_of(tools).get("/reading/k3f9/files/plan.json")
    assert answer.status_code == 500
    assert "Finish the reading again." in answer.text


def test_a_report_whose_facts_are_lost_is_said_in_a_sentence(tmp_path: Path) -> None:
    tools = finished_station(tmp_path)
    with tools.database:
        (masters(tools) / "report.json").write_text("{", encoding="utf-8")
        answer = client_of(tools).get("/reading/k3f9")
    assert answer.status_code == 500
    assert "Finish the reading again." in answer.text


def test_pages_bring_neither_script_nor_style_inside(client: TestClient) -> None:
    for path in ("/", "/reading/k3f9", "/nothing", "/day/2026-11-24"):
        page = client.get(path)
        assert page.headers["content-security-policy"] == PAGE_POLICY
        assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*\ssrc=)", page.text)


def test_every_answer_has_its_headers(client: TestClient) -> None:
    for path in ("/", "/health", "/nothing", "/static/style.css", "/reading/k3f9/files/plan.json"):
        headers = client.get(path).headers
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert "frame-ancestors 'none'" in headers["content-security-policy"]


@pytest.mark.parametrize(
    ("path", "media_type"),
    [
        ("style.css", "text/css"),
        ("leaf.svg", "image/svg+xml"),
        ("fonts/eb-garamond-latin-400-normal.woff2", "font/woff2"),
        ("scripts/pages/reading.js", "javascript"),
        ("fonts/OFL-eb-garamond.txt", "text/plain"),
    ],
)
def test_what_pages_are_made_of_says_its_kind(
    client: TestClient, path: str, media_type: str
) -> None:
    answer = client.get(f"/static/{path}")
    assert answer.status_code == 200
    assert media_type in answer.headers["content-type"]


def test_every_face_that_the_style_names_is_there_with_its_licence(client: TestClient) -> None:
    style = client.get("/static/style.css").text
    faces = set(re.findall(r'url\("([^"]+)"\)', style))
    assert faces
    for face in faces:
        assert client.get(f"/static/{face}").content[:4] == b"wOF2"
    for family in ("atkinson-hyperlegible-next", "eb-garamond"):
        licence = client.get(f"/static/fonts/OFL-{family}.txt").text
        assert "SIL OPEN FONT LICENSE Version 1.1" in licence


def test_the_report_is_served_as_it_is(client: TestClient) -> None:
    report = client.get("/reading/k3f9/files/report.html")
    assert report.text == REPORT_PAGE


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8190", "127.0.0.1.evil.example", ""]
)
def test_another_hosts_name_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 400
    assert "Marrowby" not in answer.text
    assert "answers under 127.0.0.1" in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:8190", "localhost:1", "LOCALHOST", "[::1]:8190"])
def test_its_own_names_are_answered(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


def test_any_name_is_answered_where_that_is_asked_for(tools: Tools) -> None:
    client = TestClient(make_app(tools, hosts=None), "http://booth.example")
    assert client.get("/health").text == "well\n"


@pytest.mark.parametrize(("hours", "status"), [(30.0, 200), (15.4, 200), (0.4, 503)])
def test_a_disk_that_gets_full_is_told(tools: Tools, hours: float, status: int) -> None:
    client = client_of(replace(tools, free_bytes=lambda: int(hours * BYTES_AN_HOUR)))
    page = client.get("/").text
    assert ("The disk is getting full." in page) == (hours < HOURS_FULL)
    assert ("room for about 15 hours of reading" in page) == (hours == 15.4)
    assert ("room for less than an hour of reading" in page) == (hours < 1)
    assert client.get("/health").status_code == status


def test_a_disk_that_gets_full_as_it_goes_now_is_told(tools: Tools) -> None:
    long = replace(
        reading_row(bring_reading(tools, other_reading("courier-hour", "r7"))),
        duration_s=28 * 7200.0,
    )
    tools.database.index_reading(long)
    disk = see_disk(replace(tools, free_bytes=lambda: 24 * BYTES_AN_HOUR))
    assert disk.days == pytest.approx(12.0, abs=0.1)
    assert disk.is_short


@pytest.mark.parametrize(
    ("hours", "days", "short", "small"),
    [
        (19.9, None, True, False),
        (20.0, None, False, False),
        (30.0, 13.9, True, False),
        (30.0, 14.0, False, False),
        (2.0, 400.0, False, True),
        (0.9, 400.0, True, False),
    ],
)
def test_days_decide_where_they_are_known(
    hours: float, days: float | None, short: bool, small: bool
) -> None:
    disk = DiskSeen(hours=hours, days=days)
    assert (disk.is_short, disk.is_small) == (short, small)


def test_few_hours_that_last_for_months_are_told_calmly(tmp_path: Path) -> None:
    made = finished_station(tmp_path)
    with made.database:
        little = replace(made.database.reading("k3f9"), duration_s=4 * 3600.0)
        made.database.index_reading(little)
        few = replace(made, free_bytes=lambda: int(13.2 * BYTES_AN_HOUR))
        page = client_of(few).get("/").text.replace("\N{NO-BREAK SPACE}", " ")
    assert "The disk is getting full." not in page
    assert (
        '<p class="aside" id="disk">The disk has room for about 13 hours of reading, '
        "or three months as it goes now.</p>" in page
    )


def test_what_cannot_be_done_there_is_said(client: TestClient) -> None:
    answer = client.post("/")
    assert answer.status_code == 405
    assert set(answer.headers["allow"].split(", ")) == {"GET", "HEAD"}


def test_without_a_station_a_page_says_how_to_get_the_example(tmp_path: Path) -> None:
    with Database(database_url(tmp_path)) as database:
        client = client_of(Tools(data=tmp_path, database=database, clock=lambda: NOW))
        page = client.get("/")
        assert client.get("/health").text == "well\n"
    assert page.status_code == 404
    assert "quietleaf demo" in page.text
    assert "No station here yet" in page.text


def test_a_fault_of_ours_is_a_page_in_plain_words(tmp_path: Path) -> None:
    def broken_clock() -> datetime:
        raise ZeroDivisionError("secret")

    tools = replace(example_station(tmp_path), clock=broken_clock)
    with tools.database:
        page = client_of(tools).get("/")
    assert page.status_code == 500
    assert "the fault is Quietleaf’s" in page.text
    assert "secret" not in page.text
    assert page.headers["content-security-policy"] == PAGE_POLICY


def test_no_page_has_a_word_that_a_screen_never_has(client: TestClient) -> None:
    for path in ("/", "/reading/k3f9", "/nothing", "/day/x", "/reading/none", "/day/2026-11-24"):
        page = text_of(client.get(path).text)
        assert not FORBIDDEN.search(page), page


def test_what_people_typed_is_never_read_as_marks(tmp_path: Path) -> None:
    tools = example_station(tmp_path)
    evil = replace(FACTS, readers=("<script>alert(1)</script>",), programme_title='"><b>')
    with tools.database:
        finish_reading(tools, bring_reading(tools, evil))
        client = client_of(tools)
        for path in ("/", "/reading/k3f9"):
            page = client.get(path).text
            assert "<script>alert" not in page
            assert "&lt;script&gt;alert(1)" in page
        assert "<b>" not in client.get("/reading/k3f9").text


def masters(tools: Tools) -> Path:
    """Give the folder of what was made."""
    return tools.data / "readings" / "marrowby-in-five" / "2026-11-25-k3f9" / "masters"
