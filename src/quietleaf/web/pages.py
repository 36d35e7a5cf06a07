"""The pages: each handler asks one verb and renders what it gives."""

from __future__ import annotations

import hashlib
from datetime import date, timedelta

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
)

from quietleaf.errors import (
    AudioUnfit,
    Conflict,
    Damaged,
    Invalid,
    NotAllowed,
    NotFound,
    QuietleafError,
    Unavailable,
)
from quietleaf.web import phrases, plan_texts, texts
from quietleaf.web.access import is_at_the_desk
from quietleaf.web.forms import form_of
from quietleaf.web.guard import FILE_POLICY, HEADERS, host_name
from quietleaf.web.log import REQUEST_KEY, tell_code
from quietleaf.web.looked import KEPT_S, Looked, cookie_name, looked_of, text_of_look
from quietleaf.web.rendering import TEMPLATES, page, set_cookie, tools_of
from quietleaf.work.messages import see_message
from quietleaf.work.see_day import SeenDay, see_day
from quietleaf.work.see_disk import HOURS_FULL, see_disk
from quietleaf.work.see_reading import SeenReading, find_made_file, report_now

STATUS: dict[type[QuietleafError], int] = {
    Invalid: 422,
    NotFound: 404,
    NotAllowed: 403,
    Conflict: 409,
    AudioUnfit: 422,
    Unavailable: 503,
    Damaged: 500,
}
NO_STATION = "database/no-station"
LOOK_KEPT = timedelta(minutes=1)
"""A page that looks by itself says so as often as this, and not with every look."""
TODAY = "today"
"""In the address of a board: whatever day it is by then."""
DESK, BOOTH = "/", "/booth"
"""Where somebody goes on from a page that refused."""
MEDIA_TYPES = {
    ".wav": "audio/wav",
    ".mp3": "audio/mpeg",
    ".json": "application/json; charset=utf-8",
    ".html": "text/html; charset=utf-8",
}


async def day_page(request: Request) -> Response:
    """Show the board of a day; without one in the address, of today."""
    text = request.path_params.get("day")
    day = None if text is None else _day(text)
    now = tools_of(request).clock()
    looked = looked_of(request, now)
    try:
        seen = await _seen_day(request, day, looked)
    except NotFound as refusal:
        if refusal.code != NO_STATION or day is not None:
            raise
        return page(request, "plan/no_station.html", status=404, words=plan_texts)
    finishing = request.app.state.finishings.seen()
    answer = _page("day.html", seen, day=seen, board_of=text or TODAY, finishing=finishing)
    set_cookie(request, answer, cookie_name(), text_of_look(looked, now), keep_s=KEPT_S)
    return answer


async def day_board(request: Request) -> Response:
    """Give the part of a day's page that changes, where it has changed."""
    text = request.path_params["day"]
    now = tools_of(request).clock()
    looked = looked_of(request, now)
    seen = await _seen_day(request, None if text == TODAY else _day(text), looked)
    finishing = request.app.state.finishings.seen()
    board = TEMPLATES.get_template("day_board.html").render(day=seen, finishing=finishing)
    # The day goes in: at midnight another page is due, though its board may look the same.
    tag = hashlib.sha256(f"{seen.day}\n{board}".encode()).hexdigest()[:32]
    headers = {"etag": f'"{tag}"', "x-quietleaf-day": seen.day.isoformat()}
    is_known = request.headers.get("if-none-match") == headers["etag"]
    answer = (
        Response(status_code=304, headers=headers)
        if is_known
        else HTMLResponse(board, headers=headers)
    )
    if looked is None or now - looked.last >= LOOK_KEPT:
        set_cookie(request, answer, cookie_name(), text_of_look(looked, now), keep_s=KEPT_S)
    return answer


async def message_seen(request: Request) -> Response:
    """Keep that the desk saw a message, and go back to the day it was seen on."""
    form = await form_of(request)
    await run_in_threadpool(see_message, request.path_params["message_id"], tools_of(request))
    day = form.get("day", "")
    return RedirectResponse(f"/day/{_day(day)}" if day else DESK, 303)


async def _seen_day(request: Request, day: date | None, looked: Looked | None) -> SeenDay:
    writer_of = request.app.state.recorders.writer_of
    since = None if looked is None else looked.before
    return await run_in_threadpool(see_day, day, tools_of(request), writer_of, since)


