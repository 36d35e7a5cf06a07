"""The ear page: a reading as a page of type, what there is to hear, and what is decided about it.

Each form is sent like any other and answered by the page anew, at the thing it was about; the
page's script sends the same forms, and puts what changed in its place.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.booth.edits import DECISIONS, REMARK_KINDS, Decided, Decision, RemarkKind
from quietleaf.delivery import report_words
from quietleaf.delivery.report_picture import (
    HEIGHT,
    MARKS_AT,
    PAPER_HEIGHT,
    WIDTH,
    picture_of_curve,
)
from quietleaf.errors import QuietleafError
from quietleaf.storage.zones import zone_named
from quietleaf.units import seconds_of_clock
from quietleaf.web import review_texts, words_texts
from quietleaf.web.entry import current_account
from quietleaf.web.forms import (
    asked_id_of,
    form_of,
    not_understood,
    place_of_text,
    whole_number,
)
from quietleaf.web.pages import status_of
from quietleaf.web.rendering import TEMPLATES, page, page_of_text, tools_of
from quietleaf.web.roles import REVIEW, may
from quietleaf.web.type_page import parts_of, set_articles
from quietleaf.work.clear_reading import clear_reading, return_reading
from quietleaf.work.decide import (
    AtTheDesk,
    decide,
    mark_article,
    observe,
    sentence_at,
    take_back,
)
from quietleaf.work.see_review import SeenReview, see_review
from quietleaf.work.tools import Tools

Values = dict[str, str]

TEMPLATES.globals.update(
    words=report_words,
    width=WIDTH,
    height=HEIGHT,
    paper_height=PAPER_HEIGHT,
    marks_at=MARKS_AT,
)


async def reading_page(request: Request) -> Response:
    """Show one reading."""
    return await _page(request, request.query_params.get("part", ""))


async def decided(request: Request) -> Response:
    """Enter a decision about something that was found, or change one."""
    return await _enter(request, _decide)


async def marked(request: Request) -> Response:
    """Enter a mark of one's own: a sentence, an article, an observation."""
    return await _enter(request, _mark)


async def taken_back(request: Request) -> Response:
    """Take back what was entered at the desk."""
    return await _enter(
        request, lambda form, desk, tools: take_back(desk, whole_number(form.get("of", "")), tools)
    )


async def cleared(request: Request) -> Response:
    """Clear the reading."""
    return await _enter(
        request,
        lambda form, desk, tools: clear_reading(
            desk,
            tools,
            heard=form.get("heard", ""),
            heard_whole=form.get("heard_whole") == "yes",
            despite=form.get("despite") == "yes",
        ),
    )


async def returned(request: Request) -> Response:
    """Return the reading to its reader."""
    return await _enter(
        request, lambda form, desk, tools: return_reading(desk, form.get("note", ""), tools)
    )


def _decide(form: Values, desk: AtTheDesk, tools: Tools) -> None:
    decision, note = _one_of(DECISIONS, form.get("decision", "")), form.get("note", "")
    what = Decided(
        start=place_of_text(form.get("start", "")),
        stop=place_of_text(form.get("stop", "")),
        finding=form.get("finding", ""),
        decision=decision,
        # The field stands at what is likely: without words it is meant for what goes back alone.
        remark=_remark(form) if note or decision == "read again" else "",
        note=note,
    )
    decide(desk, what, tools)


def _mark(form: Values, desk: AtTheDesk, tools: Tools) -> None:
    wish, words = form.get("what", ""), form.get("words", "")
    at_s = seconds_of_clock(form.get("at", ""))
    if wish == "article":
        mark_article(desk, at_s, words, tools)
    elif wish == "observation":
        observe(desk, at_s, words, tools)
    else:
        decision = _one_of(DECISIONS, wish)
        start, stop = sentence_at(desk, at_s, tools)
        what = Decided(
            start=start,
            stop=stop,
            finding="",
            decision=decision,
            remark=_remark(form),
            note=words,
        )
        decide(desk, what, tools)


