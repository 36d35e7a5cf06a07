"""Signing in and out; the steward's pages of accounts and of the audit list."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import NotAllowed, NotFound, QuietleafError, Refused
from quietleaf.planning.account import ROLES
from quietleaf.storage.zones import zone_named
from quietleaf.web import account_texts
from quietleaf.web.access import is_private
from quietleaf.web.coming_pages import SITTING_COOKIE, TODAY
from quietleaf.web.entry import SESSION_COOKIE, SIGN_IN
from quietleaf.web.forms import form_of
from quietleaf.web.guard import host_name
from quietleaf.web.pages import status_of
from quietleaf.web.rendering import list_page, page, page_asked, set_cookie, tools_of
from quietleaf.web.roles import STAFF, may
from quietleaf.work.accounts import (
    accounts_of,
    add_account,
    change_password,
    change_roles,
    end_account,
    find_account,
)
from quietleaf.work.second_factor import remove_factor_of, see_factor
from quietleaf.work.sign_in import (
    Doorkeeper,
    has_accounts,
    sign_in,
    sign_out,
    signed_in,
    sit_signed_in,
)
from quietleaf.work.sit_down import get_up
from quietleaf.work.tools import Tools

NOT_KEPT = {"cache-control": "no-store"}
DEEDS_ON_A_PAGE = 100
_SAID = {
    "kept": account_texts.KEPT,
    "password": account_texts.PASSWORD_CHANGED,
    "factor": account_texts.FACTOR_REMOVED,
}
_FIELD_OF = {
    "account/name": "name",
    "account/taken": "name",
    "account/name-unfit": "name",
    "account/roles": "roles",
    "account/no-reader": "roles",
    "account/no-steward": "roles",
    "account/password": "password",
    "account/password-easy": "password",
}


async def sign_in_page(request: Request) -> Response:
    """Show the form, or take name and password."""
    if request.method == "GET":
        return await _sign_in_form(request)
    values = await form_of(request)
    tools = tools_of(request)
    try:
        if not is_private(request.scope, host_name(request.headers.get("host", ""))):
            raise NotAllowed("sign-in/not-private", account_texts.NOT_PRIVATE)
        doorkeeper: Doorkeeper = request.app.state.doorkeeper
        address = request.client.host if request.client else ""
        name, password = values.get("name", ""), values.get("password", "")
        code = values.get("code", "")
        secret = await run_in_threadpool(sign_in, name, password, address, doorkeeper, tools, code)
    except QuietleafError as refusal:
        return await _sign_in_form(request, refusal, values.get("name", ""))
    # Whoever was signed in here before no longer is; the secret is always a new one.
    await run_in_threadpool(sign_out, request.cookies.get(SESSION_COOKIE), tools)
    account = await run_in_threadpool(signed_in, secret, tools)
    is_staff = account is not None and may(account.roles, STAFF)
    answer = RedirectResponse(_own_address(values.get("to", "")) if is_staff else TODAY, 303)
    set_cookie(request, answer, SESSION_COOKIE, secret)
    sitting = await run_in_threadpool(sit_signed_in, secret, tools)
    if sitting is not None:
        await run_in_threadpool(get_up, request.cookies.get(SITTING_COOKIE), tools)
        set_cookie(request, answer, SITTING_COOKIE, sitting)
    return answer


async def sign_out_of(request: Request) -> Response:
    """End the session of this browser."""
    await form_of(request)
    tools = tools_of(request)
    if SESSION_COOKIE in request.cookies:
        await run_in_threadpool(sign_out, request.cookies[SESSION_COOKIE], tools)
        await run_in_threadpool(get_up, request.cookies.get(SITTING_COOKIE), tools)
    answer = RedirectResponse(SIGN_IN, 303)
    set_cookie(request, answer, SESSION_COOKIE, "", keep_s=0)
    return answer


async def accounts_page(request: Request) -> Response:
    """Show who can sign in."""
    accounts = await run_in_threadpool(accounts_of, tools_of(request))
    said = account_texts.ENDED if request.query_params.get("done") == "ended" else ""
    return page(
        request,
        "accounts/accounts.html",
        words=account_texts,
        accounts=list_page(request, accounts),
        said=said,
    )


async def new_page(request: Request) -> Response:
    """Add an account."""
    tools = tools_of(request)
    first = not await run_in_threadpool(has_accounts, tools)
    values = {"roles": "steward"} if first else {}
    refusal: Refused | None = None
    if request.method == "POST":
        values = await form_of(request)
        name, roles = values.get("name", ""), values.get("roles", "").split("\n")
        try:
            await run_in_threadpool(add_account, name, roles, values.get("password", ""), tools)
        except Refused as refused:
            refusal = refused
        else:
            return RedirectResponse(SIGN_IN if first else "/accounts", 303)
    title = account_texts.FIRST_ACCOUNT if first else account_texts.NEW_ACCOUNT
    return _form(request, "accounts/new.html", title, values, refusal, first=first)


async def account_page(request: Request) -> Response:
    """Show one account, and change its roles or its password."""
    tools = tools_of(request)
    account = await run_in_threadpool(find_account, request.path_params["name"], tools)
    values = {"roles": "\n".join(account.roles)}
    refusal: Refused | None = None
    if request.method == "POST":
        values = await form_of(request)
        is_password = values.get("do") == "password"
        change: Callable[[], object] = (
            (lambda: change_password(account.name, values.get("password", ""), tools))
            if is_password
            else (lambda: change_roles(account.name, values.get("roles", "").split("\n"), tools))
        )
        try:
            await run_in_threadpool(change)
        except Refused as refused:
            refusal = refused
            values.setdefault("roles", "\n".join(account.roles) if is_password else "")
        else:
            done = "password" if is_password else "kept"
            return RedirectResponse(f"{request.url.path}?done={done}", 303)
    done = request.query_params.get("done", "")
    said = _SAID.get(done, "")
    factor = await run_in_threadpool(see_factor, account.name, tools)
    return _form(
        request, "accounts/account.html", account.name, values, refusal, said=said, factor=factor
    )


async def remove_others_factor(request: Request) -> Response:
    """Take away the second factor of somebody who lost it."""
    await form_of(request)
    name = request.path_params["name"]
    await run_in_threadpool(remove_factor_of, name, tools_of(request))
    return RedirectResponse(f"/accounts/{quote(name)}?done=factor", 303)


async def end(request: Request) -> Response:
    """End an account."""
    await form_of(request)
    await run_in_threadpool(end_account, request.path_params["name"], tools_of(request))
    return RedirectResponse("/accounts?done=ended", 303)


async def deeds_page(request: Request) -> Response:
    """Show what was changed, a page at a time."""
    tools = tools_of(request)
    count = await run_in_threadpool(tools.database.accounts.count_deeds)
    pages = max(1, -(-count // DEEDS_ON_A_PAGE))
    number = min(max(page_asked(request), 1), pages)
    first = (number - 1) * DEEDS_ON_A_PAGE
    deeds = await run_in_threadpool(_deeds, first, tools)
    zone = await run_in_threadpool(_zone, tools)
    return page(
        request,
        "accounts/deeds.html",
        words=account_texts,
        deeds=deeds,
        zone=zone_named(zone),
        number=number,
        pages=pages,
    )


def _deeds(first: int, tools: Tools) -> object:
    return tools.database.accounts.deeds(first=first, count=DEEDS_ON_A_PAGE)


def _zone(tools: Tools) -> str:
    try:
        return tools.database.load_station().zone
    except NotFound:
        return "UTC"


async def _sign_in_form(
    request: Request, refusal: QuietleafError | None = None, name: str = ""
) -> Response:
    there = await run_in_threadpool(has_accounts, tools_of(request))
    answer = page(
        request,
        "accounts/sign_in.html",
        status=200 if refusal is None else status_of(refusal),
        words=account_texts,
        has_accounts=there,
        refusal="" if refusal is None else refusal.sentence,
        name=name,
        to=_own_address(request.query_params.get("to", "")),
    )
    answer.headers.update(NOT_KEPT)
    return answer


def _form(
    request: Request,
    template: str,
    title: str,
    values: dict[str, str],
    refusal: Refused | None,
    **more: object,
) -> Response:
    field = "" if refusal is None else _FIELD_OF.get(refusal.code, "")
    answer = page(
        request,
        template,
        status=200 if refusal is None else status_of(refusal),
        words=account_texts,
        title=title,
        name=values.get("name", ""),
        chosen=values.get("roles", "").split("\n"),
        roles=ROLES,
        refusal="" if refusal is None else refusal.sentence,
        at_field=field,
        **{"said": "", "first": False, **more},
    )
    answer.headers.update(NOT_KEPT)
    return answer


def _own_address(text: str) -> str:
    """Give an address of this station, whatever was asked for."""
    is_own = text.startswith("/") and not text.startswith(("//", "/\\")) and text.isprintable()
    return text if is_own else "/"


ROUTES: list[BaseRoute] = [
    Route(SIGN_IN, sign_in_page, methods=["GET", "POST"]),
    Route("/sign-out", sign_out_of, methods=["POST"]),
    Route("/accounts", accounts_page),
    Route("/accounts/new", new_page, methods=["GET", "POST"]),
    Route("/accounts/deeds", deeds_page),
    Route("/accounts/{name}", account_page, methods=["GET", "POST"]),
    Route("/accounts/{name}/end", end, methods=["POST"]),
    Route("/accounts/{name}/factor/remove", remove_others_factor, methods=["POST"]),
]
