"""The API, fuzzed from its own schema: no fault, every answer as it is described, no leak."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from starlette.testclient import TestClient

from quietleaf.planning.account import SCOPES, Role, Scope
from quietleaf.storage import passwords
from quietleaf.web import throttle
from quietleaf.web.app import make_app
from quietleaf.web.roles import API_ROLES
from quietleaf.work.accounts import add_account
from quietleaf.work.finishings import Finishings
from quietleaf.work.messages import tell_desk
from quietleaf.work.personal_links import links_of, make_link
from quietleaf.work.program_tokens import make_token, tokens_of
from quietleaf.work.sit_down import new_sitting, sitting_of
from quietleaf.work.tools import Tools
from tests.api_fuzz import FuzzRequest, operations_of, requests_of
from tests.finished import finished_station

PASSWORD = "four quiet leaves fall"
ACCOUNTS: dict[str, tuple[Role, ...]] = {
    "Ida Marsh": ("desk", "steward"),
    "Desk": ("desk",),
    "Steward": ("steward",),
    "Reviewer": ("reviewer",),
}
TOKENS: dict[str, tuple[str, tuple[Scope, ...]]] = {
    "all": ("Ida Marsh", SCOPES),
    "desk": ("Desk", ("see", "plan", "clear")),
    "desk that looks": ("Desk", ("see",)),
    "accounts alone": ("Ida Marsh", ("accounts",)),
    "steward": ("Steward", ("see", "plan", "accounts")),
    "reviewer": ("Reviewer", ("see", "clear")),
}
SECRET = re.compile(r"scrypt\$")


@pytest.fixture
def tools(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    monkeypatch.setattr(throttle, "A_MINUTE", 1 << 40)
    # What is asked for waits: a process for each would be another test.
    monkeypatch.setattr(Finishings, "_begin_some", lambda _self: None)
    made = finished_station(tmp_path)
    with made.database:
        for name, roles in ACCOUNTS.items():
            add_account(name, roles, PASSWORD, made)
        yield made


def known_values(tools: Tools) -> dict[str, list[Any]]:
    """Give what is there now, and may be changed without ending those who ask."""
    station = tools.database.load_station()
    for number in range(3):
        add_account(f"Somebody {number}", ["reviewer"], PASSWORD, tools)
        make_link(station.readers[number], 3, tools)
    make_token("Somebody 0", "Somebody's", ["see"], 3, tools)
    secret = new_sitting(station.readers[0], tools)
    message = tell_desk("help", sitting_of(secret, tools), tools)
    readers = list(station.readers)
    daily = next(one for one in station.programmes if one.key == "letters-to-the-editor")
    assignment = {"programme_key": daily.key, "issue_date": "2026-11-25", "readers": readers[:1]}
    return {
        "AssignmentBody": [
            {**assignment, "air_date": f"2027-{month:02d}-{day:02d}"}
            for month in range(1, 13)
            for day in range(1, 29)
            if date(2027, month, day).weekday() in daily.weekdays
        ],
        "ProgrammeBody": [
            {
                "title": "Field notes",
                "publication": daily.publication,
                "slot_s": 1800.0,
                "window": {"shortest_s": 1620.0, "longest_s": 1680.0},
                "opening_words": "This is {programme}.",
                "closing_words": "",
                "weekdays": list(daily.weekdays),
                "air_times": ["07:30:00"],
            }
        ],
        "programmes/{key}": [one.key for one in station.programmes],
        "publications/{key}": [one.key for one in station.publications],
        "booths/{key}": [one.key for one in station.booths],
        "assignments/{key}": [one.key for one in station.assignments],
        "readers/{name}": readers[:2],
        "links/{sha256}": [link.sha256 for name in readers[:2] for link in links_of(name, tools)],
        "accounts/{name}": ["Somebody 0"],
        "people/{name}": ["Somebody 1", "Somebody 2"],
        "tokens/{sha256}": [token.sha256 for token in tokens_of("Somebody 0", tools)],
        "readings/{reading_id}": ["k3f9"],
        "files/{name}": ["marrowby.mp3", "report.html"],
        "messages/{message_id}": [message.message_id],
        "revision": list(range(3, 30)),
        "asked_id": [f"wish-{number}" for number in range(30)],
        "finding": ["restart", "rustle"],
        "start": [[1, 0], [1, 96_000]],
        "stop": [[1, 48_000], [1, 192_000]],
        "days/{day}": ["2026-11-25", "today"],
        "programme": [one.key for one in station.programmes],
        "programme_key": [one.key for one in station.programmes],
        "publication": [one.title for one in station.publications],
        "readers": [[name] for name in readers],
        "booth": [*(one.key for one in station.booths), None],
        "zone": ["Europe/London", "UTC"],
        "originator": ["A test"],
        "part": [None, None, None, 3],
        "password": [PASSWORD],
        "roles": [["reviewer"], ["desk"]],
        "issue_date": ["2026-11-25"],
        "serial": [False],
        "slot_s": [1800.0],
        "window": [{"shortest_s": 1620.0, "longest_s": 1680.0}],
        "weekdays": [[0, 1, 2, 3, 4, 5, 6]],
        "air_times": [["19:00:00"]],
        "opening_words": ["This is {programme}."],
        "closing_words": ["That was {programme}."],
        "year": [None, 2019],
    }


class Fuzz:
    """Sends requests as everybody, and holds each answer against the schema and the matrix."""

    def __init__(self, tools: Tools) -> None:
        self.known = known_values(tools)
        self.client = TestClient(make_app(tools), "http://127.0.0.1", client=("127.0.0.1", 50_000))
        self.schema: dict[str, Any] = self.client.get("/api/openapi.json").json()
        self.secrets = {
            who: make_token(account, who, scopes, 3, tools)[1]
            for who, (account, scopes) in TOKENS.items()
        }
        self.done: set[tuple[str, str]] = set()

    def send(self, asked: FuzzRequest, who: str | None) -> None:
        """Send a request; without anybody, as a stranger."""
        headers = {} if who is None else {"authorization": f"Bearer {self.secrets[who]}"}
        sent = None if asked.json is None else json.dumps(asked.json).encode()
        headers |= {} if sent is None else {"content-type": "application/json"}
        path, method = asked.operation.path, asked.operation.method
        answer = self.client.request(
            method, f"/api{asked.url}", params=asked.query, content=sent, headers=headers
        )
        told = f"{who}: {method} {asked.url} {asked.query} {asked.json} -> {answer.status_code}"
        assert answer.status_code < 500 or path == "/health", f"{told}\n{answer.text}"
        if not self.may(who, path) and "2F" not in asked.url.upper():
            assert answer.status_code in (401, 403), told
            assert answer.json()["code"] in ("api/who", "api/beyond"), told
        if answer.is_success:
            self.done.add((method, path))
        if answer.status_code == 201:
            self.learn(path, answer.json())
        assert not SECRET.search(answer.text), told
        assert all(secret not in answer.text for secret in self.secrets.values()), told
        self.check(answer, asked, told)

    def learn(self, path: str, made: dict[str, str]) -> None:
        """Know what was made, so that it is changed and removed too."""
        for name in ("key", "name"):
            of = f"{path.rpartition('/')[2]}/{{{name}}}"
            if name in made and of in self.known:
                self.known[of] += 4 * [made[name]]

    def may(self, who: str | None, path: str) -> bool:
        """Say what the matrix says."""
        if f"/api{path}" not in API_ROLES:
            return True
        if who is None:
            return False
        scope, roles = API_ROLES[f"/api{path}"]
        account, scopes = TOKENS[who]
        return scope in scopes and not roles.isdisjoint(ACCOUNTS[account])

    def check(self, answer: Any, asked: FuzzRequest, told: str) -> None:
        """Hold an answer against what the schema says of it."""
        described = asked.operation.responses[str(answer.status_code)]
        content = described.get("content", {})
        if answer.status_code == 204:
            assert answer.content == b"", told
            return
        media = answer.headers["content-type"].partition(";")[0]
        if asked.operation.path.endswith("/files/{name}") and answer.is_success:
            return
        assert media in content, f"{told}: {media}"
        whole = {**content[media]["schema"], "components": self.schema["components"]}
        Draft202012Validator(whole).validate(answer.json())


def fuzz(tools: Tools, seed: int, rounds: int) -> Fuzz:
    fuzzed = Fuzz(tools)
    everybody = (None, *TOKENS)
    # By who may do all of it, and by one of the others.
    for number, asked in enumerate(requests_of(fuzzed.schema, fuzzed.known, seed, rounds)):
        fuzzed.send(asked, everybody[number % len(everybody)])
        fuzzed.send(asked, "all")
    return fuzzed


def test_no_request_made_of_the_schema_breaks_the_api_or_reaches_beyond(tools: Tools) -> None:
    fuzzed = fuzz(tools, seed=7, rounds=8)
    # So that it is no fuzz of refusals alone.
    asked = {(one.method, one.path) for one in operations_of(fuzzed.schema)}
    assert len(fuzzed.done) >= 0.9 * len(asked)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(8))
def test_no_longer_fuzz_breaks_it_either(tools: Tools, seed: int) -> None:
    fuzz(tools, seed=1_000 + seed, rounds=40)
