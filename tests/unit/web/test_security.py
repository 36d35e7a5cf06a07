"""What every answer, cookie and form has to hold against: headers, prefixes, origins, silence."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, get_args

import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from quietleaf.planning.account import ROLES
from quietleaf.storage import passwords
from quietleaf.storage.tokens import TokenPurpose
from quietleaf.web import guard
from quietleaf.web.app import make_app
from quietleaf.web.entry import LETTING_IN, LETTING_IN_A_MINUTE, LOOKS_BY_ITSELF
from quietleaf.web.forms import LARGEST_FORM_BYTES
from quietleaf.web.guard import HEADERS, HSTS, PAGE_POLICY
from quietleaf.web.roles import EVERYBODY
from quietleaf.web.roles import ROLES as ROWS
from quietleaf.work.accounts import add_account
from quietleaf.work.personal_links import make_link
from quietleaf.work.tools import Tools
from tests.finished import bring_reading, example_station

HERE, HOME = "http://127.0.0.1:8190", "https://studio.lan"
PASSWORD = "four quiet leaves fall"
READER = "Ada Fenwick"
WEB = Path(__file__).parents[3] / "src/quietleaf/web"
OTHERS: list[dict[str, str]] = [
    {"origin": "https://elsewhere.example"},
    {"origin": "null"},
    {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"},
]


@pytest.fixture
def tools(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    made = example_station(tmp_path)
    with made.database:
        yield made


def browser(tools: Tools, base: str = HERE, peer: str = "127.0.0.1") -> TestClient:
    return TestClient(
        make_app(tools, hosts=None), base, client=(peer, 40_000), follow_redirects=False
    )


def signed_in(tools: Tools, base: str = HERE) -> TestClient:
    """Give a browser in which somebody of every role has signed in."""
    add_account(READER, list(ROLES), PASSWORD, tools)
    client = browser(tools, base)
    assert client.post("/sign-in", data={"name": READER, "password": PASSWORD}).status_code == 303
    return client


def test_over_tls_a_browser_is_told_to_come_by_no_other_way(tools: Tools) -> None:
    for path in ("/booth", "/nothing", "/static/style.css", "/plan"):
        home, here = browser(tools, HOME, "192.168.1.20").get(path), browser(tools).get(path)
        assert home.headers["strict-transport-security"] == HSTS
        assert "strict-transport-security" not in here.headers
        for name, value in HEADERS.items():
            assert name == "content-security-policy" or home.headers[name] == value
    assert re.fullmatch(r"max-age=(\d+); includeSubDomains", HSTS)
    assert int(HSTS.split("=")[1].split(";")[0]) >= 365 * 24 * 3600


def test_a_page_runs_and_shows_nothing_but_the_stations_own() -> None:
    rules = dict(part.strip().split(" ", 1) for part in PAGE_POLICY.split(";"))
    assert rules["default-src"] == rules["base-uri"] == rules["frame-ancestors"] == "'none'"
    for rule, value in rules.items():
        assert value in ("'none'", "'self'"), rule
    allowed = HEADERS["permissions-policy"].split(", ")
    assert [one for one in allowed if not one.endswith("=()")] == ["microphone=(self)"]


def test_no_template_brings_script_style_or_marks_of_its_own() -> None:
    templates = sorted((WEB / "templates").rglob("*.html"))
    assert len(templates) > 30
    for path in templates:
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*\ssrc=)", text), path
        assert not re.search(r"javascript:|autoescape|\bfrom_string\b", text), path
        # The one picture that is drawn here, of nothing but squares.
        assert text.count("| safe") == (path.name == "factor.html"), path


def test_what_names_people_is_kept_by_no_browser(tools: Tools) -> None:
    reading = bring_reading(tools)
    client = signed_in(tools)
    pages = ["/", "/plan", f"/reading/{reading}", "/account", "/accounts", "/accounts/deeds"]
    for path in [*pages, "/stand", "/booth", "/nothing", "/day/today/board"]:
        answer = client.get(path)
        assert answer.headers["cache-control"] == "no-store", path
    assert client.get("/static/style.css").headers["cache-control"] == "no-cache"


def test_cookies_are_the_hosts_own_over_tls(tools: Tools) -> None:
    add_account(READER, list(ROLES), PASSWORD, tools)
    client = browser(tools, HOME, "192.168.1.20")
    answer = client.post("/sign-in", data={"name": READER, "password": PASSWORD})
    given = answer.headers.get_list("set-cookie")
    assert len(given) == 2
    for cookie in given:
        assert cookie.startswith("__Host-quietleaf_")
        parts = {part.strip().lower() for part in cookie.split(";")[1:]}
        assert {"secure", "httponly", "path=/", "samesite=strict"} <= parts
        assert not any(part.startswith("domain") for part in parts)
    assert client.get("/plan").status_code == 200
    # Somebody on another host of the same site could have set one without the prefix.
    planted = browser(tools, HOME, "192.168.1.20")
    planted.cookies.set("quietleaf_session", client.cookies["__Host-quietleaf_session"])
    assert planted.get("/plan").status_code == 303
    for cookie in client.post("/sign-out").headers.get_list("set-cookie"):
        assert cookie.startswith('__Host-quietleaf_session=""; ')
        assert "Secure" in cookie


def test_a_session_that_was_planted_before_signing_in_is_not_taken_over(tools: Tools) -> None:
    add_account(READER, list(ROLES), PASSWORD, tools)
    client = browser(tools)
    client.cookies.set("quietleaf_session", "planted")
    answer = client.post("/sign-in", data={"name": READER, "password": PASSWORD})
    assert "planted" not in answer.headers["set-cookie"]
    planted = browser(tools)
    planted.cookies.set("quietleaf_session", "planted")
    assert planted.get("/plan").status_code == 303


def test_no_form_of_another_site_does_anything_anywhere(tools: Tools) -> None:
    client = signed_in(tools)
    routes = [
        route
        for route in make_app(tools).routes
        if isinstance(route, Route) and not (route.methods or set()) <= {"GET", "HEAD"}
    ]
    assert len(routes) > 40
    for route in routes:
        path = re.sub(r"\{[^}]+\}", "x", route.path)
        for headers in OTHERS:
            assert client.post(path, headers=headers).status_code == 403, (path, headers)
    assert client.get("/plan").status_code == 200


def test_methods_that_nobody_needs_are_refused(tools: Tools) -> None:
    client = browser(tools)
    for method in ("TRACE", "DELETE", "PUT", "CONNECT", "PROPFIND"):
        for path in ("/", "/static/style.css", "/health", "/plan"):
            assert client.request(method, path).status_code in (403, 404, 405), (method, path)
    assert client.get("/static/").status_code == 404
    assert client.get("/static/../app.py").status_code == 404
    assert client.get("/static/%2e%2e/app.py").status_code == 404
    assert client.get("/.git/config").status_code == 404


def test_what_falls_silent_is_given_up(tools: Tools, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "SILENT_S", 0.01)
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        if not sent_first:
            sent_first.append(True)
            return {"type": "http.request", "body": b"name=", "more_body": True}
        await asyncio.Event().wait()
        raise AssertionError("never")

    async def send(message: Any) -> None:
        sent.append(message)

    sent_first: list[bool] = []
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/sign-in",
        "raw_path": b"/sign-in",
        "query_string": b"",
        "headers": [(b"host", b"127.0.0.1")],
        "scheme": "http",
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 8190),
        "root_path": "",
        "http_version": "1.1",
    }
    # In a thread of its own: a browser of other tests may have a loop running in this one.
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, make_app(tools)(scope, receive, send)).result()
    assert sent[0]["status"] == 503
    assert b"Nothing more came" in b"".join(part.get("body", b"") for part in sent)


def test_who_leaves_the_stand_at_home_is_signed_out_too(tools: Tools) -> None:
    add_account(READER, list(ROLES), PASSWORD, tools)
    client = browser(tools, HOME, "192.168.1.20")
    client.post("/sign-in", data={"name": READER, "password": PASSWORD})
    kept = client.cookies["__Host-quietleaf_session"]
    assert client.get("/account").status_code == 200
    client.post("/stand/leave")
    client.cookies.set("__Host-quietleaf_session", kept)
    assert client.get("/account").status_code == 303


def test_a_button_that_is_pressed_again_and_again_fills_no_page(tools: Tools) -> None:
    client = browser(tools, HOME, "192.168.1.20")
    link = make_link(READER, 3, tools)
    client.post(f"/link/{link}")
    answers = [client.post("/stand/help").json()["messageId"] for _ in range(30)]
    assert len(set(answers)) == len(tools.database.messages()) == 1
    tools.database.see_message(answers[0], tools.clock())
    client.post("/stand/help")
    assert len(tools.database.messages()) == 2


def test_links_are_not_tried_one_after_another(tools: Tools) -> None:
    client = browser(tools, HOME, "192.168.1.20")
    link = make_link(READER, 3, tools)
    for number in range(LETTING_IN_A_MINUTE):
        address = "/link" if number % 2 else "/booth/enrol"
        assert client.get(f"{address}/{number:043d}").status_code in (403, 404)
    answer = client.get(f"/link/{link}")
    assert (answer.status_code, "Wait 60 s" in answer.text) == (503, True)
    assert client.get("/booth").status_code == 200
    assert browser(tools, HOME, "192.168.1.21").get(f"/link/{link}").status_code == 200


def test_error_pages_tell_nothing_of_the_inside(tools: Tools) -> None:
    client = browser(tools)
    for path in ("/nothing", "/reading/x", "/reading/..%2f..%2fetc/files/passwd", "/day/x"):
        text = client.get(path).text
        assert not re.search(r"Traceback|\.py|sqlite|SELECT |/usr/|site-packages", text)
    assert "server" not in {name.lower() for name in client.get("/").headers}


def test_no_other_origin_may_read_an_answer(tools: Tools) -> None:
    client = browser(tools)
    for method in ("GET", "OPTIONS"):
        for path in ("/", "/health", "/static/style.css", "/practice", "/booth"):
            answer = client.request(
                method,
                path,
                headers={
                    "origin": "https://elsewhere.example",
                    "access-control-request-method": "POST",
                },
            )
            assert not [name for name in answer.headers if name.startswith("access-control")]


def test_looking_changes_nothing(tools: Tools) -> None:
    bring_reading(tools)
    client = signed_in(tools)
    before = _kept(tools)
    for route in make_app(tools).routes:
        if isinstance(route, Route) and "GET" in (route.methods or set()):
            client.get(re.sub(r"\{[^}]+\}", "x", route.path))
    assert _kept(tools) == before


def _kept(tools: Tools) -> list[object]:
    database = tools.database
    return [
        database.load_station(),
        database.readings(),
        database.messages(),
        database.accounts.all(),
        database.accounts.count_deeds(),
        [database.tokens(purpose=purpose) for purpose in get_args(TokenPurpose)],
    ]


def test_a_form_that_is_too_large_is_refused(tools: Tools) -> None:
    client = browser(tools)
    for path in ("/sign-in", "/plan/readers/new", "/booth/name"):
        answer = client.post(path, content=b"name=" + b"x" * (LARGEST_FORM_BYTES + 1))
        assert answer.status_code in (403, 422)
        assert "A form holds at most" in answer.text
    many = "&".join(f"a{number}=1" for number in range(1_001))
    assert client.post("/sign-in", content=many).status_code == 422


def test_a_name_that_comes_twice_is_no_other_value(tools: Tools) -> None:
    add_account(READER, list(ROLES), PASSWORD, tools)
    client = browser(tools)
    for body in (
        f"name={READER}&name=Nobody&password={PASSWORD}",
        f"name={READER}&password=wrong&password={PASSWORD}",
    ):
        assert client.post("/sign-in", content=body).status_code == 403
    assert client.post(f"/sign-in?name={READER}&password={PASSWORD}").status_code == 403


def test_scripts_take_html_from_the_stations_own_parts_alone() -> None:
    scripts = sorted((WEB / "static/scripts").rglob("*.js"))
    assert len(scripts) > 30
    taking = {
        path.name
        for path in scripts
        if re.search(
            r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function",
            path.read_text(encoding="utf-8"),
        )
    }
    assert taking == {"day.js", "finishing.js"}
    for name in taking:
        text = (WEB / "static/scripts/pages" / name).read_text(encoding="utf-8")
        # Into a part that shows nothing yet, and of what the station answered.
        assert re.findall(r"(\w+)\.innerHTML = (.+)", text) in (
            [("fresh", "html")],
            [("fresh", "await answer.text()")],
        )


def test_what_a_page_asks_for_by_itself_is_an_address_that_there_is() -> None:
    assert {*LOOKS_BY_ITSELF, *LETTING_IN} <= {*ROWS, *EVERYBODY}
