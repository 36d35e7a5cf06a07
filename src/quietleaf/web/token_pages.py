"""Tokens for programs: an account makes its own, a steward makes them for any account."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import Invalid, NotFound, QuietleafError
from quietleaf.planning.account import Account, scopes_for
from quietleaf.storage.zones import zone_named
from quietleaf.web import token_texts
from quietleaf.web.entry import current_account
from quietleaf.web.forms import form_of, refuse_other_site
from quietleaf.web.own_account_pages import NOT_KEPT, OWN_ACCOUNT
from quietleaf.web.pages import status_of
from quietleaf.web.rendering import page, tools_of
from quietleaf.work.accounts import find_account
from quietleaf.work.own_account import prove_owner
from quietleaf.work.program_tokens import USUAL_DAYS, end_token, make_token, tokens_of
from quietleaf.work.tools import Tools

_FIELD_OF = {
    "token/name": "name",
    "token/taken": "name",
    "token/days": "days",
    "token/scopes": "scopes",
    "token/beyond": "scopes",
    "account/own-password": "again",
    "sign-in/wait": "again",
}


async def tokens_page(request: Request) -> Response:
    """Show an account's tokens, and make one, which is shown this once."""
    tools = tools_of(request)
    account, is_own = await run_in_threadpool(_account_of, request)
    if request.method == "GET":
        return await _shown(request, account, is_own, {"days": str(USUAL_DAYS)})
    values = await form_of(request)
    try:
        secret = await run_in_threadpool(_make, request, account, values, tools)
    except QuietleafError as refusal:
        return await _shown(request, account, is_own, values, refusal=refusal)
    return await _shown(request, account, is_own, {"days": str(USUAL_DAYS)}, secret=secret)


async def end(request: Request) -> Response:
    """End a token."""
    refuse_other_site(request)
    account, is_own = await run_in_threadpool(_account_of, request)
    sha256 = request.path_params["sha256"]
    await run_in_threadpool(end_token, account.name, sha256, tools_of(request))
    return RedirectResponse(_address(account, is_own), 303)


def _make(request: Request, account: Account, values: Mapping[str, str], tools: Tools) -> str:
    maker = current_account()
    if maker is not None:
        # A session that is left open makes no token that outlives it.
        address = request.client.host if request.client else ""
        doorkeeper = request.app.state.doorkeeper
        prove_owner(maker, values.get("again", ""), address, doorkeeper, tools)
    days = values.get("days", "")
    # A number as it is typed; other scripts' digits, signs and spaces inside are not.
    if not (days.isascii() and days.isdigit()):
        raise Invalid("token/days", token_texts.NEEDED_DAYS)
    scopes = values.get("scopes", "").split("\n")
    _, secret = make_token(account.name, values.get("name", ""), scopes, int(days[:9]), tools)
    return secret


def _account_of(request: Request) -> tuple[Account, bool]:
    """Give whose tokens these are, and whether the address is that of one's own."""
    name = request.path_params.get("name")
    if name is not None:
        return find_account(name, tools_of(request)), False
    account = current_account()
    if account is None:
        raise NotFound(
            "token/nobody",
            "A token is an account's, and nobody is signed in here: there are no accounts yet. "
            "The first is made at Accounts.",
        )
    return account, True


def _address(account: Account, is_own: bool) -> str:
    of = OWN_ACCOUNT if is_own else f"/accounts/{quote(account.name, safe='')}"
    return f"{of}/tokens"


async def _shown(
    request: Request,
    account: Account,
    is_own: bool,
    values: Mapping[str, str],
    *,
    refusal: QuietleafError | None = None,
    secret: str = "",
) -> Response:
    tools = tools_of(request)
    status = 201 if secret else 200 if refusal is None else status_of(refusal)
    station = await run_in_threadpool(tools.database.load_station)
    answer = page(
        request,
        "accounts/tokens.html",
        status=status,
        words=token_texts,
        title=token_texts.tokens_of(account.name, is_own),
        address=_address(account, is_own),
        is_own=is_own,
        tokens=await run_in_threadpool(tokens_of, account.name, tools),
        scopes=scopes_for(account.roles),
        chosen=values.get("scopes", "").split("\n"),
        values=values,
        secret=secret,
        asks_again=current_account() is not None,
        refusal="" if refusal is None else refusal.sentence,
        at_field="" if refusal is None else _FIELD_OF.get(refusal.code, ""),
        now=tools.clock(),
        zone=zone_named(station.zone),
    )
    answer.headers.update(NOT_KEPT)
    return answer


ROUTES: list[BaseRoute] = [
    Route(f"{OWN_ACCOUNT}/tokens", tokens_page, methods=["GET", "POST"]),
    Route(f"{OWN_ACCOUNT}/tokens/{{sha256}}/end", end, methods=["POST"]),
    Route("/accounts/{name}/tokens", tokens_page, methods=["GET", "POST"]),
    Route("/accounts/{name}/tokens/{sha256}/end", end, methods=["POST"]),
]
