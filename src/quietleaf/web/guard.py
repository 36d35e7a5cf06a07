"""What every answer carries, and which addresses are answered at all."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from quietleaf.errors import Unavailable
from quietleaf.web.cookies import give_prefix, without_prefix

PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; font-src 'self'; img-src 'self'; "
    "media-src 'self'; connect-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
"""Pages bring no style and no script of their own inside them."""
FILE_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; font-src 'self' data:; "
    "media-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""A report is one file with its style inside; it has no script, and gets none."""

_NEVER = (
    *("accelerometer", "camera", "display-capture", "geolocation", "gyroscope", "hid"),
    *("magnetometer", "midi", "payment", "serial", "usb"),
)
HEADERS = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(self), " + ", ".join(f"{one}=()" for one in _NEVER),
}
HSTS = "max-age=31536000; includeSubDomains"
"""Over TLS alone: a browser that came once comes by no other way for a year."""
SILENT_S = 30.0
"""A form or a file of which nothing comes for so long is given up."""


class Guard:
    """Answers its own host names alone, and gives every answer its headers.

    A page elsewhere can make a browser ask 127.0.0.1 under a name of its own; the Host header
    gives it away.

    Parameters
    ----------
    hosts : frozenset of str or None
        Names without port; None answers any.
    refuse : callable
        Gives the answer for any other name.
    """

    def __init__(
        self,
        app: ASGIApp,
        hosts: frozenset[str] | None,
        refuse: Callable[[Scope, Receive, Send], Awaitable[None]],
    ) -> None:
        self._app = app
        self._hosts = hosts
        self._refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", _keeping(headers.get("content-type", "")))
                if is_secure:
                    headers.setdefault("strict-transport-security", HSTS)
                    give_prefix(headers)
            elif message["type"] == "websocket.accept" and is_secure:
                give_prefix(MutableHeaders(scope=message))
            await send(message)

        is_secure = scope["scheme"] in ("https", "wss")
        if is_secure:
            scope = {**scope, "headers": without_prefix(scope["headers"])}
        named = host_name(Headers(scope=scope).get("host", ""))
        if self._hosts is None or named in self._hosts:
            await self._app(scope, _patient(scope, receive), send_with_headers)
            return
        if scope["type"] == "websocket":
            # Closing before accepting is answered by status 403.
            await send({"type": "websocket.close", "code": 1008})
            return
        await self._refuse(scope, receive, send_with_headers)


def _keeping(content_type: str) -> str:
    """Say whether browsers may keep an answer: what people can read names people, and is not."""
    is_told = content_type.startswith(("text/html", "application/json"))
    return "no-store" if is_told else "no-cache"


def _patient(scope: Scope, receive: Receive) -> Receive:
    """Wait for what a request brings with it, but not for ever."""
    if scope["type"] != "http":
        return receive
    is_whole = False

    async def next_part() -> Message:
        nonlocal is_whole
        if is_whole:
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), SILENT_S)
        except TimeoutError:
            raise Unavailable(
                "web/silent",
                f"Nothing more came for {SILENT_S:.0f} seconds, and it was given up. Look at the "
                "connection, and send it again.",
            ) from None
        is_whole = not message.get("more_body", False)
        return message

    return next_part


def host_name(host: str) -> str:
    """Give the name in a Host header, without its port.

    Examples
    --------
    >>> host_name("LocalHost:8190"), host_name("127.0.0.1"), host_name("[::1]:8190")
    ('localhost', '127.0.0.1', '[::1]')
    """
    if host.startswith("["):
        return host.partition("]")[0].lower() + "]"
    return host.partition(":")[0].lower()
