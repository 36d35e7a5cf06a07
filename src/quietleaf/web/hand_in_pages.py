"""Handing in, and the receipt."""

from __future__ import annotations

import math
from dataclasses import replace

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.booth.reading import HandIn
from quietleaf.errors import Conflict, Invalid, NotAllowed, QuietleafError
from quietleaf.settings import read_settings
from quietleaf.web import coming_pages, hand_in_texts
from quietleaf.web.forms import form_of
from quietleaf.web.rendering import page, tools_of
from quietleaf.work.hand_in import (
    HANDED_IN,
    HEADLINE_LETTERS,
    OPEN_TAKE,
    PAGE_LETTERS,
    RECAP_LETTERS,
    REMARK_LETTERS,
    HandInReading,
    hand_in,
)
from quietleaf.work.hearings import Hearings, SeenHearing
from quietleaf.work.receipt import see_receipt, see_verdict, whose_receipt
from quietleaf.work.see_hand_in import CopySeen, see_copy, see_hand_in
from quietleaf.work.sit_down import Sitting

HAND_IN, RECEIPT, FEEDBACK = "/stand/hand-in", "/stand/receipt", "/practice/feedback"
CHOOSE = "/stand"
LETTERS = {
    "place_page": PAGE_LETTERS,
    "place_headline": HEADLINE_LETTERS,
    "recap": RECAP_LETTERS,
    "remark": REMARK_LETTERS,
}


def hearings_of(request: Request) -> Hearings:
    """Give the station's listening, which begins with the first who asks."""
    state = request.app.state
    if not hasattr(state, "hearings"):
        state.hearings = Hearings(read_settings()["recogniser"])
    hearings: Hearings = state.hearings
    return hearings


async def hand_in_page(request: Request) -> Response:
    """Show what is to be handed in."""
    sat = await _sitting(request)
    if isinstance(sat, Response):
        return sat
    return await _hand_in_page(request, sat, None, None)


async def hand_in_form(request: Request) -> Response:
    """Hand a reading in."""
    form = await form_of(request)
    sat = await _sitting(request)
    if isinstance(sat, Response):
        return sat
    left = HandIn(
        place_page=form.get("place_page", ""),
        place_headline=form.get("place_headline", ""),
        recap=form.get("recap", ""),
        remark=form.get("remark", ""),
        tidied=tuple(line for line in form.get("tidied", "").split("\n") if line),
    )
    request_of = HandInReading(
        place=sat.reading or "",
        reader=sat.reader,
        booth=sat.booth,
        sitting=sat.token,
        left=left,
        unsent_s=_seconds(form.get("unsent_s", "")),
        as_arrived="as_arrived" in form,
    )
    tools = tools_of(request)
    known = await run_in_threadpool(see_hand_in, request_of.place, tools)
    request_of = replace(
        request_of,
        left=replace(left, tidied=tuple(line for line in known.tidy_list if line in left.tidied)),
    )
    try:
        await run_in_threadpool(hand_in, request_of, tools)
    except (Conflict, Invalid) as refusal:
        return await _hand_in_page(request, sat, left, refusal)
    return RedirectResponse(RECEIPT, 303)


async def copy_of_reading(request: Request) -> Response:
    """Say how far the station's copy is, for the page that waits for it."""
    sat = await coming_pages.sitting(request)
    copy = await run_in_threadpool(see_copy, sat.reading or "", tools_of(request))
    return JSONResponse(copy_told(copy))


def copy_told(copy: CopySeen) -> dict[str, object]:
    """Write how far a copy is as plain JSON values."""
    return {
        "takes": copy.takes,
        "heldS": round(copy.held_s, 3),
        "openTakes": [one.take for one in copy.open_takes],
        "sentence": hand_in_texts.copy_words(copy),
    }


