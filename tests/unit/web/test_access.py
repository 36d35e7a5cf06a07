"""The desk's pages answer on this machine alone; booth pages and personal links anywhere."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from quietleaf.web.app import make_app
from quietleaf.work.tools import Tools
from tests.finished import example_station

DESK = ("/", "/day/2026-11-25", "/plan", "/reading/k3f9", "/reading/k3f9/files/x.wav", "//stand")


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    made = example_station(tmp_path)
    with made.database:
        yield made


def ask(
    tools: Tools, path: str, *, host: str, peer: str, headers: dict[str, str] | None = None
) -> int:
    client = TestClient(make_app(tools, hosts=None), f"http://{host}", client=(peer, 40_000))
    return client.get(path, headers=headers or {}).status_code


@pytest.mark.parametrize("path", DESK)
@pytest.mark.parametrize(
    ("host", "peer", "headers"),
    [
        ("studio.lan", "192.168.1.20", {}),
        ("127.0.0.1", "192.168.1.20", {}),
        ("studio.lan", "127.0.0.1", {}),
        ("localhost", "127.0.0.1", {"X-Forwarded-For": "203.0.113.9"}),
        ("localhost", "127.0.0.1", {"Forwarded": "for=203.0.113.9"}),
        ("localhost", "no-address", {}),
    ],
)
def test_from_elsewhere_the_desk_does_not_answer(
    tools: Tools, path: str, host: str, peer: str, headers: dict[str, str]
) -> None:
    assert ask(tools, path, host=host, peer=peer, headers=headers) == 403


@pytest.mark.parametrize("path", ["/health", "/static/style.css"])
def test_what_everybody_may_ask_for_answers_anywhere(tools: Tools, path: str) -> None:
    assert ask(tools, path, host="studio.lan", peer="192.168.1.20") == 200


@pytest.mark.parametrize("host", ["127.0.0.1:8190", "localhost", "[::1]:8190"])
def test_on_this_machine_the_desk_answers(tools: Tools, host: str) -> None:
    assert ask(tools, "/", host=host, peer="127.0.0.1") == 200
    assert ask(tools, "/", host=host, peer="::1") == 200


def test_a_line_for_sound_under_another_name_is_closed(tools: Tools) -> None:
    client = TestClient(make_app(tools), "http://studio.lan", client=("127.0.0.1", 40_000))
    with (
        pytest.raises(WebSocketDisconnect),
        client.websocket_connect("ws://studio.lan/stand/wire"),
    ):
        pass
