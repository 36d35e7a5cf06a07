"""A station served to a browser from a thread of the tests' own process."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import uvicorn

from quietleaf.web.app import OWN_NAMES, make_app
from quietleaf.work.tools import Tools


@contextmanager
def served(tools: Tools, hosts: Iterable[str] | None = OWN_NAMES) -> Iterator[str]:
    """Serve a station on a free port until the block ends; give the address of its pages."""
    listening = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(
        uvicorn.Config(make_app(tools, hosts), log_level="warning", timeout_graceful_shutdown=1)
    )
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    try:
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join()
        listening.close()
