"""The API's place among the pages: it is made at its first request.

Its library takes half a second to load, which a station without programs need not spend.
"""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from quietleaf.web.forms import LARGEST_FORM_BYTES
from quietleaf.web.problems import Problem, too_large

if TYPE_CHECKING:
    from quietleaf.work.finishings import Finishings
    from quietleaf.work.recorders import Recorders
    from quietleaf.work.tools import Tools


class ApiMount:
    """Answers as the API does."""

    def __init__(
        self, tools: Tools, recorders: Recorders, finishings: Finishings, outside: str
    ) -> None:
        self._tools = tools
        self._recorders = recorders
        self._finishings = finishings
        self._outside = outside
        self._api: ASGIApp | None = None
        self._making = threading.Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        told = Headers(scope=scope).get("content-length", "")
        if told.isascii() and told.isdigit() and int(told[:20]) > LARGEST_FORM_BYTES:
            # One that tells no length is stopped while it is read.
            await Problem(too_large(), 413)(scope, receive, send)
            return
        if self._api is None:
            await run_in_threadpool(self._make)
        assert self._api is not None
        await self._api(scope, receive, send)

    def _make(self) -> None:
        with self._making:
            if self._api is None:
                from quietleaf.web.api.app import make_api

                self._api = make_api(self._tools, self._recorders, self._finishings, self._outside)
