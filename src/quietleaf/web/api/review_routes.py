"""Decide about readings: what was found, clearing, returning, finishing."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import Field

from quietleaf.booth.edits import Decided, Decision, RemarkKind
from quietleaf.booth.reading import ReadingState
from quietleaf.booth.timeline import Place
from quietleaf.errors import NotFound
from quietleaf.listening.findings import Severity
from quietleaf.planning.programme import ReviewDepth
from quietleaf.web.api.asking import StationTools
from quietleaf.web.api.records import STRICT
from quietleaf.web.entry import current_account
from quietleaf.work.clear_reading import clear_reading, return_reading
from quietleaf.work.decide import AtTheDesk, decide, take_back
from quietleaf.work.finishings import Finishings, SeenFinishing
from quietleaf.work.see_review import see_review
from quietleaf.work.things_to_decide import Thing
from quietleaf.work.tools import Tools

ROUTER = APIRouter(prefix="/readings/{reading_id}", tags=["clear"])

Revision = Annotated[int, Field(ge=0, le=2**53, description="Of the reading, as it was seen.")]
AskedId = Annotated[
    str,
    Field(
        pattern="^[0-9A-Za-z-]{1,64}$",
        description="Made by who asks: what comes twice under one is done once.",
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class ThingSeen:
    """Something to decide about, and what was decided.

    Attributes
    ----------
    start, stop : take and sample
        Where it is in the takes, half-open.
    advice : str
        What was found, in words; empty for a mark of one's own.
    """

    finding: str
    severity: Severity
    start_s: float
    end_s: float
    start: Place
    stop: Place
    choices: tuple[Decision, ...]
    advice: str
    decision: Decision | None
    note: str
    is_made: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewSeen:
    """A reading on the desk.

    Attributes
    ----------
    heard : str
        Names what is played: clearing says that this was heard.
    last : int or None
        The entry that can be taken back next.
    hindrances, despite : tuple of str
        Why it cannot be cleared yet; what speaks against it, whatever is decided.
    """

    state: ReadingState
    revision: int
    review: ReviewDepth
    heard: str
    things: tuple[ThingSeen, ...]
    last: int | None
    hindrances: tuple[str, ...]
    despite: tuple[str, ...]
    is_own: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionWish:
    """What is decided about one thing; its places and its finding as they were given."""

    __pydantic_config__ = STRICT
    revision: Revision
    asked_id: AskedId
    finding: str
    start: Place
    stop: Place
    decision: Decision
    remark: RemarkKind = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeBackWish:
    """Which entry of the desk's is taken back."""

    __pydantic_config__ = STRICT
    revision: Revision
    asked_id: AskedId
    number: Revision


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearWish:
    """What was heard, and that it may go out."""

    __pydantic_config__ = STRICT
    revision: Revision
    asked_id: AskedId
    heard: str
    heard_whole: bool = False
    despite: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnWish:
    """A note to the reader, beside what is to be read again."""

    __pydantic_config__ = STRICT
    revision: Revision
    asked_id: AskedId
    note: str = ""


@ROUTER.get("/review", tags=["see"])
def review(reading_id: str, tools: StationTools) -> ReviewSeen:
    """Give a reading as whoever clears it sees it."""
    return _review(reading_id, tools)


@ROUTER.post("/decisions", status_code=201)
def post_decision(
    reading_id: str, body: DecisionWish, request: Request, tools: StationTools
) -> ReviewSeen:
    """Decide about a thing, in place of what was decided about it before."""
    what = Decided(
        start=body.start,
        stop=body.stop,
        finding=body.finding,
        decision=body.decision,
        remark=body.remark,
        note=body.note,
    )
    decide(_desk(reading_id, body, request), what, tools)
    return _review(reading_id, tools)


@ROUTER.post("/take-back", status_code=201)
def post_take_back(
    reading_id: str, body: TakeBackWish, request: Request, tools: StationTools
) -> ReviewSeen:
    """Take back what was entered at the desk, a clearing and a return too."""
    desk = _desk(reading_id, body, request)
    take_back(desk, body.number, tools)
    return _review(reading_id, tools)


@ROUTER.post("/clear", status_code=201)
def post_clear(
    reading_id: str, body: ClearWish, request: Request, tools: StationTools
) -> ReviewSeen:
    """Clear a reading for the air."""
    clear_reading(
        _desk(reading_id, body, request),
        tools,
        heard=body.heard,
        heard_whole=body.heard_whole,
        despite=body.despite,
    )
    return _review(reading_id, tools)


@ROUTER.post("/return", status_code=201)
def post_return(
    reading_id: str, body: ReturnWish, request: Request, tools: StationTools
) -> ReviewSeen:
    """Return a reading to its reader."""
    desk = _desk(reading_id, body, request)
    return_reading(desk, body.note, tools)
    return _review(reading_id, tools)


@ROUTER.get("/finishing")
def finishing(reading_id: str, request: Request) -> SeenFinishing:
    """Say how far finishing a reading has got, while it is under way."""
    return _finishing(reading_id, request)


@ROUTER.post("/finishing", status_code=202)
def post_finishing(reading_id: str, request: Request) -> None:
    """Have a reading finished in the background."""
    _finishings(request).ask(reading_id, _who())


@ROUTER.delete("/finishing", status_code=204)
def delete_finishing(reading_id: str, request: Request) -> None:
    """Stop finishing it."""
    _finishings(request).stop(reading_id, _who())


def _review(reading_id: str, tools: Tools) -> ReviewSeen:
    of = see_review(reading_id, _who(), tools)
    return ReviewSeen(
        state=of.state,
        revision=of.revision,
        review=of.review,
        heard=of.heard.key,
        things=tuple(_thing(one) for one in of.things),
        last=of.last,
        hindrances=of.hindrances,
        despite=of.despite,
        is_own=of.is_own,
    )


def _thing(of: Thing) -> ThingSeen:
    return ThingSeen(
        finding=of.finding,
        severity=of.severity,
        start_s=of.start_s,
        end_s=of.end_s,
        start=of.start,
        stop=of.stop,
        choices=of.choices,
        advice=getattr(of.of, "advice", ""),
        decision=of.decided.what.decision if of.decided else None,
        note=of.decided.what.note if of.decided else "",
        is_made=of.is_made,
    )


def _desk(
    reading_id: str, body: DecisionWish | TakeBackWish | ClearWish | ReturnWish, request: Request
) -> AtTheDesk:
    # Named by all that it says but what was seen: another wish under an id that was used is not
    # taken for the first, and whoever looks again before asking again is known.
    told = "\n".join([request.url.path, _who(), repr(replace(body, revision=0))])
    return AtTheDesk(
        reading_id=reading_id,
        who=_who(),
        revision=body.revision,
        asked_id=hashlib.sha256(told.encode()).hexdigest()[:32],
    )


def _finishing(reading_id: str, request: Request) -> SeenFinishing:
    for one in _finishings(request).seen():
        if one.reading_id == reading_id:
            return one
    raise NotFound(
        "finishing/none", "This reading is not being finished. How it ended stands on its page."
    )


def _finishings(request: Request) -> Finishings:
    finishings: Finishings = request.app.state.finishings
    return finishings


def _who() -> str:
    account = current_account()
    return "" if account is None else account.name
