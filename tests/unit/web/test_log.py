"""The log of requests: what it tells, and that no name, secret or typed word is ever in it."""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from quietleaf.cli.log_file import JsonLines, is_news
from quietleaf.storage import passwords
from quietleaf.web import pages
from quietleaf.web.app import make_app
from quietleaf.web.roles import API_ROLES, EVERYBODY, ROLES
from quietleaf.work.accounts import add_account
from quietleaf.work.enrol_booth import make_enrolment
from quietleaf.work.personal_links import make_link
from quietleaf.work.plan_booth import add_booth
from quietleaf.work.program_tokens import make_token
from quietleaf.work.tools import Tools
from tests.finished import bring_reading, example_station

PASSWORD, WRONG = "four quiet leaves fall", "seagulls on the quay"
READER, STEWARD, TYPED = "Ada Fenwick", "Ida Marsh", "The lamp above Zebedee"
HERE, HOME = "http://127.0.0.1:8190", "https://studio.lan"


@pytest.fixture
def tools(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    made = example_station(tmp_path)
    with made.database:
        yield made


class Kept(logging.Handler):
    """Keeps every line as it would be written."""

    def __init__(self) -> None:
        super().__init__()
        self.setFormatter(JsonLines())
        self.addFilter(is_news)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(self.format(record))

    def told(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.lines]


@pytest.fixture
def kept() -> Iterator[Kept]:
    handler = Kept()
    root, ours = logging.getLogger(), logging.getLogger("quietleaf")
    level = ours.level
    root.addHandler(handler)
    ours.setLevel(logging.INFO)
    yield handler
    root.removeHandler(handler)
    ours.setLevel(level)


def browser(tools: Tools, base: str = HERE, peer: str = "127.0.0.1", **more: Any) -> TestClient:
    return TestClient(
        make_app(tools, hosts=None), base, client=(peer, 40_000), follow_redirects=False, **more
    )


def test_a_line_tells_row_status_role_and_refusal(tools: Tools, kept: Kept) -> None:
    add_account(STEWARD, ["steward"], PASSWORD, tools)
    client = browser(tools)
    client.post("/sign-in", data={"name": STEWARD, "password": WRONG})
    client.post("/sign-in", data={"name": STEWARD, "password": PASSWORD})
    client.get("/accounts/Ida%20Marsh?done=kept")
    client.get("/plan")
    client.request("BREW", "/nowhere/Ida Marsh")
    client.get("/static/style.css")
    told = kept.told()
    assert [(one["row"], one["method"], one["status"], one["code"]) for one in told] == [
        ("/sign-in", "POST", 403, "sign-in/wrong"),
        ("/sign-in", "POST", 303, ""),
        ("/accounts/{name}", "GET", 200, ""),
        ("/plan", "GET", 403, "web/other-role"),
        ("", "other", 404, ""),
    ]
    assert [one["roles"] for one in told] == [[], [], ["steward"], ["steward"], ["steward"]]
    assert len({one["request"] for one in told}) == 5
    for one in told:
        assert set(one) == {
            *("at", "level", "from", "what"),
            *("request", "row", "method", "status", "ms", "roles", "code"),
        }
        assert one["ms"] >= 0.0


def test_no_name_secret_or_typed_word_is_ever_in_it(
    tools: Tools, kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading = bring_reading(tools)
    booth = add_booth("Zinnia Room", tools)
    enrolment, link = make_enrolment(booth.key, tools), make_link(READER, 3, tools)
    secrets = {PASSWORD, WRONG, READER, STEWARD, TYPED, "Zinnia", "Zebedee", enrolment, link}
    client = browser(tools)
    client.post(f"/booth/enrol/{enrolment}")
    client.post("/booth/name", data={"name": READER})
    client.get("/stand")
    client.post("/stand/help")
    client.post("/stand/paper-missing", data={"assignment": TYPED})
    home = browser(tools, HOME, "192.168.1.20")
    home.get(f"/link/{link}")
    home.post(f"/link/{link}")
    home.get("/stand")
    home.post(f"/link/{link}x")
    home.get("/plan")
    with home.websocket_connect("/stand/wire") as line:
        line.send_text(json.dumps({"kind": "hello", "id": 1, "pass": TYPED}))
        assert line.receive_json()["kind"] == "refused"
    client.post("/accounts/new", data={"name": STEWARD, "password": PASSWORD, "roles": "steward"})
    client.post("/sign-in", data={"name": STEWARD, "password": WRONG, "code": "314159"})
    client.post("/sign-in?to=/plan/" + TYPED, data={"name": STEWARD, "password": PASSWORD})
    client.post("/account/password", data={"now": WRONG, "password": TYPED})
    client.get(f"/plan/readers/{READER}")
    client.get(f"/reading/{reading}")
    client.get(f"/reading/{TYPED}")
    client.get(f"/{TYPED}?{STEWARD}={PASSWORD}", headers={"referer": f"{HERE}/{TYPED}"})
    client.post("/accounts/new", content=TYPED, headers={"origin": "https://zebedee.example"})
    client.post("/accounts/new", content=b"\xff" + TYPED.encode())
    strange = browser(tools, "http://zebedee.example", "192.168.1.20")
    strange.get("/", headers={"user-agent": TYPED, "cookie": f"quietleaf_session={TYPED}"})

    token = make_token(STEWARD, "Zuider program", ["accounts"], 3, tools)[1]
    secrets.update({token, "Zuider"})
    for shown in (token, f"{token}x"):
        program = browser(tools, HOME, "192.168.1.21", headers={"authorization": f"Bearer {shown}"})
        program.get("/api/accounts")
        program.post("/api/plan/readers", json={"name": TYPED})
        program.get(f"/api/plan/readers/{READER}")

    def fall_over(*_: object) -> None:
        raise KeyError(TYPED) from ValueError(f"{READER} typed {PASSWORD}")

    monkeypatch.setattr(pages, "see_day", fall_over)
    faulty = browser(tools, raise_server_exceptions=False)
    faulty.cookies.update(client.cookies)
    faulty.cookies.set("quietleaf_session", client.cookies["quietleaf_session"])
    page = faulty.get("/")
    secrets.update(value for one in (client, home) for value in one.cookies.values())
    text = "\n".join(kept.lines)
    for secret in secrets | {"192.168.1", "314159"}:
        assert secret not in text
        assert json.dumps(secret)[1:-1] not in text
    (fault,) = [one for one in kept.told() if one["what"] == "fault"]
    assert fault["fault"] == ["KeyError", "ValueError"]
    assert any(re.match(r"unit/web/test_log.py:\d+ fall_over", place) for place in fault["trace"])
    assert (page.status_code, fault["request"] in page.text) == (500, True)
    assert TYPED not in page.text
    rows = {one["row"] for one in kept.told()}
    codes = {one["code"] for one in kept.told() if one["row"].startswith("/api/")}
    assert {"", "api/token", "api/beyond"} <= codes
    assert {"/link/{token}", "/booth/enrol/{token}", "/plan/readers/{key}", "/stand/wire"} <= rows
    assert rows <= {*ROLES, *EVERYBODY, *API_ROLES, ""}


def test_what_others_log_is_told_without_their_words(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("uvicorn", "uvicorn.error"):
        # Other tests serve with the server's own way of logging.
        monkeypatch.setattr(logging.getLogger(name), "propagate", True)
    logging.getLogger("somebody.else").warning(f"could not read {TYPED}")
    logging.getLogger("uvicorn.error").warning("Unsupported upgrade to %s.", TYPED)
    fault = ValueError(TYPED)
    fault.add_note("request 1")
    logging.getLogger("uvicorn.error").error("Exception in ASGI application\n", exc_info=fault)
    told = kept.told()
    assert [one.get("what") for one in told] == [None, "Unsupported upgrade to %s."]
    assert TYPED not in "\n".join(kept.lines)
