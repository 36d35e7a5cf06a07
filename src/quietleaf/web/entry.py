"""Who is let in to the desk's pages, and the audit list of what they changed there."""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar
from functools import partial
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import HTTPConnection, Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from quietleaf.errors import NotAllowed
from quietleaf.planning.account import Account, Deed, Role
from quietleaf.web.access import is_at_the_desk, is_private
from quietleaf.web.forms import refuse_other_site
from quietleaf.web.guard import host_name
from quietleaf.web.log import tell_roles
from quietleaf.web.roles import STATIC_FILES, may, row_of
from quietleaf.work.sign_in import has_accounts, signed_in
from quietleaf.work.tools import Tools

SESSION_COOKIE = "quietleaf_session"
SIGN_IN = "/sign-in"
LOOKS_BY_ITSELF = ("/day/{day}/board",)
"""What a page asks for while nobody does anything: it keeps no session open."""
_SAFE = ("GET", "HEAD", "OPTIONS")
_DONE = (201, 303)
"""How a change is answered; a form that is shown again, or a preview, changed nothing."""

_current: ContextVar[Account | None] = ContextVar("account", default=None)


def current_account() -> Account | None:
    """Give who signed in and asks just now; None at a machine that is trusted without."""
    return _current.get()


class Entry:
    """Lets in whom the matrix lets in; everybody to what is for everybody.

    Until there is an account, the desk's pages answer on the station's own machine alone.

    Parameters
    ----------
    refuse_outside : callable
        Gives the answer where there are no accounts, or the way is not encrypted.
    refuse_role : callable
        Gives the answer to an account that may not.
    refused : callable
        Gives the answer to what a page of another site sent.
    """

    def __init__(
        self,
        app: ASGIApp,
        tools: Tools,
        refuse_outside: Callable[[], Response],
        refuse_role: Callable[[], Response],
        refused: Callable[[Request, Exception], Response],
    ) -> None:
        self._app = app
        self._tools = tools
        self._refuse_outside = refuse_outside
        self._refuse_role = refuse_role
        self._refused = refused

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        row, wanted = row_of(scope["path"])
        host = host_name(Headers(scope=scope).get("host", ""))
        secret = HTTPConnection(scope).cookies.get(SESSION_COOKIE)
        account = None
        if secret and row != STATIC_FILES:
            account = await run_in_threadpool(
                partial(signed_in, secret, self._tools, by_hand=row not in LOOKS_BY_ITSELF)
            )
            tell_roles(account.roles if account else ())
        token = _current.set(account)
        try:
            if wanted is None:
                await self._from_here(scope, receive, send)
                return
            trusted = account is None and not await run_in_threadpool(has_accounts, self._tools)
            refusal = self._refusal(scope, host, trusted, account, wanted)
            if refusal is None:
                await self._audited(row, account, scope, receive, send)
            elif scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
            else:
                await refusal(scope, receive, send)
        finally:
            _current.reset(token)

    def _refusal(
        self,
        scope: Scope,
        host: str,
        trusted: bool,
        account: Account | None,
        wanted: frozenset[Role],
    ) -> Response | None:
        if trusted:
            return None if is_at_the_desk(scope, host) else self._refuse_outside()
        if not is_private(scope, host):
            return self._refuse_outside()
        if account is None:
            asked = scope["path"] if scope.get("method") in _SAFE else "/"
            return RedirectResponse(f"{SIGN_IN}?to={quote(asked)}", 303)
        return None if may(account.roles, wanted) else self._refuse_role()

    async def _audited(
        self, row: str, account: Account | None, scope: Scope, receive: Receive, send: Send
    ) -> None:
        async def send_on(message: Message) -> None:
            # Before the answer leaves: what was done is in the list when it is told.
            if message["type"] == "http.response.start" and message["status"] in _DONE:
                await run_in_threadpool(self._keep, row, account, scope["path"])
            await send(message)

        changes = scope.get("method", "GET") not in _SAFE
        await self._from_here(scope, receive, send_on if changes else send)

    async def _from_here(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, unless a page of another site made the browser send it."""
        if scope["type"] == "http" and scope["method"] not in _SAFE:
            try:
                refuse_other_site(HTTPConnection(scope))
            except NotAllowed as refusal:
                await self._refused(Request(scope), refusal)(scope, receive, send)
                return
        await self._app(scope, receive, send)

    def _keep(self, row: str, account: Account | None, path: str) -> None:
        self._tools.database.accounts.add_deed(
            Deed(
                at=self._tools.clock(),
                who="" if account is None else account.name,
                what=row,
                about=path,
            )
        )
