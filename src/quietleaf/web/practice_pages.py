"""A practice reading, and trying it with one's own voice."""

from __future__ import annotations

import asyncio

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import NotAllowed, Unavailable
from quietleaf.web import coming_pages, practice_texts
from quietleaf.web.forms import form_of
from quietleaf.web.hand_in_pages import copy_told, hearings_of
from quietleaf.web.rendering import page, set_cookie, tools_of
from quietleaf.work.hearings import SeenHearing
from quietleaf.work.practice import leave_practice, sweep_practice
from quietleaf.work.practice_feedback import see_feedback, sound_of_practice
from quietleaf.work.practice_sitting import live_token, practice_of_sitting, sit_to_practise
from quietleaf.work.practice_words import KINDS
from quietleaf.work.see_hand_in import see_copy

START, GONE = "/practice", "/practice/gone"
BEFORE_COOKIE = "quietleaf_before"
"""The sitting of a reader who practises in between; it comes back when the practice is left."""
GRACE_S = 30.0
"""Between two pages of a practice somebody seems to have left; by then the next page is there."""


async def start_page(request: Request) -> Response:
    """Offer both kinds of practice."""
    await run_in_threadpool(sweep_practice, tools_of(request))
    return page(request, "practice/start.html", words=practice_texts, refusal="")


async def begin(request: Request) -> Response:
    """Begin a practice, and go to the room check as every reader does."""
    form = await form_of(request)
    kind = next((known for known in KINDS if known == form.get("kind")), None)
    if kind is None:
        return RedirectResponse(START, 303)
    sitting = request.cookies.get(coming_pages.SITTING_COOKIE, "")
    booth = request.cookies.get(coming_pages.BOOTH_COOKIE, "")
    try:
        sat = await run_in_threadpool(sit_to_practise, kind, sitting, booth, tools_of(request))
    except Unavailable as refusal:
        told = refusal.sentence
        return page(request, "practice/start.html", status=503, words=practice_texts, refusal=told)
    answer = RedirectResponse("/stand/room", 303)
    set_cookie(request, answer, coming_pages.SITTING_COOKIE, sat.secret)
    if sat.before:
        set_cookie(request, answer, BEFORE_COOKIE, sat.before)
    return answer


async def feedback_page(request: Request) -> Response:
    """Say what came of a practice."""
    place = await _place(request)
    if place is None:
        return RedirectResponse(GONE, 303)
    seen = await run_in_threadpool(see_feedback, place, hearings_of(request), tools_of(request))
    return page(request, "practice/feedback.html", words=practice_texts, seen=seen, place=place)


async def copy(request: Request) -> Response:
    """Say how far the station's copy is, for the page that waits for it."""
    place = await _needed_place(request)
    return JSONResponse(copy_told(await run_in_threadpool(see_copy, place, tools_of(request))))


async def verdict(request: Request) -> Response:
    """Say how far listening has got, for the page that waits for it."""
    place = await _needed_place(request)
    seen = await run_in_threadpool(see_feedback, place, hearings_of(request), tools_of(request))
    hearing = seen.hearing or SeenHearing(heard=None, done=0.0, trouble="")
    return JSONResponse(
        {
            "done": hearing.done,
            "over": hearing.heard is not None or bool(hearing.trouble),
            "sentence": practice_texts.hearing_words(hearing),
            "reasons": list(practice_texts.advice(hearing.heard)) if hearing.heard else [],
        }
    )


async def sound(request: Request) -> Response:
    """Give the practice as sound."""
    place = await _needed_place(request)
    path = await run_in_threadpool(sound_of_practice, place, tools_of(request))
    return FileResponse(path, media_type="audio/wav", headers={"cache-control": "no-store"})


async def leave(request: Request) -> Response:
    """Delete a practice: at once if it is asked for, in a while if the page was only left."""
    form = await form_of(request)
    place = await _place(request)
    if "beacon" in form:
        if place is not None:
            _leave_soon(request, place)
        return Response(status_code=204)
    tools = tools_of(request)
    if place is not None:
        await run_in_threadpool(leave_practice, place, tools)
    before = request.cookies.get(BEFORE_COOKIE, "")
    if await run_in_threadpool(live_token, before, "sitting", tools):
        answer = RedirectResponse("/stand", 303)
        set_cookie(request, answer, coming_pages.SITTING_COOKIE, before)
    else:
        answer = RedirectResponse(GONE, 303)
        if place is not None:
            answer.delete_cookie(coming_pages.SITTING_COOKIE)
    answer.delete_cookie(BEFORE_COOKIE)
    return answer


async def here(request: Request) -> Response:
    """Hear that somebody is still practising."""
    await form_of(request)
    place = await _place(request)
    if place is not None:
        _leaving(request).pop(place, None)
    return Response(status_code=204)


async def gone_page(request: Request) -> Response:
    """Say that it is deleted."""
    booth = request.cookies.get(coming_pages.BOOTH_COOKIE, "")
    at_booth = await run_in_threadpool(live_token, booth, "booth", tools_of(request))
    return page(request, "practice/gone.html", words=practice_texts, at_booth=bool(at_booth))


async def _place(request: Request) -> str | None:
    sitting = request.cookies.get(coming_pages.SITTING_COOKIE, "")
    return await run_in_threadpool(practice_of_sitting, sitting, tools_of(request))


async def _needed_place(request: Request) -> str:
    place = await _place(request)
    if place is None:
        raise NotAllowed(
            "practice/nobody", "Nobody is practising in this browser. Begin at /practice."
        )
    return place


def _leave_soon(request: Request, place: str) -> None:
    """Delete a practice in a while, unless its next page says that somebody is here."""
    leaving = _leaving(request)

    async def leave_then() -> None:
        await asyncio.sleep(GRACE_S)
        # Whoever left again meanwhile has a later task of their own.
        if leaving.get(place) is asyncio.current_task():
            del leaving[place]
            await run_in_threadpool(leave_practice, place, tools_of(request))

    leaving[place] = asyncio.get_running_loop().create_task(leave_then())


def _leaving(request: Request) -> dict[str, asyncio.Task[None]]:
    state = request.app.state
    if not hasattr(state, "leaving"):
        state.leaving = {}
    leaving: dict[str, asyncio.Task[None]] = state.leaving
    return leaving


ROUTES: list[BaseRoute] = [
    Route(START, start_page),
    Route(f"{START}/begin", begin, methods=["POST"]),
    Route(f"{START}/feedback", feedback_page),
    Route(f"{START}/copy", copy),
    Route(f"{START}/verdict", verdict),
    Route(f"{START}/sound", sound),
    Route(f"{START}/leave", leave, methods=["POST"]),
    Route(f"{START}/here", here, methods=["POST"]),
    Route(GONE, gone_page),
]