async def made_file(request: Request) -> Response:
    """Give a file that was made from a reading, whole or a range of it."""
    reading_id, tools = request.path_params["reading_id"], tools_of(request)
    path = await run_in_threadpool(find_made_file, reading_id, request.path_params["name"], tools)
    if path.suffix == ".html":
        report = await run_in_threadpool(report_now, reading_id, tools)
        if report is not None:
            return HTMLResponse(report, headers={"content-security-policy": FILE_POLICY})
    return FileResponse(
        path,
        media_type=MEDIA_TYPES.get(path.suffix, "application/octet-stream"),
        filename=path.name,
        content_disposition_type="attachment" if "keep" in request.query_params else "inline",
        headers={"content-security-policy": FILE_POLICY},
    )


async def health(request: Request) -> Response:
    """Say that the station answers, its database too, and that its disk has room."""
    disk = await run_in_threadpool(see_disk, tools_of(request))
    if disk.hours < HOURS_FULL:
        return PlainTextResponse(texts.DISK_FULL, 503)
    return PlainTextResponse("well\n")


def status_of(refusal: QuietleafError) -> int:
    """Give the status that tells a browser of an error of ours; the log is told its code."""
    tell_code(refusal.code)
    return next(code for kind, code in STATUS.items() if isinstance(refusal, kind))


def refused(request: Request, refusal: Exception) -> Response:
    """Turn an error of ours into a page that says it."""
    assert isinstance(refusal, QuietleafError)
    status = status_of(refusal)
    title = texts.NOT_FOUND_TITLE if status == 404 else texts.REFUSED_TITLE
    return _message(title, [refusal.sentence], status, way_back=_way_back(request))


def no_such_page(request: Request, refusal: Exception) -> Response:
    """Say that there is nothing at an address, or nothing that can be done there."""
    assert isinstance(refusal, HTTPException)
    page = _message(
        texts.NOT_FOUND_TITLE,
        [texts.NOT_FOUND],
        refusal.status_code,
        way_back=_way_back(request),
    )
    page.headers.update(refusal.headers or {})
    return page


def broken(request: Request, _fault: Exception) -> Response:
    """Say that a fault of ours happened, and under which number the log tells of it."""
    told = [texts.BROKEN, phrases.in_the_log(request.scope.get(REQUEST_KEY, ""))]
    page = _message(texts.BROKEN_TITLE, told, 500, way_back=DESK)
    page.headers.update(HEADERS)  # made outside the guard
    return page


def other_address(hosts: frozenset[str]) -> Response:
    """Say under which names the station answers."""
    tell_code("web/other-address")
    return _message(
        texts.OTHER_ADDRESS_TITLE, [phrases.own_addresses(sorted(hosts))], 400, way_back=None
    )


def desk_only() -> Response:
    """Say that the desk's pages answer on the station's own machine alone."""
    tell_code("web/desk-only")
    return _message(texts.DESK_ONLY_TITLE, list(texts.DESK_ONLY), 403, way_back=BOOTH)


def other_role() -> Response:
    """Say that an account may not ask for this page."""
    tell_code("web/other-role")
    return _message(texts.OTHER_ROLE_TITLE, [texts.OTHER_ROLE], 403, way_back=DESK)


def _way_back(request: Request) -> str:
    host = host_name(request.headers.get("host", ""))
    return DESK if is_at_the_desk(request.scope, host) else BOOTH


def _message(
    title: str, paragraphs: list[str], status: int, *, way_back: str | None
) -> HTMLResponse:
    text = TEMPLATES.get_template("message.html").render(
        title=title,
        paragraphs=paragraphs,
        way_back=way_back,
        station_name="",
        station_note="",
    )
    return HTMLResponse(text, status)


def _page(template: str, of: SeenDay | SeenReading, **values: object) -> HTMLResponse:
    return HTMLResponse(
        TEMPLATES.get_template(template).render(
            station_name=of.station_name, station_note=of.station_note, **values
        )
    )


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or day.isoformat() != text:
        raise Invalid(
            "web/day", f"A day is written like 2026-11-25 in an address; this one says {text!r}."
        )
    return day
