"""Coming in: booths, names, personal links, and what a reader reads today."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import NotFound
from quietleaf.web.forms import refuse_other_site
from quietleaf.web.rendering import tools_of
from quietleaf.work.messages import own_message, tell_desk
from quietleaf.work.open_reading import give_pass
from quietleaf.work.sit_down import Sitting, sitting_of

SITTING_COOKIE = "quietleaf_sitting"
BOOTH_COOKIE = "quietleaf_booth"
BOOTH_COOKIE_S = 400 * 24 * 3600
"""As long as browsers keep a cookie at most."""


async def sitting(request: HTTPConnection) -> Sitting:
    """Give who sits before the browser that asks.

    Raises
    ------
    NotAllowed
        If nobody does; the sentence says how one comes in.
    """
    return await run_in_threadpool(
        sitting_of, request.cookies.get(SITTING_COOKIE), tools_of(request)
    )


def set_cookie(
    request: Request, answer: Response, name: str, secret: str, *, keep_s: int | None = None
) -> None:
    """Give a browser a secret that scripts cannot read and other sites cannot use."""
    answer.set_cookie(
        name,
        secret,
        max_age=keep_s,
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="strict",
    )


async def new_pass(request: Request) -> Response:
    """Let the page that reads send sound."""
    refuse_other_site(request)
    sat = await sitting(request)
    secret = await run_in_threadpool(give_pass, sat, tools_of(request))
    scheme = "wss" if request.url.scheme == "https" else "ws"
    return JSONResponse(
        {
            "pass": secret,
            "reading": sat.reading,
            "wire": f"{scheme}://{request.url.netloc}/stand/wire",
        },
        headers={"cache-control": "no-store"},
    )


async def ask_for_help(request: Request) -> Response:
    """Put booth and reader on the day page."""
    refuse_other_site(request)
    sat = await sitting(request)
    message = await run_in_threadpool(tell_desk, "help", sat, tools_of(request))
    if "text/html" in request.headers.get("accept", ""):
        return RedirectResponse(f"/stand?message={message.message_id}", 303)
    return JSONResponse({"messageId": message.message_id})


async def message_seen(request: Request) -> Response:
    """Say whether the desk has seen a message of whoever sits here."""
    sat = await sitting(request)
    message = await run_in_threadpool(
        own_message, request.path_params["message_id"], sat, tools_of(request)
    )
    if message is None:
        raise NotFound("message/unknown", "There is no such message of yours to the desk.")
    return JSONResponse({"seenAt": message.seen_at and message.seen_at.isoformat()})


ROUTES: list[BaseRoute] = [
    Route("/stand/pass", new_pass, methods=["POST"]),
    Route("/stand/help", ask_for_help, methods=["POST"]),
    Route("/stand/message/{message_id}", message_seen),
]
