"""When one last looked: what came in since is told for a visit, and the next one begins anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from quietleaf.storage import passwords
from quietleaf.web.app import make_app
from quietleaf.web.entry import SESSION_COOKIE
from quietleaf.web.looked import LOOKED_COOKIE
from quietleaf.work.accounts import add_account
from quietleaf.work.sign_in import Doorkeeper, sign_in
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station

AT = f"{int(NOW.timestamp())}"


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.minutes = 0.0

    def __call__(self) -> object:
        return NOW + timedelta(minutes=self.minutes)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def tools(tmp_path: Path, clock: Clock) -> Iterator[Tools]:
    made = replace(example_station(tmp_path), clock=clock)  # type: ignore[arg-type]
    with made.database:
        yield made


def desk(tools: Tools) -> TestClient:
    return TestClient(make_app(tools), "http://127.0.0.1", client=("127.0.0.1", 50_000))


def test_the_first_visit_tells_of_none_before(tools: Tools, clock: Clock) -> None:
    client = desk(tools)
    assert "Since you last looked" not in client.get("/").text
    assert client.cookies[LOOKED_COOKIE] == f"0.{AT}"
    clock.minutes = 5
    assert "Since you last looked" not in client.get("/day/today/board").text


def test_what_came_in_is_told_during_a_whole_visit_and_once(tools: Tools, clock: Clock) -> None:
    client = desk(tools)
    client.get("/")
    bring_reading(replace(tools, clock=lambda: NOW))  # comes in at this very moment
    clock.minutes = -1
    early = desk(tools)
    early.get("/")
    clock.minutes = 60
    for _ in range(2):
        page = early.get("/").text
        assert "You looked at 14:19. One reading came in since." in page
        clock.minutes += 20
    clock.minutes += 120
    page = early.get("/").text
    assert "You looked at 15:40. Nothing came in since." in page


def test_a_page_that_looks_by_itself_keeps_the_visit_open(tools: Tools, clock: Clock) -> None:
    client = desk(tools)
    client.get("/")
    for minutes in (0.5, 1.5, 2.0, 29.0, 58.0):
        clock.minutes = minutes
        answer = client.get("/day/today/board")
        # Once a minute at most: with every look would be too often.
        assert ("set-cookie" in answer.headers) == (minutes not in (0.5, 2.0))
    assert "Since you last looked" not in client.get("/").text
    clock.minutes = 88.0
    assert "You looked at 15:18." in client.get("/day/today/board").text


@pytest.mark.parametrize(
    "kept",
    ["", "x", "1", f"{AT}.{AT}.", f"{AT}1.{AT}", f"{AT}.99999999999", "-5.7", "٣.٣", f"9.{AT}0"],
)
def test_what_is_no_look_of_ours_tells_nothing(tools: Tools, kept: str) -> None:
    client = desk(tools)
    answer = client.get("/", headers={b"cookie": f"{LOOKED_COOKIE}={kept}".encode()})
    assert answer.status_code == 200
    assert "Since you last looked" not in answer.text


def test_two_people_at_one_machine_look_for_themselves(
    tools: Tools, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    client = desk(tools)
    for name in ("Ida Marsh", "Noa Reed"):
        add_account(name, ["steward"], "four quiet leaves fall", tools)
        secret = sign_in(name, "four quiet leaves fall", "", Doorkeeper(), tools)
        client.cookies.set(SESSION_COOKIE, secret)
        assert "Since you last looked" not in client.get("/").text
        clock.minutes += 60
    names = [name for name in client.cookies if name.startswith(LOOKED_COOKIE)]
    assert len(names) == 2
