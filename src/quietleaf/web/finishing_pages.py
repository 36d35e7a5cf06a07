"""A reading's finishing plan, decided about and carried out from the page."""

from __future__ import annotations

import hashlib
import re
import uuid
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.booth.edits import Wanted
from quietleaf.errors import Invalid, QuietleafError, Refused
from quietleaf.units import seconds_of_clock
from quietleaf.web import finishing_texts
from quietleaf.web.entry import current_account
from quietleaf.web.forms import (
    asked_id_of,
    form_of,
    not_understood,
    place_of_text,
    whole_number,
)
from quietleaf.web.pages import status_of
from quietleaf.web.rendering import TEMPLATES, page_asked, tools_of
from quietleaf.work.decide_on_plan import DecideOnPlan, decide_on_plan
from quietleaf.work.decisions_on import LENGTH
from quietleaf.work.finishings import Finishings, SeenFinishing
from quietleaf.work.plan_entries import PARTS
from quietleaf.work.see_finishing import see_finishing
from quietleaf.work.use_version import use_version

_NUMBER = re.compile(r"[+-]?[0-9]{1,6}(\.[0-9]{1,6})?")
_WANTED: dict[str, Wanted] = {
    "refuse": "refused",
    "make": "made",
    "change": "made",
    "plan": "as planned",
}


async def plan_page(request: Request) -> Response:
    """Show one part of the plan, a page at a time."""
    said = finishing_texts.KEPT_SAID if request.query_params.get("done") == "decided" else ""
    return await _page(request, request.query_params.get("part", ""), page_asked(request), said)


async def under_way(request: Request) -> Response:
    """Give the part of the page that says how far finishing has got, where it has changed."""
    reading_id = request.path_params["reading_id"]
    seen = await run_in_threadpool(see_finishing, reading_id, PARTS[0], 1, tools_of(request))
    told = TEMPLATES.get_template("finishing/under_way.html").render(
        seen=seen,
        job=_job(request, reading_id),
        words=finishing_texts,
        at=f"/reading/{reading_id}/plan",
        live=True,
    )
    tag = f'"{hashlib.sha256(told.encode()).hexdigest()[:32]}"'
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers={"etag": tag})
    return HTMLResponse(told, headers={"etag": tag})


async def decide(request: Request) -> Response:
    """Keep what the desk decides about one entry, or about the length."""
    form = await form_of(request)
    reading_id = request.path_params["reading_id"]
    part, shown = form.get("part", ""), whole_number(form.get("page", "1"))
    number = whole_number(form["number"]) if "number" in form else None
    try:
        await run_in_threadpool(decide_on_plan, _decision(request, form), tools_of(request))
    except Refused as refusal:
        # What was typed stands where it was typed, and so does the reason.
        at = (number or 0) if form.get("do") == "change" and isinstance(refusal, Invalid) else None
        typed = form.get("value", "")
        return await _page(request, part, shown, refusal=refusal, refused=at, typed=typed)
    query = urlencode({"part": part, "page": shown, "done": "decided"})
    anchor = "" if number is None else f"#e{number}"
    return RedirectResponse(f"/reading/{reading_id}/plan?{query}{anchor}", 303)


async def finish(request: Request) -> Response:
    """Have the reading finished."""
    await form_of(request)
    return await _done(
        request, finishings_of(request).ask, request.path_params["reading_id"], _who()
    )


async def stop(request: Request) -> Response:
    """Stop finishing it."""
    await form_of(request)
    return await _done(
        request, finishings_of(request).stop, request.path_params["reading_id"], _who()
    )


async def use(request: Request) -> Response:
    """Take an earlier version into use again."""
    form = await form_of(request)
    in_use = form.get("in_use", "")
    return await _done(
        request,
        use_version,
        request.path_params["reading_id"],
        whole_number(form.get("version", "")),
        whole_number(in_use) if in_use else None,
        _who(),
        tools_of(request),
    )


def finishings_of(request: Request) -> Finishings:
    """Give the station's finishing."""
    finishings: Finishings = request.app.state.finishings
    return finishings


async def _done(request: Request, verb: object, *given: object) -> Response:
    """Do what was asked, and go back to the page; where it is refused, say so there."""
    assert callable(verb)
    try:
        await run_in_threadpool(verb, *given)
    except QuietleafError as refusal:
        return await _page(request, "", 1, refusal=refusal)
    return RedirectResponse(f"/reading/{request.path_params['reading_id']}/plan", 303)


async def _page(
    request: Request,
    part: str,
    number: int,
    said: str = "",
    refusal: QuietleafError | None = None,
    *,
    refused: int | None = None,
    typed: str = "",
) -> Response:
    """Make the page.

    Parameters
    ----------
    refused : int or None
        The number of the entry at which something was refused, 0 for the length; None where it
        belongs to the whole page.
    typed : str
        What was typed there.
    """
    reading_id = request.path_params["reading_id"]
    seen = await run_in_threadpool(see_finishing, reading_id, part, number, tools_of(request))
    return HTMLResponse(
        TEMPLATES.get_template("finishing/plan.html").render(
            station_name=seen.station_name,
            station_note=seen.station_note,
            seen=seen,
            job=_job(request, reading_id),
            words=finishing_texts,
            at=f"/reading/{reading_id}/plan",
            asked=uuid.uuid4().hex,
            said=said,
            refusal="" if refusal is None else refusal.sentence,
            refused=refused,
            typed=typed,
            live=False,
        ),
        200 if refusal is None else status_of(refusal),
    )


def _job(request: Request, reading_id: str) -> SeenFinishing | None:
    found = finishings_of(request).seen()
    return next((one for one in found if one.reading_id == reading_id), None)


def _who() -> str:
    account = current_account()
    return "" if account is None else account.name


def _decision(request: Request, form: dict[str, str]) -> DecideOnPlan:
    of, do = form.get("of", ""), form.get("do", "")
    wanted = _WANTED.get(do)
    if wanted is None:
        raise not_understood()
    value = None
    if do == "change":
        typed = form.get("value", "")
        value = seconds_of_clock(typed) if of == LENGTH else _number(of, typed)
    return DecideOnPlan(
        reading_id=request.path_params["reading_id"],
        who=_who(),
        revision=whole_number(form.get("revision", "")),
        asked_id=asked_id_of(request.url.path, form),
        of=of,
        what=form.get("kind", ""),
        start=place_of_text(form["start"]) if "start" in form else None,
        stop=place_of_text(form["stop"]) if "stop" in form else None,
        wanted=wanted,
        value=value,
    )


def _number(of: str, typed: str) -> float:
    """Read a number as people type it, with a point or a comma."""
    text = typed.strip().replace(",", ".").replace("−", "-")
    if not _NUMBER.fullmatch(text):
        needed = finishing_texts.NEEDED_NUMBER.get(of, "What is needed is a number")
        raise Invalid("plan-decision/number", f"{needed}; this says {typed!r}.")
    return float(text)


ROUTES: list[BaseRoute] = [
    Route("/reading/{reading_id}/plan", plan_page),
    Route("/reading/{reading_id}/plan/under-way", under_way),
    Route("/reading/{reading_id}/plan/decide", decide, methods=["POST"]),
    Route("/reading/{reading_id}/plan/finish", finish, methods=["POST"]),
    Route("/reading/{reading_id}/plan/stop", stop, methods=["POST"]),
    Route("/reading/{reading_id}/plan/use", use, methods=["POST"]),
]
