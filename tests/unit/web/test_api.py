"""The API: who is let in, what is refused and how, what is told and what never is."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.routing import Mount
from starlette.testclient import TestClient

from quietleaf.planning.account import ROLES, SCOPE_ROLES, SCOPES, Role
from quietleaf.storage import passwords
from quietleaf.storage.database import Database, database_url
from quietleaf.web import throttle
from quietleaf.web.api.mount import ApiMount
from quietleaf.web.app import make_app
from quietleaf.web.cookies import PREFIX
from quietleaf.web.entry import SESSION_COOKIE
from quietleaf.web.roles import API, API_ROLES
from quietleaf.work.accounts import add_account, change_roles
from quietleaf.work.finishings import Finishings
from quietleaf.work.program_tokens import make_token, tokens_of
from quietleaf.work.see_disk import BYTES_AN_HOUR
from quietleaf.work.sign_in import Doorkeeper, sign_in
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station, finish_reading
from tests.unit.work.test_decide import READY

PASSWORD = "four quiet leaves fall"
HERE = "http://127.0.0.1:8190"
HOME = "https://studio.lan"
AWAY = "192.168.1.20"
SESSION = f"{PREFIX}{SESSION_COOKIE}"
NAMES: dict[Role, str] = {
    "reviewer": "The reviewer",
    "desk": "The desk",
    "steward": "Ida Marsh",
    "reader": "Ada Fenwick",
}


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the example station with an account for each role, once: each waits for the disk."""
    data = tmp_path_factory.mktemp("station")
    made = example_station(data)
    with made.database, pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "SCRYPT_N", 1 << 4)
        add_account("Ida Marsh", ["steward"], PASSWORD, made)
        for role in ("reviewer", "desk", "reader"):
            add_account(NAMES[role], [role], PASSWORD, made)
    return data


