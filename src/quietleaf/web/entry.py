"""Who is let in to the desk's pages, and the audit list of what they changed there."""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar
from dataclasses import dataclass
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import HTTPConnection, Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from quietleaf.errors import NotAllowed, Unavailable
from quietleaf.planning.account import Account, Deed, Role
from quietleaf.storage.tokens import Token
from quietleaf.web.access import is_at_the_desk, is_private
from quietleaf.web.forms import refuse_other_site
from quietleaf.web.guard import host_name
from quietleaf.web.log import tell_roles
from quietleaf.web.program_entry import (
    bearer_of,
    refused_beyond,
    refused_busy,
    refused_other_page,
    refused_outside,
    refused_unknown,
)
from quietleaf.web.roles import STATIC_FILES, UNNAMED, is_for_programs, may, row_of, scope_of
from quietleaf.web.throttle import Throttle
from quietleaf.work.program_tokens import holder_of
from quietleaf.work.sign_in import has_accounts, signed_in
from quietleaf.work.tools import Tools

SESSION_COOKIE = "quietleaf_session"
SIGN_IN = "/sign-in"
LOOKS_BY_ITSELF = (
    *("/day/{day}/board", "/reading/{reading_id}/plan/under-way"),
    *("/stand/message/{message_id}", "/stand/hand-in/copy"),
    *("/stand/receipt/verdict", "/practice/copy", "/practice/verdict", "/practice/here"),
)
"""What a page asks for while nobody does anything: it keeps no session open."""
LETTING_IN = ("/link/{token}", "/booth/enrol/{token}")
LETTING_IN_A_MINUTE = 60
"""From one address, behind which there may be a house full of readers. Ours."""
_SAFE = ("GET", "HEAD", "OPTIONS")
_DONE = (201, 303)
"""How a page answers a change; a form that is shown again, or a preview, changed nothing."""

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
        self._throttle = Throttle()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        row, wanted = row_of(scope.get("path", ""))
        if scope["type"] == "lifespan" or row == STATIC_FILES:
            await self._app(scope, receive, send)
            return
        asked = await run_in_threadpool(self._look_at, scope, row, wanted)
        tell_roles(asked.account.roles if asked.account else ())
        kept = _current.set(asked.account)
        try:
            refusal = self._refusal(asked)
            if refusal is None:
                audited = asked.changes and asked.wanted is not None
                await self._app(scope, receive, self._audited(asked, send) if audited else send)
            elif scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
            else:
                await refusal(scope, receive, send)
        finally:
            _current.reset(kept)

    def _look_at(self, scope: Scope, row: str, wanted: frozenset[Role] | None) -> _Asked:
        """See who asks."""
        headers = Headers(scope=scope)
        by_program = is_for_programs(scope["path"])
        bearer = bearer_of(headers) if by_program else None
        account, token, trusted = None, None, False
        if bearer is not None:
            account, token = holder_of(bearer, self._tools) or (None, None)
        else:
            cookie = HTTPConnection(scope).cookies.get(SESSION_COOKIE)
            by_hand = row not in LOOKS_BY_ITSELF
            account = signed_in(cookie, self._tools, by_hand=by_hand)
            trusted = wanted is not None and account is None and not has_accounts(self._tools)
        return _Asked(
            scope=scope,
            headers=headers,
            host=host_name(headers.get("host", "")),
            row=row,
            wanted=wanted,
            by_program=by_program,
            bearer=bearer,
            token=token,
            account=account,
            trusted=trusted,
        )

    def _refusal(self, asked: _Asked) -> ASGIApp | None:
        if asked.by_program:
            return self._refusal_of_program(asked)
        refusal = self._refusal_of_secret(asked) or self._refusal_of_page(asked)
        return refusal or self._from_elsewhere(asked)

    def _refusal_of_secret(self, asked: _Asked) -> ASGIApp | None:
        """Refuse whoever tries one address after another that lets somebody in."""
        if asked.row not in LETTING_IN:
            return None
        client = asked.scope.get("client")
        who = f"secret {client[0] if client else ''}"
        wait_s = self._throttle.wait_s(who, self._tools.clock(), LETTING_IN_A_MINUTE)
        if not wait_s:
            return None
        return self._refused(
            Request(asked.scope),
            Unavailable(
                "web/wait",
                f"From this connection {LETTING_IN_A_MINUTE} links and booth addresses were opened "
                f"within a minute. Wait {wait_s} s, then open yours again.",
            ),
        )

    def _from_elsewhere(self, asked: _Asked) -> ASGIApp | None:
        """Refuse what a page of another site made the browser send."""
        if asked.scope["type"] != "http" or not asked.changes:
            return None
        try:
            refuse_other_site(HTTPConnection(asked.scope))
        except NotAllowed as refusal:
            return self._refused(Request(asked.scope), refusal)
        return None

    def _refusal_of_page(self, asked: _Asked) -> ASGIApp | None:
        if asked.wanted is None:
            return None
        if asked.trusted:
            return None if is_at_the_desk(asked.scope, asked.host) else self._refuse_outside()
        if not is_private(asked.scope, asked.host):
            return self._refuse_outside()
        if asked.account is None:
            to = "/" if asked.changes else asked.scope["path"]
            return RedirectResponse(f"{SIGN_IN}?to={quote(to)}", 303)
        return None if may(asked.account.roles, asked.wanted) else self._refuse_role()

    def _refusal_of_program(self, asked: _Asked) -> ASGIApp | None:
        client = asked.scope.get("client")
        who = asked.token.sha256 if asked.token else f"address {client[0] if client else ''}"
        wait_s = self._throttle.wait_s(who, self._tools.clock())
        if wait_s:
            return refused_busy(wait_s)
        if asked.wanted is None:
            return None
        at_the_desk = is_at_the_desk(asked.scope, asked.host)
        if not (at_the_desk if asked.trusted else is_private(asked.scope, asked.host)):
            return refused_outside()
        if asked.account is None and not asked.trusted:
            return refused_unknown(asked.bearer)
        # What a browser sends from no page of its own names no origin: nobody signed in there.
        by_page = asked.token is None and not (asked.trusted and "origin" not in asked.headers)
        if asked.changes and by_page and (other := refused_other_page(asked.headers)) is not None:
            return other
        return refused_beyond(asked.account, asked.token, scope_of(asked.row), asked.wanted)

    def _audited(self, asked: _Asked, send: Send) -> Send:
        async def send_on(message: Message) -> None:
            # Before the answer leaves: what was done is in the list when it is told.
            if message["type"] == "http.response.start" and asked.is_done_by(message["status"]):
                await run_in_threadpool(self._keep, asked)
            await send(message)

        return send_on

    def _keep(self, asked: _Asked) -> None:
        what = f"{asked.scope['method']} {asked.row}" if asked.by_program else asked.row
        self._tools.database.accounts.add_deed(
            Deed(
                at=self._tools.clock(),
                who="" if asked.account is None else asked.account.name,
                what=what,
                # Who was erased must not come into the list by that.
                about=asked.row if asked.row in UNNAMED else asked.scope["path"],
                token="" if asked.token is None else asked.token.name,
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """A request, and who sent it.

    Attributes
    ----------
    row, wanted : str, frozenset of Role or None
        Of the matrix; None for everybody.
    bearer : str or None
        The secret that a program showed, whether or not it opens anything.
    trusted : bool
        Nobody has an account yet.
    """

    scope: Scope
    headers: Headers
    host: str
    row: str
    wanted: frozenset[Role] | None
    by_program: bool
    bearer: str | None
    token: Token | None
    account: Account | None
    trusted: bool

    @property
    def changes(self) -> bool:
        """It asks for more than to see something."""
        return self.scope.get("method", "GET") not in _SAFE

    def is_done_by(self, status: int) -> bool:
        """Say whether an answer tells of something done; a form shown again changed nothing."""
        return 200 <= status < 300 if self.by_program else status in _DONE