async def _enter(request: Request, verb: Callable[[Values, AtTheDesk, Tools], object]) -> Response:
    """Do what a form asks for; what is refused is said on the page, with the form as it was."""
    form = await form_of(request)
    reading_id, tools = request.path_params["reading_id"], tools_of(request)
    try:
        desk = AtTheDesk(
            reading_id=reading_id,
            who=_who(),
            revision=whole_number(form.get("revision", "")),
            asked_id=asked_id_of(request.url.path, form),
        )
        await run_in_threadpool(verb, form, desk, tools)
    except QuietleafError as refusal:
        if status_of(refusal) in (404, 500):
            raise
        return await _page(request, form.get("part", ""), refusal)
    part, key = form.get("part", ""), form.get("key", "")
    query = f"?part={part}" if part.isdigit() and part != "1" else ""
    anchor = f"#{key}" if key.replace("-", "").isalnum() else ""
    return RedirectResponse(f"/reading/{reading_id}{query}{anchor}", 303)


async def _page(request: Request, part: str, refusal: QuietleafError | None = None) -> Response:
    values = await run_in_threadpool(
        _values, request.path_params["reading_id"], part, tools_of(request)
    )
    return page(
        request,
        "reading.html",
        status=200 if refusal is None else status_of(refusal),
        refusal="" if refusal is None else refusal.sentence,
        **values,
    )


def _values(reading_id: str, asked_part: str, tools: Tools) -> dict[str, Any]:
    """Gather what the template asks for."""
    account = current_account()
    review = see_review(reading_id, _who(), tools)
    report = review.seen.report
    parts = parts_of(review.heard, review.things)
    shown = parts[min(max(page_of_text(asked_part), 1), len(parts)) - 1]
    here = tuple(thing for thing in review.things if shown.holds(thing.start_s))
    articles = set_articles(review.heard, here, shown)
    may_review = account is None or may(account.roles, REVIEW)
    return {
        "review": review,
        "seen": review.seen,
        "parts": parts,
        "part": shown,
        "articles": articles,
        "to_hear": tuple(thing for thing in here if thing.severity != "note"),
        "notes": tuple(thing for thing in here if thing.severity == "note" and not thing.out_s),
        "cuts": tuple(thing for thing in here if thing.out_s),
        "observations": tuple(one for one in review.observations if shown.holds(one[0])),
        "elsewhere": _undecided_elsewhere(review, parts, shown.number),
        "may_decide": may_review and not review.is_own and review.state == "handed in",
        "may_review": may_review and not review.is_own,
        "may_finish": account is None or "desk" in account.roles,
        "zone": zone_named(review.zone),
        "page_id": uuid.uuid4().hex,
        "picture": report and picture_of_curve(report.after, report.target_lufs, report.findings),
        "said": words_texts,
        "e": review_texts,
    }


def _undecided_elsewhere(review: SeenReview, parts: Any, number: int) -> int | None:
    """Give the next part in which something is not decided yet; None where there is none."""
    order = [*parts[number:], *parts[: number - 1]]
    for part in order:
        for thing in review.things:
            if part.holds(thing.start_s) and thing.decided is None and thing.severity != "note":
                return int(part.number)
    return None


def _who() -> str:
    account = current_account()
    return "" if account is None else account.name


def _remark(form: Values) -> RemarkKind:
    return next((kind for kind in REMARK_KINDS if kind == form.get("remark", "")), "")


def _one_of(known: tuple[Decision, ...], asked: str) -> Decision:
    for one in known:
        if one == asked:
            return one
    raise not_understood()


ROUTES: list[BaseRoute] = [
    Route("/reading/{reading_id}", reading_page),
    Route("/reading/{reading_id}/decide", decided, methods=["POST"]),
    Route("/reading/{reading_id}/mark", marked, methods=["POST"]),
    Route("/reading/{reading_id}/take-back", taken_back, methods=["POST"]),
    Route("/reading/{reading_id}/clear", cleared, methods=["POST"]),
    Route("/reading/{reading_id}/return", returned, methods=["POST"]),
]
