"""The desk's side of coming in: addresses that make booths, and personal links."""

from __future__ import annotations

from datetime import datetime

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import Invalid
from quietleaf.storage.zones import zone_named
from quietleaf.web import coming_texts
from quietleaf.web.forms import form_of, refuse_other_site
from quietleaf.web.rendering import page, tools_of
from quietleaf.work.enrol_booth import end_booth, make_enrolment, see_enrolment
from quietleaf.work.personal_links import MOST_DAYS, USUAL_DAYS, links_of, make_link, revoke_link

NOT_KEPT = {"cache-control": "no-store"}
"""An address that opens something is shown once: also not by going back."""


async def booth_page(request: Request) -> Response:
    """Show how a booth stands."""
    return await _booth_page(request, "")


async def make_booth_address(request: Request) -> Response:
    """Make an address that makes a browser the booth, and show it this once."""
    refuse_other_site(request)
    secret = await run_in_threadpool(make_enrolment, request.path_params["key"], tools_of(request))
    return await _booth_page(request, f"/booth/enrol/{secret}")


async def end_booth_browser(request: Request) -> Response:
    """Make the booth nobody's browser."""
    refuse_other_site(request)
    key = request.path_params["key"]
    await run_in_threadpool(end_booth, key, tools_of(request))
    return RedirectResponse(str(request.url_for("a booth", key=key).path), 303)


async def links_page(request: Request) -> Response:
    """Show a reader's links."""
    return await _links_page(request)


async def make_personal_link(request: Request) -> Response:
    """Make a link for a reader, and show it this once."""
    form = await form_of(request)
    typed = form.get("days", str(USUAL_DAYS))
    try:
        secret = await run_in_threadpool(
            make_link, request.path_params["name"], _days(typed), tools_of(request)
        )
    except Invalid as refusal:
        return await _links_page(request, refusal=refusal.sentence, typed=typed, status=422)
    return await _links_page(request, address=f"{_base(request)}/link/{secret}", status=201)


async def revoke(request: Request) -> Response:
    """Close a link."""
    refuse_other_site(request)
    name = request.path_params["name"]
    await run_in_threadpool(revoke_link, name, request.path_params["sha256"], tools_of(request))
    return RedirectResponse(str(request.url_for("links of a reader", name=name).path), 303)


async def _booth_page(request: Request, path: str) -> Response:
    tools = tools_of(request)
    seen = await run_in_threadpool(see_enrolment, request.path_params["key"], tools)
    answer = page(
        request,
        "coming/desk_booth.html",
        status=201 if path else 200,
        words=coming_texts,
        seen=seen,
        address=path and f"{_base(request)}{path}",
        path=path,
        at_the_desk=not request.app.state.outside,
        now=await run_in_threadpool(_now, request),
    )
    answer.headers.update(NOT_KEPT)
    return answer


async def _links_page(
    request: Request,
    *,
    address: str = "",
    refusal: str = "",
    typed: str = str(USUAL_DAYS),
    status: int = 200,
) -> Response:
    name = request.path_params["name"]
    links = await run_in_threadpool(links_of, name, tools_of(request))
    answer = page(
        request,
        "coming/desk_links.html",
        status=status,
        words=coming_texts,
        reader=name,
        links=links,
        address=address,
        at_the_desk=not request.app.state.outside,
        refusal=refusal,
        typed=typed,
        most_days=MOST_DAYS,
        now=await run_in_threadpool(_now, request),
    )
    answer.headers.update(NOT_KEPT)
    return answer


def _now(request: Request) -> datetime:
    tools = tools_of(request)
    return tools.clock().astimezone(zone_named(tools.database.load_station().zone))


def _base(request: Request) -> str:
    """Give the station's address as booths and homes have it; else as the desk has it."""
    outside: str = request.app.state.outside
    return outside or f"{request.url.scheme}://{request.url.netloc}"


def _days(text: str) -> int:
    # A number as it is typed; other scripts' digits, signs and spaces inside are not.
    if not (text.isascii() and text.isdigit()):
        raise Invalid("link/days", coming_texts.NEEDED_DAYS)
    return int(text[:9])


ROUTES: list[BaseRoute] = [
    Route("/plan/booths/{key}/enrol", booth_page, name="a booth"),
    Route("/plan/booths/{key}/enrol/end", end_booth_browser, methods=["POST"]),
    Route("/plan/booths/{key}/enrol", make_booth_address, methods=["POST"]),
    Route("/plan/readers/{name}/link", links_page, name="links of a reader"),
    Route("/plan/readers/{name}/link", make_personal_link, methods=["POST"]),
    Route("/plan/readers/{name}/link/{sha256}/revoke", revoke, methods=["POST"]),
]
