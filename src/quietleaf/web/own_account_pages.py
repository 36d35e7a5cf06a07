"""One's own account: the password, a second factor, and where one is signed in."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import quote, urlencode

import segno
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import NotFound, QuietleafError
from quietleaf.planning.account import Account
from quietleaf.storage.zones import zone_named
from quietleaf.web import own_account_texts
from quietleaf.web.entry import SESSION_COOKIE, SIGN_IN, current_account
from quietleaf.web.forms import form_of
from quietleaf.web.pages import status_of
from quietleaf.web.rendering import page, set_cookie, tools_of
from quietleaf.web.roles import STAFF, may
from quietleaf.work.own_account import (
    change_own_password,
    end_own_sessions,
    prove_owner,
    see_own_account,
)
from quietleaf.work.second_factor import begin_factor, begun_secret, confirm_factor, remove_factor
from quietleaf.work.sign_in import Doorkeeper
from quietleaf.work.tools import Tools

OWN_ACCOUNT = "/account"
NOT_KEPT = {"cache-control": "no-store"}
_FIELD_OF = {"account/password": "password", "account/password-easy": "password"}
"""Of a refusal: where it is told, if not at the password that was asked for again."""


async def own_account_page(request: Request) -> Response:
    """Show what there is."""
    return await _own(request, said=request.query_params.get("done", ""))


async def password(request: Request) -> Response:
    """Change the password."""
    values = await form_of(request)
    given = values.get("now", ""), values.get("password", "")
    account = _owner()

    def change(tools: Tools) -> None:
        address, doorkeeper = _caller(request)
        change_own_password(account, *given, address, doorkeeper, tools)

    return await _changed(request, change, "now") or _signed_out(request)


async def begin(request: Request) -> Response:
    """Show a secret for the telephone, to whoever gives the password again."""
    values = await form_of(request)
    account = _owner()

    def start(tools: Tools) -> None:
        _prove(request, account, values, tools)
        begin_factor(account, tools)

    return await _changed(request, start, "again") or await _secret_page(request, account)


async def confirm(request: Request) -> Response:
    """Let the second factor count, and show the recovery codes this once."""
    values = await form_of(request)
    account, tools = _owner(), tools_of(request)
    try:
        codes = await run_in_threadpool(confirm_factor, account.name, values.get("code", ""), tools)
    except QuietleafError as refusal:
        if refusal.code != "factor/code":
            raise
        return await _secret_page(request, account, refusal)
    answer = page(request, "accounts/codes.html", status=201, words=own_account_texts, codes=codes)
    answer.headers.update(NOT_KEPT)
    return answer


async def remove(request: Request) -> Response:
    """Take the second factor away."""
    values = await form_of(request)
    account = _owner()

    def take_away(tools: Tools) -> None:
        _prove(request, account, values, tools)
        remove_factor(account.name, tools)

    done = RedirectResponse(f"{OWN_ACCOUNT}?done=factor", 303)
    return await _changed(request, take_away, "again") or done


async def end_sessions(request: Request) -> Response:
    """Sign out everywhere."""
    await form_of(request)
    await run_in_threadpool(end_own_sessions, _owner(), tools_of(request))
    return _signed_out(request)


def _owner() -> Account:
    account = current_account()
    if account is None:
        raise NotFound(
            "account/nobody",
            "Nobody is signed in here: there are no accounts yet. The first is made at Accounts.",
        )
    return account


def _caller(request: Request) -> tuple[str, Doorkeeper]:
    return (request.client.host if request.client else ""), request.app.state.doorkeeper


def _prove(request: Request, account: Account, values: dict[str, str], tools: Tools) -> None:
    address, doorkeeper = _caller(request)
    prove_owner(account, values.get("again", ""), address, doorkeeper, tools)


async def _changed(
    request: Request, change: Callable[[Tools], None], field: str
) -> Response | None:
    """Do it; give the page with the refusal where it is refused."""
    try:
        await run_in_threadpool(change, tools_of(request))
    except QuietleafError as refusal:
        return await _own(request, refusal, _FIELD_OF.get(refusal.code, field))
    return None


async def _own(
    request: Request,
    refusal: QuietleafError | None = None,
    at_field: str = "",
    said: str = "",
) -> Response:
    account, tools = _owner(), tools_of(request)
    answer = page(
        request,
        "accounts/own.html",
        status=200 if refusal is None else status_of(refusal),
        words=own_account_texts,
        seen=await run_in_threadpool(see_own_account, account, tools),
        zone=zone_named(await run_in_threadpool(_zone, tools)),
        is_staff=may(account.roles, STAFF),
        said=own_account_texts.FACTOR_REMOVED if said == "factor" else "",
        refusal="" if refusal is None else refusal.sentence,
        at_field=at_field,
    )
    answer.headers.update(NOT_KEPT)
    return answer


async def _secret_page(
    request: Request, account: Account, refusal: QuietleafError | None = None
) -> Response:
    tools = tools_of(request)
    secret = await run_in_threadpool(begun_secret, account.name, tools)
    station = await run_in_threadpool(_station_name, tools)
    answer = page(
        request,
        "accounts/factor.html",
        status=200 if refusal is None else status_of(refusal),
        words=own_account_texts,
        secret=secret,
        picture=_picture(_uri(station, account.name, secret)),
        refusal="" if refusal is None else refusal.sentence,
    )
    answer.headers.update(NOT_KEPT)
    return answer


def _uri(station: str, name: str, secret: str) -> str:
    """Write a secret as telephones read it: the address that programs for one-time codes know."""
    label = quote(f"{station}:{name}", safe="")
    return f"otpauth://totp/{label}?" + urlencode({"secret": secret, "issuer": station})


def _picture(text: str) -> str:
    """Draw a QR code (ISO/IEC 18004) as SVG, dark on light whatever the page's colours are."""
    drawn: str = segno.make(text, error="m").svg_inline(scale=5, border=4, light="#fff")
    return drawn


def _signed_out(request: Request) -> Response:
    answer = RedirectResponse(SIGN_IN, 303)
    set_cookie(request, answer, SESSION_COOKIE, "", keep_s=0)
    return answer


def _zone(tools: Tools) -> str:
    try:
        return tools.database.load_station().zone
    except NotFound:
        return "UTC"


def _station_name(tools: Tools) -> str:
    try:
        return tools.database.load_station().name
    except NotFound:
        return "Quietleaf"


ROUTES: list[BaseRoute] = [
    Route(OWN_ACCOUNT, own_account_page),
    Route("/account/password", password, methods=["POST"]),
    Route("/account/factor", begin, methods=["POST"]),
    Route("/account/factor/confirm", confirm, methods=["POST"]),
    Route("/account/factor/remove", remove, methods=["POST"]),
    Route("/account/sessions/end", end_sessions, methods=["POST"]),
]
