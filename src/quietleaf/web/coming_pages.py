"""Coming in: booths, names, personal links, and what a reader reads today."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from contextlib import suppress
from datetime import date
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import Invalid, NotAllowed, NotFound, Refused
from quietleaf.settings import read_settings
from quietleaf.web import coming_desk_pages, coming_texts, sent_back_texts
from quietleaf.web.entry import SESSION_COOKIE
from quietleaf.web.forms import form_of, refuse_other_site
from quietleaf.web.pages import status_of
from quietleaf.web.rendering import page, set_cookie, tools_of
from quietleaf.work.coming_in import (
    SeenPaper,
    ask_about_issue,
    paper_missing,
    read_this_issue,
    see_names,
    see_paper,
    see_today,
)
from quietleaf.work.enrol_booth import booth_of, enrol_booth, see_enrolment_address
from quietleaf.work.messages import own_message, tell_desk
from quietleaf.work.open_reading import give_pass, open_reading
from quietleaf.work.personal_links import open_link, see_link
from quietleaf.work.see_reader import see_reader
from quietleaf.work.sign_in import sign_out
from quietleaf.work.sit_down import Sitting, get_up, sit_at_booth, sitting_of, take_up
from quietleaf.work.take_slot import TakeSlot, take_slot
from quietleaf.work.tools import Tools

SITTING_COOKIE = "quietleaf_sitting"
BOOTH_COOKIE = "quietleaf_booth"
BOOTH_COOKIE_S = 400 * 24 * 3600
"""As long as browsers keep a cookie at most."""
BOOTH, TODAY, PAPER, ROOM = "/booth", "/stand", "/stand/paper", "/stand/room"
PRACTISED = "/practice/feedback"
NOT_KEPT = {"cache-control": "no-store"}
"""Who sits down next must not find the page of who sat there before by going back."""

Handler = Callable[[Request], Awaitable[Response]]


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


def kindly(handler: Handler) -> Handler:
    """Answer a refusal by a page of the stand, with the way on."""

    async def answered(request: Request) -> Response:
        try:
            answer = await handler(request)
        except Refused as refusal:
            answer = await _refused(request, refusal)
        answer.headers.update(NOT_KEPT)
        return answer

    return answered


@kindly
async def names(request: Request) -> Response:
    """Show the names at a booth; anywhere else, how one comes in."""
    try:
        seen = await run_in_threadpool(
            see_names, request.cookies.get(BOOTH_COOKIE), tools_of(request)
        )
    except NotAllowed:
        return page(request, "coming/no_booth.html", words=coming_texts)
    return page(request, "coming/names.html", words=coming_texts, seen=seen, refusal="")


@kindly
async def choose_name(request: Request) -> Response:
    """Let a reader sit down."""
    form = await form_of(request)
    booth = request.cookies.get(BOOTH_COOKIE)
    tools = tools_of(request)
    try:
        secret = await run_in_threadpool(sit_at_booth, form.get("name", ""), booth, tools)
    except NotFound as refusal:
        seen = await run_in_threadpool(see_names, booth, tools)
        return page(
            request,
            "coming/names.html",
            status=422,
            words=coming_texts,
            seen=seen,
            refusal=refusal.sentence,
        )
    answer = RedirectResponse(TODAY, 303)
    set_cookie(request, answer, SITTING_COOKIE, secret)
    return answer


@kindly
async def enrolment(request: Request) -> Response:
    """Ask whether this browser is to be the booth; an address that is only looked at stays good."""
    booth = await run_in_threadpool(
        see_enrolment_address, request.path_params["token"], tools_of(request)
    )
    return page(request, "coming/enrol.html", words=coming_texts, booth=booth)


@kindly
async def enrol(request: Request) -> Response:
    """Make this browser the booth."""
    refuse_other_site(request)
    _, secret = await run_in_threadpool(
        enrol_booth, request.path_params["token"], tools_of(request)
    )
    answer = RedirectResponse(BOOTH, 303)
    set_cookie(request, answer, BOOTH_COOKIE, secret, keep_s=BOOTH_COOKIE_S)
    return answer


@kindly
async def link(request: Request) -> Response:
    """Greet a reader who comes from home.

    A cookie for our own pages alone is not sent on the way from a letter with the link to a page
    of ours: one step on this page makes the way our own.
    """
    token = await run_in_threadpool(see_link, request.path_params["token"], tools_of(request))
    return page(request, "coming/link.html", words=coming_texts, reader=token.reader)


@kindly
async def come_in(request: Request) -> Response:
    """Let a reader sit down at home."""
    refuse_other_site(request)
    secret = await run_in_threadpool(open_link, request.path_params["token"], tools_of(request))
    await run_in_threadpool(get_up, request.cookies.get(SITTING_COOKIE), tools_of(request))
    answer = RedirectResponse(TODAY, 303)
    set_cookie(request, answer, SITTING_COOKIE, secret)
    return answer


@kindly
async def today(request: Request) -> Response:
    """Show what a reader reads today, and what is short."""
    sat = await sitting(request)
    if sat.practice:
        return RedirectResponse(PRACTISED, 303)
    seen = await run_in_threadpool(
        see_today, sat, request.query_params.get("message", ""), _pace(), tools_of(request)
    )
    message = seen.message
    missing = (
        message.assignment_key if message is not None and message.kind == "paper-missing" else None
    )
    return page(
        request,
        "coming/today.html",
        words=coming_texts,
        again=sent_back_texts,
        seen=seen,
        missing=missing,
        at_booth=sat.booth is not None,
    )


@kindly
async def choose(request: Request) -> Response:
    """Go on with what was begun, or to the question what the paper says."""
    form = await form_of(request)
    sat = await sitting(request)
    key = form.get("assignment", "")
    seen = await run_in_threadpool(see_paper, key, None, sat, _pace(), tools_of(request))
    if seen.seen.recorded_s is not None:
        # Its opening words were said: which issue it is from is settled.
        return await _opened(request, key, sat)
    return RedirectResponse(_paper_address(key), 303)


@kindly
async def paper(request: Request) -> Response:
    """Ask which issue lies before the reader."""
    sat = await sitting(request)
    asked = request.query_params
    key = asked.get("assignment", "")
    says = _date(asked["says"]) if "says" in asked else None
    seen = await run_in_threadpool(see_paper, key, says, sat, _pace(), tools_of(request))
    return _paper_page(request, seen, asking_date="other" in asked)


@kindly
async def answer_paper(request: Request) -> Response:
    """Take the answer, and open the reading when it is settled."""
    form = await form_of(request)
    sat = await sitting(request)
    tools = tools_of(request)
    key, answer = form.get("assignment", ""), form.get("answer", "")
    seen = await run_in_threadpool(see_paper, key, None, sat, _pace(), tools)
    planned = seen.seen.to_read.assignment.issue_date.isoformat()
    if answer == "yes" and form.get("issue", "") == planned:
        return await _opened(request, key, sat)
    if answer == "says":
        return await _says(request, form, key, sat)
    if answer == "read":
        says = _date(form.get("says", ""))
        await run_in_threadpool(read_this_issue, key, says, sat, tools)
        return await _opened(request, key, sat)
    if answer == "ask":
        says_or_none = _date(form["says"]) if form.get("says") else None
        message = await run_in_threadpool(ask_about_issue, key, says_or_none, sat, tools)
        return RedirectResponse(f"{TODAY}?message={message.message_id}", 303)
    # The desk has changed the issue since the page was made: it is asked anew.
    return RedirectResponse(_paper_address(key), 303)


@kindly
async def paper_did_not_come(request: Request) -> Response:
    """Tell the desk, and show what else can be read."""
    form = await form_of(request)
    sat = await sitting(request)
    message = await run_in_threadpool(
        paper_missing, form.get("assignment", ""), sat, tools_of(request)
    )
    return RedirectResponse(f"{TODAY}?message={message.message_id}", 303)


@kindly
async def take(request: Request) -> Response:
    """Plan the reader for what is short, and go on to its paper."""
    form = await form_of(request)
    sat = await sitting(request)
    wanted = TakeSlot(
        programme_key=form.get("programme", ""), air_date=_date(form.get("air_date", ""))
    )
    assignment = await run_in_threadpool(take_slot, wanted, sat, tools_of(request))
    return RedirectResponse(_paper_address(assignment.key), 303)


@kindly
async def before(request: Request) -> Response:
    """Show what became of earlier readings."""
    sat = await sitting(request)
    seen = await run_in_threadpool(see_reader, sat.reader, tools_of(request))
    return page(request, "coming/before.html", words=coming_texts, seen=seen)


@kindly
async def leave(request: Request) -> Response:
    """End the sitting, whether it still stands or not."""
    refuse_other_site(request)
    tools = tools_of(request)
    await run_in_threadpool(get_up, request.cookies.get(SITTING_COOKIE), tools)
    try:
        await run_in_threadpool(booth_of, request.cookies.get(BOOTH_COOKIE), tools)
        answer = RedirectResponse(BOOTH, 303)
    except NotAllowed:
        answer = RedirectResponse("/stand/left", 303)
        # At home nobody thinks of signing out as well.
        await run_in_threadpool(sign_out, request.cookies.get(SESSION_COOKIE), tools)
        set_cookie(request, answer, SESSION_COOKIE, "", keep_s=0)
    answer.delete_cookie(SITTING_COOKIE, path="/")
    return answer


async def left(request: Request) -> Response:
    """Say goodbye to somebody at home."""
    return page(request, "coming/left.html", words=coming_texts)


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


async def _opened(request: Request, key: str, sat: Sitting) -> Response:
    tools = tools_of(request)
    opened = await run_in_threadpool(open_reading, key, sat, tools)
    secret = await run_in_threadpool(take_up, opened.place, sat, tools)
    answer = RedirectResponse(ROOM, 303)
    set_cookie(request, answer, SITTING_COOKIE, secret)
    return answer


async def _says(request: Request, form: dict[str, str], key: str, sat: Sitting) -> Response:
    """Hold what a paper says against the plan; what cannot be is said at the fields."""
    tools = tools_of(request)
    try:
        says = await run_in_threadpool(_date_on_paper, form, tools)
        seen = await run_in_threadpool(see_paper, key, says, sat, _pace(), tools)
    except Invalid as refusal:
        seen = await run_in_threadpool(see_paper, key, None, sat, _pace(), tools)
        sentence = refusal.sentence
        if form.get("says", "other") == "other":
            day_of, month_of = form.get("other_day", ""), form.get("other_month", "")
            sentence = coming_texts.no_such_day(day_of, month_of) or sentence
        return _paper_page(
            request, seen, asking_date=True, refusal=sentence, typed=form, status=422
        )
    if seen.says is None:
        # It says what is planned after all.
        return await _opened(request, key, sat)
    return RedirectResponse(_paper_address(key, says=says.isoformat()), 303)


def _paper_page(
    request: Request,
    seen: SeenPaper,
    *,
    asking_date: bool,
    refusal: str = "",
    typed: dict[str, str] | None = None,
    status: int = 200,
) -> Response:
    return page(
        request,
        "coming/paper.html",
        status=status,
        words=coming_texts,
        seen=seen,
        key=seen.seen.to_read.assignment.key,
        asking_date=asking_date and seen.seen.dated,
        refusal=refusal,
        typed={"says": "", "other_day": "", "other_month": "", **(typed or {})},
    )


def _paper_address(key: str, **more: str) -> str:
    return f"{PAPER}?{urlencode({'assignment': key, **more}, quote_via=quote)}"


def _date_on_paper(form: dict[str, str], tools: Tools) -> date:
    """Read the date that was chosen, or day and month of another one, in the year nearest to now.

    Raises
    ------
    Invalid
        If neither is there, or no year has such a day.
    """
    if form.get("says", "other") != "other":
        return _date(form["says"])
    now = tools.clock().date()
    found = []
    for year in (now.year - 1, now.year, now.year + 1):
        with suppress(ValueError):
            found.append(
                date(year, int(form.get("other_month", "")), int(form.get("other_day", "")))
            )
    if not found:
        raise Invalid("paper/no-date", coming_texts.CHOOSE_DATE)
    return min(found, key=lambda day: abs(day - now))


def _date(text: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise Invalid("paper/no-date", coming_texts.CHOOSE_DATE) from None
    return found


def _pace() -> float:
    pace: float = read_settings()["pace_wpm"]
    return pace


async def _refused(request: Request, refusal: Refused) -> Response:
    tools = tools_of(request)
    if refusal.code == "stand/no-sitting":
        try:
            await run_in_threadpool(booth_of, request.cookies.get(BOOTH_COOKIE), tools)
            return RedirectResponse(BOOTH, 303)
        except NotAllowed:
            pass  # nor is it a booth: the page says how one comes in
    sits = True
    try:
        await sitting(request)
    except NotAllowed:
        sits = False
    return page(
        request,
        "coming/refused.html",
        status=status_of(refusal),
        words=coming_texts,
        title=coming_texts.REFUSED_TITLE if sits else coming_texts.NO_SITTING_TITLE,
        sentence=refusal.sentence,
        sits=sits,
    )


ROUTES: list[BaseRoute] = [
    Route(BOOTH, names),
    Route(f"{BOOTH}/name", choose_name, methods=["POST"]),
    Route(f"{BOOTH}/enrol/{{token}}", enrolment),
    Route(f"{BOOTH}/enrol/{{token}}", enrol, methods=["POST"]),
    Route("/link/{token}", link),
    Route("/link/{token}", come_in, methods=["POST"]),
    Route(TODAY, today),
    Route("/stand/choose", choose, methods=["POST"]),
    Route(PAPER, paper),
    Route(PAPER, answer_paper, methods=["POST"]),
    Route("/stand/paper-missing", paper_did_not_come, methods=["POST"]),
    Route("/stand/take", take, methods=["POST"]),
    Route("/stand/before", before),
    Route("/stand/leave", leave, methods=["POST"]),
    Route("/stand/left", left),
    Route("/stand/pass", new_pass, methods=["POST"]),
    Route("/stand/help", ask_for_help, methods=["POST"]),
    Route("/stand/message/{message_id}", message_seen),
    *coming_desk_pages.ROUTES,
]
