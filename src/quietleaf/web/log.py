"""What is logged of requests: an id, the role row, a status, how long, which role, which refusal.

Never a name, an address, a secret, or what a form held: the row stands for the path.
"""

from __future__ import annotations

import logging
import secrets
import time
from collections.abc import Sequence
from contextvars import ContextVar
from dataclasses import dataclass

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from quietleaf.planning.account import Role
from quietleaf.web.roles import STATIC_FILES, row_of

LOG = logging.getLogger(__name__)
REQUEST_KEY = "quietleaf.request"
"""Where a request's scope holds its id."""
_METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")


@dataclass(slots=True)
class _Told:
    code: str = ""
    roles: tuple[Role, ...] = ()


_present: ContextVar[_Told | None] = ContextVar("told", default=None)


def tell_code(code: str) -> None:
    """Say by which refusal the present request is answered."""
    told = _present.get()
    if told is not None:
        told.code = code


def tell_roles(roles: Sequence[Role]) -> None:
    """Say which roles the account has that asks just now."""
    told = _present.get()
    if told is not None:
        told.roles = tuple(roles)


class Log:
    """Logs each request when it is over, but for what is asked of `/static`; each fault of ours."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        row = row_of(scope["path"])[0] if scope["type"] != "lifespan" else STATIC_FILES
        if row == STATIC_FILES:
            await self._app(scope, receive, send)
            return
        status = 0

        async def watch(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            elif message["type"] == "websocket.close":
                status = message.get("code", 1000)
            await send(message)

        told = _Told()
        asked = scope[REQUEST_KEY] = secrets.token_hex(8)
        token = _present.set(told)
        begun = time.monotonic()
        try:
            await self._app(scope, receive, watch)
        except Exception as fault:
            status = 500
            # By this it is known again where a server logs it too.
            fault.add_note(f"request {asked}")
            LOG.error("fault", exc_info=fault, extra={"told": {"request": asked, "row": row}})
            raise
        finally:
            _present.reset(token)
            is_line = scope["type"] == "websocket"
            method = scope.get("method", "")
            line = {
                "request": asked,
                "row": row,
                "method": "line" if is_line else method if method in _METHODS else "other",
                "status": status,
                "ms": round((time.monotonic() - begun) * 1000.0, 1),
                "roles": list(told.roles),
                "code": told.code,
            }
            LOG.info("request", extra={"told": line})