@pytest.fixture
def tools(station: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    """Give a copy of that station."""
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    data = shutil.copytree(station, tmp_path / "station")
    with Database(database_url(data)) as database:
        yield Tools(data=data, database=database, clock=lambda: NOW)


def asking(tools: Tools, base: str = HOME, peer: str = AWAY) -> TestClient:
    return TestClient(make_app(tools, hosts=None), base, client=(peer, 40_000))


def shown(secret: str) -> dict[str, str]:
    return {"authorization": f"Bearer {secret}"}


def token_for(tools: Tools, role: Role = "desk", *scopes: str) -> dict[str, str]:
    chosen = scopes or [scope for scope in SCOPES if role in SCOPE_ROLES[scope]]
    return shown(make_token(NAMES[role], "A program", chosen, 3, tools)[1])


def problem(answer: Any) -> tuple[int, str]:
    """Give the status and the code of a refusal."""
    assert answer.headers["content-type"] == "application/problem+json"
    told = answer.json()
    assert told["status"] == answer.status_code
    assert {*told} == {"type", "title", "status", "detail", "code", "where"}
    return answer.status_code, told["code"]


def test_a_program_with_a_token_plans_and_sees(tools: Tools) -> None:
    finish_reading(tools, bring_reading(tools))
    client = asking(tools)
    client.headers.update(token_for(tools))
    made = client.post("/api/plan/booths", json={"name": "Attic"})
    assert (made.status_code, made.json()) == (201, {"key": "attic", "name": "Attic"})
    assert client.put("/api/plan/booths/attic", json={"name": "Roof"}).json()["name"] == "Roof"
    assert client.get("/api/plan/booths/attic").json()["name"] == "Roof"
    address = client.post("/api/plan/booths/attic/enrolment").json()["address"]
    assert re.fullmatch(r"https://studio\.lan/booth/enrol/[\w-]{43}", address)
    assert client.delete("/api/plan/booths/attic").status_code == 204
    assert problem(client.get("/api/plan/booths/attic")) == (404, "planning/no-booth")
    day = client.get("/api/days/today").json()
    assert day["slots"][0]["starts_at"] == "2026-11-25T12:00:00Z"
    reading = client.get("/api/readings/k3f9").json()
    assert reading["summary"]["verdict"] == "needs an ear"
    assert [one["kind"] for one in reading["findings"]] == ["restart", "rustle", "clip"]
    mp3 = client.get("/api/readings/k3f9/files/marrowby.mp3", headers={"range": "bytes=0-2"})
    assert (mp3.status_code, mp3.content) == (206, b"ID3")


def test_a_reviewers_program_decides_takes_back_clears_and_returns(tools: Tools) -> None:
    finish_reading(tools, bring_reading(tools), READY)
    client = asking(tools)
    client.headers.update(token_for(tools, "reviewer"))
    at = "/api/readings/k3f9"
    seen = client.get(f"{at}/review").json()
    thing = seen["things"][0]
    assert (thing["finding"], thing["decision"]) == ("restart", None)
    wish = {
        "revision": seen["revision"],
        "asked_id": "wish-1",
        "finding": thing["finding"],
        "start": thing["start"],
        "stop": thing["stop"],
        "decision": "leave",
    }
    for _ in range(2):  # asked for twice, it is entered once
        decided = client.post(f"{at}/decisions", json=wish)
        assert decided.status_code == 201
        assert decided.json()["revision"] == seen["revision"] + 1
    # Under an id that was used another wish is another: it is refused, not taken for the first.
    other = client.post(f"{at}/decisions", json={**wish, "decision": "read again"})
    assert problem(other) == (409, "review/changed")
    old = client.post(f"{at}/decisions", json={**wish, "asked_id": "wish-2"})
    assert problem(old) == (409, "review/changed")
    seen = decided.json()
    assert seen["things"][0]["decision"] == "leave"
    back = {"revision": seen["revision"], "asked_id": "wish-3", "number": seen["last"]}
    seen = client.post(f"{at}/take-back", json=back).json()
    assert seen["things"][0]["decision"] is None
    clear = {"revision": seen["revision"], "asked_id": "wish-4", "heard": seen["heard"]}
    assert problem(client.post(f"{at}/clear", json=clear)) == (409, "review/not-clear")
    note = {"revision": seen["revision"], "asked_id": "wish-5", "note": "Once more, please."}
    assert client.post(f"{at}/return", json=note).json()["state"] == "returned"
    deeds = [deed.what for deed in tools.database.accounts.deeds(first=0, count=9)]
    assert deeds == [
        "POST /api/readings/{reading_id}/return",
        "POST /api/readings/{reading_id}/take-back",
        "POST /api/readings/{reading_id}/decisions",
        "POST /api/readings/{reading_id}/decisions",
    ]


def test_a_program_of_the_desk_has_a_reading_finished_and_stops_it(
    tools: Tools, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Finishings, "_begin_some", lambda _self: None)  # it waits for its turn
    bring_reading(tools)
    client = asking(tools)
    client.headers.update(token_for(tools))
    at = "/api/readings/k3f9/finishing"
    assert problem(client.get(at)) == (404, "finishing/none")
    assert client.post(at).status_code == 202
    told = client.get(at).json()
    assert (told["title"], told["mark"]["by"]) == ("Marrowby in Five", "The desk")
    assert problem(client.post(at)) == (409, "finishing/under-way")
    assert client.delete(at).status_code == 204
    assert problem(client.delete(at)) == (409, "finishing/not-under-way")


def test_a_personal_link_and_a_token_are_listed_without_their_secrets_and_end(
    tools: Tools,
) -> None:
    client = asking(tools)
    desk = token_for(tools)
    links = "/api/plan/readers/Ada%20Fenwick/links"
    secret = client.post(links, json={"days": 3}, headers=desk).json()["address"][-43:]
    (link,) = client.get(links, headers=desk).json()["items"]
    assert secret not in str(link)
    assert client.delete(f"{links}/{link['sha256']}", headers=desk).status_code == 204
    assert client.get(f"/link/{secret}").status_code == 403
    steward = token_for(tools, "steward")
    tokens = "/api/accounts/The%20desk/tokens"
    (token,) = client.get(tokens, headers=steward).json()["items"]
    assert (token["name"], token["used_at"][:16]) == ("A program", "2026-11-25T14:20")
    assert client.delete(f"{tokens}/{token['sha256']}", headers=steward).status_code == 204
    assert problem(client.get("/api/days/today", headers=desk)) == (401, "api/token")


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("by", ["token", "session"])
def test_the_matrix_holds_for_every_path_role_and_scope(
    tools: Tools, role: Role, by: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(throttle, "A_MINUTE", 10_000)
    client = asking(tools)
    scopes = [scope for scope in SCOPES if role in SCOPE_ROLES[scope]]
    if by == "session":
        client.cookies.set(SESSION, sign_in(NAMES[role], PASSWORD, "", Doorkeeper(), tools))
    elif scopes:
        client.headers.update(token_for(tools, role, *scopes))
    else:
        return  # a reader's account gives a program nothing: no token can be made
    for path, (scope, wanted) in API_ROLES.items():
        asked = re.sub(r"\{[^}]+\}", "x", path)
        status = client.get(asked).status_code
        is_let_in = role in wanted and (by == "session" or scope in scopes)
        assert (status == 403) == (not is_let_in), path


@pytest.mark.parametrize("scope", SCOPES)
def test_a_token_reaches_what_its_scopes_name_and_nothing_else(
    tools: Tools, scope: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(throttle, "A_MINUTE", 10_000)
    add_account("All", ROLES[1:], PASSWORD, tools)
    client = asking(tools)
    client.headers.update(shown(make_token("All", "A program", [scope], 3, tools)[1]))
    for path, (wanted, _) in API_ROLES.items():
        status = client.get(re.sub(r"\{[^}]+\}", "x", path)).status_code
        assert (status == 403) == (scope != wanted), path


def test_a_token_never_may_more_than_its_account_by_now(tools: Tools) -> None:
    client = asking(tools)
    client.headers.update(token_for(tools))
    assert client.get("/api/plan/booths").status_code == 200
    change_roles("The desk", ["reviewer"], tools)
    assert problem(client.get("/api/plan/booths")) == (403, "api/beyond")
    assert client.get("/api/days/today").status_code == 200


def test_strangers_learn_that_a_token_is_needed_and_nothing_else(tools: Tools) -> None:
    client = asking(tools)
    for path in API_ROLES:
        answer = client.get(re.sub(r"\{[^}]+\}", "x", path))
        assert problem(answer) == (401, "api/who")
        assert answer.headers["www-authenticate"].startswith("Bearer")
    for secret in ("", "x", "é", "x" * 5_000):
        answer = client.get(
            "/api/days/today", headers={b"authorization": f"Bearer {secret}".encode()}
        )
        assert problem(answer) == (401, "api/token")
    assert client.get("/api/health").json() == {"status": "well"}


def test_a_wrong_token_is_not_helped_by_a_session(tools: Tools) -> None:
    client = asking(tools)
    client.cookies.set(SESSION, sign_in("The desk", PASSWORD, "", Doorkeeper(), tools))
    assert client.get("/api/plan/booths").status_code == 200
    assert problem(client.get("/api/plan/booths", headers=shown("x"))) == (401, "api/token")


def test_a_session_changes_something_from_our_own_pages_alone(tools: Tools) -> None:
    client = asking(tools)
    client.cookies.set(SESSION, sign_in("The desk", PASSWORD, "", Doorkeeper(), tools))
    for origin in ("https://elsewhere.example", "null", "https://studio.lan:444", None):
        headers = {} if origin is None else {"origin": origin}
        answer = client.post("/api/plan/booths", json={"name": "Attic"}, headers=headers)
        assert problem(answer) == (403, "api/other-site")
    own = client.post("/api/plan/booths", json={"name": "Attic"}, headers={"origin": HOME})
    assert own.status_code == 201


def test_nothing_is_told_where_others_can_read_along(tools: Tools) -> None:
    client = asking(tools, "http://studio.lan")
    client.headers.update(token_for(tools))
    assert problem(client.get("/api/days/today")) == (403, "api/not-private")


def test_until_there_are_accounts_programs_of_this_machine_are_trusted(tmp_path: Path) -> None:
    made = example_station(tmp_path)
    with made.database:
        client = asking(made, HERE, "127.0.0.1")
        assert client.get("/api/days/today").status_code == 200
        assert client.post("/api/plan/booths", json={"name": "Attic"}).status_code == 201
        elsewhere = {"origin": "https://elsewhere.example"}
        answer = client.post("/api/plan/booths", json={"name": "Roof"}, headers=elsewhere)
        assert problem(answer) == (403, "api/other-site")
        assert problem(client.get("/api/days/today", headers=shown("x"))) == (401, "api/token")
        for base, peer in ((HOME, AWAY), (HERE, AWAY), ("http://studio.lan", "127.0.0.1")):
            answer = asking(made, base, peer).get("/api/days/today")
            assert problem(answer) == (403, "api/not-private")


def test_who_asks_too_often_waits(tools: Tools, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(throttle, "A_MINUTE", 3)
    at = [NOW]
    client = asking(replace(tools, clock=lambda: at[0]))
    first, second = token_for(tools), token_for(tools, "steward")
    for _ in range(3):
        assert client.get("/api/days/today", headers=first).status_code == 200
    at[0] = NOW + timedelta(seconds=20)
    answer = client.get("/api/days/today", headers=first)
    assert problem(answer) == (429, "api/wait")
    assert answer.headers["retry-after"] == "40"
    assert client.get("/api/days/today", headers=second).status_code == 200
    at[0] = NOW + timedelta(seconds=60)
    assert client.get("/api/days/today", headers=first).status_code == 200
    # Guesses count by where they come from.
    statuses = [client.get("/api/deeds", headers=shown(str(n))).status_code for n in range(4)]
    assert statuses == [401, 401, 401, 429]


def test_what_a_program_did_is_in_the_audit_list_with_its_name(tools: Tools) -> None:
    client = asking(tools)
    client.headers.update(token_for(tools))
    client.post("/api/plan/readers", json={"name": "Noa Reed"})
    client.post("/api/plan/readers", json={"name": ""})  # refused
    client.get("/api/plan/readers")
    client.delete("/api/plan/readers/Noa%20Reed")
    client.headers.update(token_for(tools, "steward"))
    listed = client.get("/api/deeds").json()
    assert [(one["who"], one["token"], one["what"]) for one in listed["items"]] == [
        ("The desk", "A program", "DELETE /api/plan/readers/{name}"),
        ("The desk", "A program", "POST /api/plan/readers"),
    ]


def test_lists_come_in_pages(tools: Tools) -> None:
    client = asking(tools)
    client.headers.update(token_for(tools))
    readers = tuple(f"Reader {number:03}" for number in range(201))
    tools.database.change_station(lambda of: replace(of, assignments=(), readers=readers))
    for page, first, count in ((1, "Reader 000", 100), (3, "Reader 200", 1), (9, "Reader 200", 1)):
        listed = client.get(f"/api/plan/readers?page={page}").json()
        assert (listed["items"][0], len(listed["items"])) == (first, count)
        assert (listed["page"], listed["pages"], listed["count"]) == (min(page, 3), 3, 201)
    assert problem(client.get("/api/plan/readers?page=0")) == (422, "api/request")


@pytest.mark.parametrize(
    ("body", "where"),
    [
        (b"{", "body.1"),
        (b"[]", "body"),
        (b"{}", "body.name"),
        (b'{"name": 7}', "body.name"),
        (b'{"name": "Attic", "size": 3}', "body.size"),
    ],
)
def test_what_does_not_hold_is_named(tools: Tools, body: bytes, where: str) -> None:
    client = asking(tools)
    client.headers.update(token_for(tools))
    client.headers["content-type"] = "application/json"
    answer = client.post("/api/plan/booths", content=body)
    assert problem(answer) == (422, "api/request")
    assert answer.json()["where"] == [where]


def test_a_form_of_another_kind_is_no_request(tools: Tools) -> None:
    client = asking(tools)
    client.headers.update(token_for(tools))
    for kind in ("text/plain", "application/x-www-form-urlencoded"):
        answer = client.post(
            "/api/plan/booths", content=b'{"name": "Attic"}', headers={"content-type": kind}
        )
        assert problem(answer) == (422, "api/request")
    client.headers["content-type"] = "application/json"
    for broken in (b"{", b"[" * 60_000, b'{"name": ' + b"9" * 5_000 + b"}"):
        answer = client.post("/api/plan/booths", content=broken)
        assert answer.status_code == 422
        assert answer.json()["code"] in ("api/body", "api/request")


def test_no_request_is_larger_than_any_of_ours(tools: Tools) -> None:
    client = asking(tools)
    client.headers.update(token_for(tools))
    client.headers["content-type"] = "application/json"
    large = b'{"name": "' + b"x" * 65_536 + b'"}'
    assert problem(client.post("/api/plan/booths", content=large)) == (413, "api/size")
    # One that comes in pieces tells no length.
    pieces = client.post("/api/plan/booths", content=iter([large[:40_000], large[40_000:]]))
    assert problem(pieces) == (413, "api/size")


def test_nothing_of_a_password_is_ever_told(tools: Tools) -> None:
    client = asking(tools)
    client.headers.update(token_for(tools, "steward"))
    for path in ("/api/accounts", "/api/accounts/The%20desk"):
        answer = client.get(path)
        assert answer.status_code == 200
        assert "password" not in answer.text
        assert "scrypt" not in answer.text
    changed = client.put("/api/accounts/The%20desk/password", json={"password": PASSWORD[::-1]})
    assert (changed.status_code, changed.content) == (204, b"")
    assert sign_in("The desk", PASSWORD[::-1], "", Doorkeeper(), tools)


def test_nothing_answers_by_another_way_or_under_another_path(tools: Tools) -> None:
    client = asking(tools)
    client.headers.update(token_for(tools, "steward"))
    assert problem(client.get("/api/nothing")) == (404, "api/no-path")
    assert problem(client.get("/api")) == (404, "api/no-path")
    answer = client.post("/api/deeds")
    assert problem(answer) == (405, "api/no-path")
    assert answer.headers["allow"] == "GET"
    for path in ("/api/docs", "/api/redoc"):
        assert client.get(path).status_code == 404


def test_a_fault_of_ours_is_a_problem_too(tools: Tools, monkeypatch: pytest.MonkeyPatch) -> None:
    app = make_app(tools, hosts=None)
    client = TestClient(app, HOME, client=(AWAY, 40_000), raise_server_exceptions=False)
    client.headers.update(token_for(tools))
    broken = replace(tools, clock=lambda: 1 / 0)  # type: ignore[arg-type, return-value]
    (mount,) = [route for route in app.routes if isinstance(route, Mount) and route.path == API]
    assert isinstance(mount.app, ApiMount)
    mount.app._tools = broken
    assert problem(client.get("/api/days/today")) == (500, "api/broken")


def test_health_is_told_to_everybody_and_a_full_disk_is_a_refusal(tools: Tools) -> None:
    full = asking(replace(tools, free_bytes=lambda: BYTES_AN_HOUR // 2))
    assert problem(full.get("/api/health")) == (503, "health/disk")


def test_the_schema_asks_for_nothing_from_elsewhere(tools: Tools) -> None:
    answer = asking(tools).get("/api/openapi.json")
    assert answer.status_code == 200
    schema = answer.json()
    assert schema["openapi"].startswith("3.1")
    assert "http" not in answer.text.replace('"type":"http"', "")
    for path, operations in schema["paths"].items():
        for told in operations.values():
            assert ("security" in told) == (f"/api{path}" in API_ROLES)


def test_a_station_without_programs_does_not_load_what_serves_them() -> None:
    said = (
        "import sys, quietleaf.web.app, quietleaf.web.token_pages; "
        "print({'fastapi', 'pydantic'} & set(sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", said], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout == "set()\n"


def test_a_token_is_made_on_its_page_and_shown_once(tools: Tools) -> None:
    client = asking(tools)
    client.cookies.set(SESSION, sign_in("The desk", PASSWORD, "", Doorkeeper(), tools))
    form = {"name": "Rota sheet", "scopes": ["see", "plan"], "days": "30", "again": PASSWORD}
    page = client.post("/account/tokens", data=form)
    assert (page.status_code, page.headers["cache-control"]) == (201, "no-store")
    found = re.search(r'<code class="address" tabindex="0">([\w-]{43})</code>', page.text)
    assert found is not None
    assert asking(tools).get("/api/plan/booths", headers=shown(found[1])).status_code == 200
    page = client.get("/account/tokens")
    assert found[1] not in page.text
    assert "Rota sheet" in page.text
    assert "last used" in page.text
    (token,) = tokens_of("The desk", tools)
    client.post(f"/account/tokens/{token.sha256}/end")
    assert asking(tools).get("/api/plan/booths", headers=shown(found[1])).status_code == 401


@pytest.mark.parametrize(
    ("change", "status", "said"),
    [
        ({"again": "another password"}, 403, "not the password with which you sign in"),
        ({"name": ""}, 422, "this one has 0"),
        ({"days": "many"}, 422, "Write a whole number"),
        ({"days": "367"}, 422, "367 came"),
        ({"scopes": []}, 422, "None was chosen"),
        ({"scopes": ["accounts"]}, 422, "may not give: accounts"),
    ],
)
def test_a_token_that_is_refused_is_said_at_its_field(
    tools: Tools, change: dict[str, Any], status: int, said: str
) -> None:
    client = asking(tools)
    client.cookies.set(SESSION, sign_in("The desk", PASSWORD, "", Doorkeeper(), tools))
    form = {"name": "Rota", "scopes": ["see"], "days": "30", "again": PASSWORD, **change}
    page = client.post("/account/tokens", data=form)
    assert (page.status_code, said in page.text) == (status, True)
    assert 'role="alert"' in page.text
    assert tokens_of("The desk", tools) == ()


def test_a_steward_makes_a_token_for_another_account_with_its_own_password(tools: Tools) -> None:
    client = asking(tools)
    client.cookies.set(SESSION, sign_in("Ida Marsh", PASSWORD, "", Doorkeeper(), tools))
    form = {"name": "Rota", "scopes": ["plan"], "days": "30", "again": PASSWORD}
    assert client.post("/accounts/The%20desk/tokens", data=form).status_code == 201
    (token,) = tokens_of("The desk", tools)
    client.post(f"/accounts/The%20desk/tokens/{token.sha256}/end")
    assert tokens_of("The desk", tools)[0].ended_at == NOW
    deeds = [deed.what for deed in tools.database.accounts.deeds(first=0, count=9)]
    assert deeds == ["/accounts/{name}/tokens/{sha256}/end", "/accounts/{name}/tokens"]
