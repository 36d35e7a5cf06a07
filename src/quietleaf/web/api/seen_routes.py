"""What there is to see: days, readings with their files, messages, health."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, Response
from pydantic import AwareDatetime

from quietleaf.booth.reading import ReadingState
from quietleaf.errors import Unavailable
from quietleaf.planning.message import Message
from quietleaf.planning.programme import USUAL_REVIEW
from quietleaf.web.api.asking import PageAsked, StationTools
from quietleaf.web.api.records import Listed, ReadingSeen, listed, reading_seen
from quietleaf.web.guard import FILE_POLICY
from quietleaf.web.pages import MEDIA_TYPES
from quietleaf.work.messages import see_message
from quietleaf.work.see_day import SeenDay, see_day
from quietleaf.work.see_disk import HOURS_FULL, see_disk
from quietleaf.work.see_reading import find_made_file, report_now, see_reading
from quietleaf.work.summary import Summary, summary_of

ROUTER = APIRouter(tags=["see"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """The station answers, its database too, and its disk has room."""

    status: Literal["well"]


@ROUTER.get("/health")
def health(tools: StationTools) -> Health:
    """Say that the station answers."""
    if see_disk(tools).hours < HOURS_FULL:
        raise Unavailable(
            "health/disk", "The disk has room for less than an hour of reading. Make room on it."
        )
    return Health(status="well")


@ROUTER.get("/days/{day}")
def day(
    day: date | Literal["today"],
    request: Request,
    tools: StationTools,
    since: Annotated[
        AwareDatetime | None, Query(description="What came in after this is told too.")
    ] = None,
) -> SeenDay:
    """Give a day: its slots in the order of the air, each with its readings."""
    return see_day(
        None if day == "today" else day, tools, request.app.state.recorders.writer_of, since
    )


@ROUTER.get("/readings")
def readings(
    tools: StationTools,
    page: PageAsked = 1,
    programme: str | None = None,
    reader: str | None = None,
    air_date: date | None = None,
    state: Annotated[ReadingState | None, Query(description="Where it has got to.")] = None,
) -> Listed[Summary]:
    """List readings in short, the latest issue first; those that meet all that is asked."""
    database = tools.database
    ids = database.reading_ids(
        programme_key=programme, reader=reader, air_date=air_date, state=state
    )
    reviews = {one.key: one.review for one in database.load_station().programmes}
    of = listed(ids, page)
    return Listed(
        items=tuple(
            summary_of(row, reviews.get(row.programme_key, USUAL_REVIEW))
            for row in database.readings_of(of.items)
        ),
        page=of.page,
        pages=of.pages,
        count=of.count,
    )


@ROUTER.get("/readings/{reading_id}")
def reading(reading_id: str, tools: StationTools) -> ReadingSeen:
    """Give one reading: its verdict with the reasons, what there is to hear, its files."""
    return reading_seen(see_reading(reading_id, tools))


@ROUTER.get(
    "/readings/{reading_id}/files/{name}",
    response_class=FileResponse,
    responses={200: {"content": {"application/octet-stream": {}}, "description": "The file."}},
)
def made_file(reading_id: str, name: str, tools: StationTools) -> Response:
    """Give a file that was made of a reading, whole or a range of it."""
    path: Path = find_made_file(reading_id, name, tools)
    headers = {"content-security-policy": FILE_POLICY}
    if path.suffix == ".html" and (report := report_now(reading_id, tools)) is not None:
        return HTMLResponse(report, headers=headers)
    media_type = MEDIA_TYPES.get(path.suffix, "application/octet-stream")
    return FileResponse(path, media_type=media_type, filename=path.name, headers=headers)


@ROUTER.get("/messages")
def messages(tools: StationTools, page: PageAsked = 1) -> Listed[Message]:
    """List what the desk was told and nobody has seen yet, the oldest first."""
    return listed(tools.database.messages(open_only=True), page)


@ROUTER.post("/messages/{message_id}/seen", tags=["plan"])
def message_seen(message_id: str, tools: StationTools) -> Message:
    """Keep that the desk has seen a message."""
    return see_message(message_id, tools)
