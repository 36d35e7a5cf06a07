"""The pages on people: a list in pages, what is kept, the file, the erasure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from quietleaf.web.app import make_app
from quietleaf.web.rendering import ON_A_PAGE
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        bring_reading(made)
        yield replace(made, clock=lambda: NOW + timedelta(days=30))


@pytest.fixture
def client(tools: Tools) -> TestClient:
    return TestClient(
        make_app(tools), "http://127.0.0.1", client=("127.0.0.1", 50_000), follow_redirects=False
    )


def test_what_is_kept_is_said_saved_and_erased(client: TestClient, tools: Tools) -> None:
    assert "/people/Ada%20Fenwick" in client.get("/people").text
    page = client.get("/people/Ada%20Fenwick").text.replace("\N{NO-BREAK SPACE}", " ")
    assert "A reader: one assignment and one reading." in page
    file = client.get("/people/Ada%20Fenwick/export")
    assert file.headers["content-disposition"].endswith("filename*=UTF-8''Ada%20Fenwick.json")
    assert file.headers["cache-control"] == "no-store"
    assert file.json()["format"] == "quietleaf/person/1"
    done = client.post("/people/Ada%20Fenwick/erase")
    assert done.headers["location"] == "/people?done=erased"
    assert "Ada Fenwick" not in client.get("/people?done=erased").text
    assert client.get("/people/Ada%20Fenwick").status_code == 404
    (deed,) = tools.database.accounts.deeds(first=0, count=9)
    assert (deed.what, deed.about) == ("/people/{name}/erase", "/people/{name}/erase")


def test_a_refused_erasure_says_why(client: TestClient, tools: Tools) -> None:
    row = tools.database.reading("k3f9")
    tools.database.index_reading(replace(row, state="in the booth"))
    page = client.post("/people/Ada%20Fenwick/erase")
    assert page.status_code == 409
    assert "Erase them when it is handed in." in page.text


def test_everybody_comes_in_pages(client: TestClient, tools: Tools) -> None:
    names = tuple(f"Reader {number:03}" for number in range(2 * ON_A_PAGE + 1))
    tools.database.change_station(lambda of: replace(of, readers=names, assignments=()))
    assert client.get("/people").text.count('href="/people/Reader') == ON_A_PAGE
    assert client.get("/people?page=9").text.count('href="/people/Reader') == 1