async def receipt_page(request: Request) -> Response:
    """Show the receipt of a reading."""
    tools = tools_of(request)
    reader, reading_id = await run_in_threadpool(
        whose_receipt,
        request.cookies.get(coming_pages.SITTING_COOKIE),
        request.query_params.get("reading"),
        tools,
    )
    receipt = await run_in_threadpool(see_receipt, reading_id, hearings_of(request), tools)
    station = await run_in_threadpool(tools.database.load_station)
    return page(
        request,
        "hand_in/receipt.html",
        words=hand_in_texts,
        reader=reader,
        receipt=receipt,
        zone=station.zone,
        again=f"{RECEIPT}?reading={reading_id}",
    )


async def verdict(request: Request) -> Response:
    """Say how far listening has got, for the receipt that waits for it."""
    tools = tools_of(request)
    _, reading_id = await run_in_threadpool(
        whose_receipt,
        request.cookies.get(coming_pages.SITTING_COOKIE),
        request.query_params.get("reading"),
        tools,
    )
    seen = await run_in_threadpool(see_verdict, reading_id, hearings_of(request), tools)
    return JSONResponse(hearing_told(seen))


def hearing_told(seen: SeenHearing) -> dict[str, object]:
    """Write how far a hearing has got as plain JSON values."""
    heard = seen.heard
    return {
        "done": seen.done,
        "over": heard is not None or bool(seen.trouble),
        "sentence": hand_in_texts.hearing_words(seen),
        "reasons": [] if heard is None or heard.verdict == "ready" else list(heard.reasons),
    }


async def _sitting(request: Request) -> Sitting | Response:
    """Give who sits here with a reading of the station; else the page that they belong on."""
    try:
        sat = await coming_pages.sitting(request)
    except NotAllowed:
        # Handing in ends the sitting: whoever sends the form twice is led to the receipt.
        secret = request.cookies.get(coming_pages.SITTING_COOKIE)
        try:
            _, reading_id = await run_in_threadpool(whose_receipt, secret, None, tools_of(request))
            await run_in_threadpool(
                see_verdict, reading_id, hearings_of(request), tools_of(request)
            )
        except QuietleafError:
            pass  # not that either: what was refused first is what is said
        else:
            return RedirectResponse(RECEIPT, 303)
        raise
    if sat.practice:
        return RedirectResponse(FEEDBACK, 303)
    if sat.reading is None:
        return RedirectResponse(CHOOSE, 303)
    return sat


async def _hand_in_page(
    request: Request, sat: Sitting, typed: HandIn | None, refusal: Conflict | Invalid | None
) -> Response:
    assert sat.reading is not None, "a page before this one leads to choosing"
    seen = await run_in_threadpool(see_hand_in, sat.reading, tools_of(request))
    if seen.state in HANDED_IN and refusal is None:
        return RedirectResponse(f"{RECEIPT}?reading={seen.reading_id}", 303)
    field = "" if refusal is None else refusal.code.removeprefix("hand-in/")
    at_field = field in LETTERS
    return page(
        request,
        "hand_in/hand_in.html",
        status=200 if refusal is None else 422 if at_field else 409,
        words=hand_in_texts,
        seen=seen,
        place=sat.reading,
        typed=typed or seen.before or HandIn(),
        letters=LETTERS,
        wrong=field if at_field else "",
        refusal="" if refusal is None else refusal.sentence,
        can_close=refusal is not None and refusal.code == OPEN_TAKE,
    )


def _seconds(text: str) -> float:
    """Read what the page says it has still to send; nonsense counts as nothing."""
    try:
        seconds = float(text)
    except ValueError:
        return 0.0
    return seconds if math.isfinite(seconds) and seconds > 0.0 else 0.0


ROUTES: list[BaseRoute] = [
    Route(HAND_IN, hand_in_page),
    Route(HAND_IN, hand_in_form, methods=["POST"]),
    Route(f"{HAND_IN}/copy", copy_of_reading),
    Route(RECEIPT, receipt_page),
    Route(f"{RECEIPT}/verdict", verdict),
]
