"""Accounts in the pages: who is let in where, for every address there is; signing in; the audit."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.testclient import TestClient

from quietleaf.planning.account import ROLES, Deed, Role
from quietleaf.storage import passwords
from quietleaf.storage.one_time_codes import code_of_step, step_at
from quietleaf.web import account_texts
from quietleaf.web.account_pages import DEEDS_ON_A_PAGE
from quietleaf.web.app import make_app
from quietleaf.web.entry import SESSION_COOKIE
from quietleaf.web.roles import API, API_ROLES, EVERYBODY, row_of
from quietleaf.web.roles import ROLES as MATRIX
from quietleaf.work.accounts import add_account, end_account
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station, finish_reading

READER = "Ada Fenwick"
PASSWORD = "four quiet leaves fall"
HERE = "http://127.0.0.1:8190"
HOME = "https://studio.lan"


@pytest.fixture
def tools(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    """Give the example station with a finished reading."""
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    made = example_station(tmp_path)
    finish_reading(made, bring_reading(made))
    with made.database:
        yield made


def with_accounts(tools: Tools) -> None:
    add_account("Ida Marsh", ["steward"], PASSWORD, tools)
    for role in ROLES[1:3]:
        add_account(f"The {role}", [role], PASSWORD, tools)
    add_account(READER, ["reader"], PASSWORD, tools)


def browser(tools: Tools, base: str = HERE, peer: str = "127.0.0.1") -> TestClient:
    return TestClient(
        make_app(tools, hosts=None), base, client=(peer, 40_000), follow_redirects=False
    )


def signed_in(tools: Tools, name: str, base: str = HERE, peer: str = "127.0.0.1") -> TestClient:
    client = browser(tools, base, peer)
    answer = client.post("/sign-in", data={"name": name, "password": PASSWORD})
    leads = "/stand" if name == READER else "/"
    assert (answer.status_code, answer.headers["location"]) == (303, leads)
    return client


def api_paths(tools: Tools) -> dict[str, dict[str, object]]:
    """Give what the API does, by path and method, as its schema has it."""
    schema = browser(tools).get(f"{API}/openapi.json").json()
    paths: dict[str, dict[str, object]] = schema["paths"]
    return paths


def addresses(tools: Tools) -> list[str]:
    """Give every address that the station answers, as its routes write it."""
    found = [f"{API}/openapi.json", *(f"{API}{path}" for path in api_paths(tools))]
    for route in make_app(tools).routes:
        if isinstance(route, Mount):
            if route.path != API:
                found.append(f"{route.path}/{{path:path}}")
        else:
            assert isinstance(route, Route | WebSocketRoute)
            found.append(route.path)
    return sorted({*found})


def test_every_address_has_its_row_and_every_row_its_address(tools: Tools) -> None:
    rows = {*EVERYBODY, *MATRIX, *API_ROLES}
    assert len(rows) == len(EVERYBODY) + len(MATRIX) + len(API_ROLES)
    assert rows == set(addresses(tools))


def test_a_row_is_found_by_the_address_it_is_for(tools: Tools) -> None:
    for path in addresses(tools):
        asked = re.sub(r"\{[^}]+\}", "x", path)
        assert row_of(asked)[0] == path


def test_every_change_has_words_in_the_audit_list(tools: Tools) -> None:
    for route in make_app(tools).routes:
        if isinstance(route, Route) and "POST" in (route.methods or ()) and route.path in MATRIX:
            assert account_texts.deed_words(Deed(at=NOW, who="", what=route.path, about=""))
    for path, methods in api_paths(tools).items():
        for method in {*methods} - {"get"}:
            what = f"{method.upper()} {API}{path}"
            assert account_texts.deed_words(Deed(at=NOW, who="", what=what, about=""))


@pytest.mark.parametrize("role", ROLES)
def test_the_matrix_holds_for_every_role_and_address(tools: Tools, role: Role) -> None:
    with_accounts(tools)
    name = {"steward": "Ida Marsh", "reader": READER}.get(role, f"The {role}")
    client, stranger = signed_in(tools, name), browser(tools)
    for path, wanted in MATRIX.items():
        asked = re.sub(r"\{[^}]+\}", "x", path)
        for method in ("GET", "POST"):
            # Another site's page, so that nothing is done where it would be allowed.
            headers = {"origin": "https://elsewhere.example"}
            status = client.request(method, asked, headers=headers).status_code
            is_refused = status == 403 and not (method == "POST" and role in wanted)
            assert is_refused == (role not in wanted), (method, path, status)
            answer = stranger.request(method, asked, headers=headers)
            assert (answer.status_code, answer.headers["location"][:9]) == (303, "/sign-in?")


def test_until_there_are_accounts_this_machine_is_trusted_and_nobody_else(tools: Tools) -> None:
    assert browser(tools).get("/plan").status_code == 200
    elsewhere = browser(tools, HOME, "192.168.1.20")
    for path in ("/plan", "/accounts", "/accounts/new"):
        assert elsewhere.get(path).status_code == 403
    assert "no accounts yet" in browser(tools).get("/sign-in").text
    first = browser(tools).post(
        "/accounts/new", data={"name": "Ida Marsh", "password": PASSWORD, "roles": "steward"}
    )
    assert first.headers["location"] == "/sign-in"
    assert browser(tools).get("/plan").headers["location"] == "/sign-in?to=/plan"


def test_the_first_account_must_be_a_stewards(tools: Tools) -> None:
    page = browser(tools).post(
        "/accounts/new", data={"name": "Ada", "password": PASSWORD, "roles": "desk"}
    )
    assert page.status_code == 409
    assert "The first account is a steward’s" in page.text.replace("&#39;", "’").replace("'", "’")


def test_signing_in_leads_to_where_one_wanted_and_nowhere_else(tools: Tools) -> None:
    with_accounts(tools)
    client = browser(tools, HOME, "192.168.1.20")
    for to, leads in (
        ("/plan/station", "/plan/station"),
        ("//elsewhere.example/", "/"),
        ("https://elsewhere.example/", "/"),
        ("/\\elsewhere.example", "/"),
        ("", "/"),
    ):
        answer = client.post("/sign-in", data={"name": "the desk", "password": PASSWORD, "to": to})
        assert answer.headers["location"] == leads
    cookie = answer.headers["set-cookie"]
    for part in ("HttpOnly", "Secure", "SameSite=strict", "Path=/"):
        assert part in cookie
    page = client.get("/plan")
    assert "The desk" in page.text
    assert "/accounts" not in page.text


def test_a_reader_who_signs_in_sits_at_the_stand_until_signing_out(tools: Tools) -> None:
    with_accounts(tools)
    client = signed_in(tools, READER, HOME, "192.168.1.20")
    stand = client.get("/stand")
    assert (stand.status_code, READER in stand.text) == (200, True)
    assert client.get("/plan").status_code == 403
    sitting = client.cookies["__Host-quietleaf_sitting"]
    client.post("/sign-out")
    client.cookies.set("__Host-quietleaf_sitting", sitting)
    assert client.get("/stand").status_code == 403
    client = signed_in(tools, READER, HOME, "192.168.1.20")
    end_account(READER, tools)
    assert client.get("/stand").status_code == 403


def test_a_readers_account_has_a_readers_name(tools: Tools) -> None:
    with_accounts(tools)
    steward = signed_in(tools, "Ida Marsh")
    data = {"name": "Nobody Known", "password": PASSWORD, "roles": "reader"}
    page = steward.post("/accounts/new", data=data)
    assert (page.status_code, "The plan has no reader" in page.text) == (422, True)


def test_a_password_is_not_taken_where_others_can_read_along(tools: Tools) -> None:
    with_accounts(tools)
    client = browser(tools, "http://studio.lan", "192.168.1.20")
    answer = client.post("/sign-in", data={"name": "The desk", "password": PASSWORD})
    assert answer.status_code == 403
    assert "encrypted connection" in answer.text
    assert client.get("/plan").status_code == 403


def test_the_secret_is_new_each_time_and_the_old_one_ends(tools: Tools) -> None:
    with_accounts(tools)
    client = signed_in(tools, "The desk")
    before = client.cookies[SESSION_COOKIE]
    client.post("/sign-in", data={"name": "The desk", "password": PASSWORD})
    assert client.cookies[SESSION_COOKIE] != before
    old = browser(tools)
    old.cookies.set(SESSION_COOKIE, before)
    assert old.get("/").status_code == 303
    kept = client.cookies[SESSION_COOKIE]
    assert client.post("/sign-out").headers["location"] == "/sign-in"
    old.cookies.set(SESSION_COOKIE, kept)
    assert old.get("/").status_code == 303


def test_wrong_passwords_are_told_and_slowed_down(tools: Tools) -> None:
    with_accounts(tools)
    client = browser(tools)
    for _ in range(5):
        page = client.post("/sign-in", data={"name": "The desk", "password": "seagulls"})
        assert page.status_code == 403
        assert "do not belong together" in page.text
        assert "seagulls" not in page.text
    page = client.post("/sign-in", data={"name": "The desk", "password": PASSWORD})
    assert page.status_code == 503
    assert "Wait 30 seconds" in page.text


def test_what_was_changed_is_in_the_audit_list_and_what_was_not_is_not(tools: Tools) -> None:
    with_accounts(tools)
    desk = signed_in(tools, "The desk")
    desk.post("/plan/readers/new", data={"name": "Noa Reed"})
    desk.post("/plan/readers/new", data={"name": ""})  # refused
    desk.post("/plan/readers/Noa%20Reed/link", data={"days": "3"})
    desk.get("/plan")
    steward = signed_in(tools, "Ida Marsh")
    steward.post("/accounts/Ada%20Fenwick", data={"do": "roles", "roles": "desk"})
    steward.post("/accounts/Ada%20Fenwick/end")
    deeds = tools.database.accounts.deeds(first=0, count=10)
    assert [(deed.who, deed.what) for deed in deeds] == [
        ("Ida Marsh", "/accounts/{name}/end"),
        ("Ida Marsh", "/accounts/{name}"),
        ("The desk", "/plan/readers/{name}/link"),
        ("The desk", "/plan/readers/new"),
    ]
    page = steward.get("/accounts/deeds").text
    assert "The desk: added a reader" in page
    assert PASSWORD not in page


def test_the_audit_list_pages(tools: Tools) -> None:
    with_accounts(tools)
    for _ in range(DEEDS_ON_A_PAGE + 1):
        tools.database.accounts.add_deed(
            Deed(at=NOW, who="Ida Marsh", what="/plan/station", about="/plan/station")
        )
    steward = signed_in(tools, "Ida Marsh")
    assert steward.get("/accounts/deeds").text.count("changed what the station") == DEEDS_ON_A_PAGE
    for page in ("2", "99", "x"):
        shown = steward.get(f"/accounts/deeds?page={page}").text
        assert shown.count("changed what the station") == (100 if page == "x" else 1)


def test_an_account_is_changed_refused_and_ended_in_its_form(tools: Tools) -> None:
    with_accounts(tools)
    steward = signed_in(tools, "Ida Marsh")
    path = "/accounts/The%20desk"
    page = steward.post(path, data={"do": "password", "password": "short"})
    assert (page.status_code, "this one has 5" in page.text) == (422, True)
    assert 'value="desk" checked' in page.text
    page = steward.post(path, data={"do": "roles"})
    assert (page.status_code, "none was chosen" in page.text) == (422, True)
    desk = signed_in(tools, "The desk")
    answer = steward.post(path, data={"do": "password", "password": f"{PASSWORD} again"})
    assert answer.headers["location"] == f"{path}?done=password"
    assert desk.get("/").status_code == 303
    assert steward.post(f"{path}/end").headers["location"] == "/accounts?done=ended"
    assert steward.get(path).status_code == 404
    assert "Nobody would be left" in steward.post("/accounts/Ida%20Marsh/end").text


def test_a_name_with_marks_cannot_break_out_of_a_page(tools: Tools) -> None:
    with_accounts(tools)
    name = "<b>“Zoë” & {{ 7 * 7 }}"
    add_account(name, ["steward"], PASSWORD, tools)
    steward = signed_in(tools, name)
    page = steward.get("/accounts").text
    assert "<b>" not in page
    assert "{{ 7 * 7 }}" in page
    found = re.search(r'href="(/accounts/%3C[^"]+)"', page)
    assert found is not None
    assert steward.get(found[1]).status_code == 200
    end_account(name, tools)
    assert steward.get("/accounts").status_code == 303


def telephone(page: str, tools: Tools, steps: int = 0) -> str:
    """Give what a telephone shows that was told the letters of a page."""
    letters = re.search(r'class="letters"[^>]*>([A-Z2-7 ]+)<', page)
    assert letters is not None
    now = step_at(tools.clock().timestamp())
    return code_of_step(letters[1].replace(" ", ""), now + steps)


def test_a_second_factor_is_set_up_used_and_removed(tools: Tools) -> None:
    with_accounts(tools)
    desk = signed_in(tools, "The desk")
    assert "You have none" in desk.get("/account").text
    page = desk.post("/account/factor", data={"again": "wrong"})
    assert (page.status_code, "not the password with which" in page.text) == (403, True)
    shown = desk.post("/account/factor", data={"again": PASSWORD})
    assert (shown.status_code, shown.headers["cache-control"]) == (200, "no-store")
    assert "<svg" in shown.text
    assert "style=" not in shown.text
    page = desk.post("/account/factor/confirm", data={"code": "000000"})
    assert (page.status_code, "not the present one" in page.text) == (422, True)
    assert telephone(page.text, tools) == telephone(shown.text, tools)
    done = desk.post("/account/factor/confirm", data={"code": telephone(shown.text, tools)})
    assert (done.status_code, done.headers["cache-control"]) == (201, "no-store")
    codes = re.findall(r"<li>((?:[A-Z2-7]{4}-?){6})</li>", done.text)
    assert len(codes) == 10
    assert "10 recovery codes are left" in desk.get("/account").text
    fresh = browser(tools)
    data = {"name": "The desk", "password": PASSWORD}
    for code in ("", telephone(shown.text, tools)):
        page = fresh.post("/sign-in", data={**data, "code": code})
        assert (page.status_code, "was used before" in page.text) == (403, True)
        assert not code or code not in page.text
    assert fresh.post("/sign-in", data={**data, "code": codes[7]}).status_code == 303
    removed = desk.post("/account/factor/remove", data={"again": PASSWORD})
    assert removed.headers["location"] == "/account?done=factor"
    assert "is removed" in desk.get(removed.headers["location"]).text
    assert [deed.what for deed in tools.database.accounts.deeds(first=0, count=9)] == [
        "/account/factor/remove",
        "/account/factor/confirm",
    ]


def test_a_steward_removes_the_factor_of_somebody_who_lost_it(tools: Tools) -> None:
    with_accounts(tools)
    desk, steward = signed_in(tools, "The desk"), signed_in(tools, "Ida Marsh")
    path = "/accounts/The%20desk"
    assert "Remove the second factor" not in steward.get(path).text
    assert steward.post(f"{path}/factor/remove").status_code == 404
    shown = desk.post("/account/factor", data={"again": PASSWORD})
    desk.post("/account/factor/confirm", data={"code": telephone(shown.text, tools)})
    assert "Remove the second factor" in steward.get(path).text
    answer = steward.post(f"{path}/factor/remove")
    assert answer.headers["location"] == f"{path}?done=factor"
    assert desk.get("/").status_code == 303
    assert signed_in(tools, "The desk").get("/").status_code == 200
    page = steward.get("/accounts/deeds").text
    assert "Ida Marsh: removed the second factor of an account" in page


def test_ones_own_password_and_sessions(tools: Tools) -> None:
    with_accounts(tools)
    reader = signed_in(tools, READER, HOME, "192.168.1.20")
    assert "/account" in reader.get("/stand").text
    page = reader.get("/account").text
    assert "second factor" not in page.lower()
    assert reader.post("/account/factor", data={"again": PASSWORD}).status_code == 403
    new = "the quay in the rain"
    for now, password, field in (("wrong", new, "now"), (PASSWORD, "short", "password")):
        answer = reader.post("/account/password", data={"now": now, "password": password})
        assert f'id="{field}-refusal"' in answer.text
        assert answer.status_code in (403, 422)
        assert new not in answer.text
    answer = reader.post("/account/password", data={"now": PASSWORD, "password": new})
    assert answer.headers["location"] == "/sign-in"
    assert reader.get("/stand").status_code == 403
    client = browser(tools, HOME, "192.168.1.20")
    data = {"name": READER, "password": new}
    assert client.post("/sign-in", data=data).status_code == 303
    other = browser(tools, HOME, "192.168.1.21")
    assert other.post("/sign-in", data=data).status_code == 303
    assert "In 2 browsers." in client.get("/account").text
    assert client.post("/account/sessions/end").headers["location"] == "/sign-in"
    for one in (client, other):
        assert (one.get("/stand").status_code, one.get("/account").status_code) == (403, 303)


def test_without_accounts_nobody_has_one(tools: Tools) -> None:
    page = browser(tools).get("/account")
    assert (page.status_code, "no accounts yet" in page.text) == (404, True)
